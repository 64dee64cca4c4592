"""States in a row, and the steps between them as arcs: forward above, back below."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape

WIDE, HIGH, GAP, EDGE = 132, 44, 64, 12
Steps = Mapping[str, frozenset[str]]

STYLE = (
    "svg{--paper:#f7f5ef;--ink:#20261f;--bark:#5a4533;--bud:#2d6a3e;--quiet:#5c625a}"
    "@media (prefers-color-scheme:dark){svg{--paper:#171b17;--ink:#e9ece4;--bark:#c9ad92;--bud:#8fcf9c;--quiet:#a9b0a5}}"
    "text{font:15px Charter,Cambria,'Noto Serif','DejaVu Serif',serif;fill:var(--ink);text-anchor:middle}"
    "path{fill:none;stroke:var(--bark);stroke-width:2}.back{stroke:var(--quiet);stroke-dasharray:6 4}"
    "rect{fill:var(--paper);stroke:var(--bark);stroke-width:2}.last{stroke:var(--bud);stroke-width:3}"
)

ARROW = (
    '<defs><marker id="a" viewBox="0 0 10 10" refX="9" refY="5" markerWidth="7" markerHeight="7" orient="auto-start-reverse">'
    '<path d="M0 1L9 5L0 9" style="stroke-dasharray:none"/></marker></defs>'
)


def draw_steps(name: str, steps: Steps) -> str:
    """The picture of a life cycle; its words stand in the text beside it, for who cannot see it."""
    order = list(steps)
    place = {state: number for number, state in enumerate(order)}
    pairs = [(place[a], place[b]) for a in order for b in sorted(steps[a], key=place.__getitem__)]
    above = max((b - a - 1 for a, b in pairs if b > a), default=0)
    below = max((a - b for a, b in pairs if b < a), default=0)
    top = EDGE + (34 + 22 * above if above else 0)
    width = 2 * EDGE + len(order) * WIDE + (len(order) - 1) * GAP
    height = top + HIGH + EDGE + (30 + 22 * below if below else 0)
    said = "; ".join(
        f"{state} to {' or '.join(sorted(steps[state], key=place.__getitem__)) or 'nothing more'}"
        for state in order
    )
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="t d" viewBox="0 0 {width} {height}" '
        f'width="{width}" height="{height}"><title id="t">{escape(name)}</title><desc id="d">{escape(said)}.</desc>'
    )
    parts = [
        f"{head}<style>{STYLE}</style>{ARROW}",
        *(_arc(a, b, top) for a, b in pairs),
        *(_box(state, number, top, is_last=not steps[state]) for number, state in enumerate(order)),
    ]
    return "".join(parts) + "</svg>\n"


def _left(number: int) -> int:
    return EDGE + number * (WIDE + GAP)


def _arc(a: int, b: int, top: int) -> str:
    if b == a + 1:
        return f'<path d="M{_left(a) + WIDE} {top + HIGH // 2}H{_left(b) - 2}" marker-end="url(#a)"/>'
    start, end = _left(a) + WIDE // 2, _left(b) + WIDE // 2
    if b > a:
        rise = 34 + 22 * (b - a - 1)
        curve = f"M{start + 20} {top}C{start + 60} {top - rise} {end - 60} {top - rise} {end - 20} {top - 2}"
        return f'<path d="{curve}" marker-end="url(#a)"/>'
    foot, fall = top + HIGH, 24 + 24 * (a - b)
    return (
        f'<path class="back" d="M{start - 20} {foot}C{start - 60} {foot + fall} {end + 60} {foot + fall} {end + 20} {foot + 2}" '
        'marker-end="url(#a)"/>'
    )


def _box(state: str, number: int, top: int, *, is_last: bool) -> str:
    mark = ' class="last"' if is_last else ""
    return (
        f'<rect{mark} x="{_left(number)}" y="{top}" width="{WIDE}" height="{HIGH}" rx="2"/>'
        f'<text x="{_left(number) + WIDE // 2}" y="{top + HIGH // 2 + 5}">{escape(state.replace("_", " "))}</text>'
    )
