"""Lineage: the line of the wood forking, from tree to cut, bundle, graft, plant and on; left to right, or as an outline on a phone."""

from __future__ import annotations

from service.pages.pictures.drawing import Canvas, number, path, text
from service.pages.pictures.folding import Branch, Laid, lay
from service.pages.pictures.model import Lineage, Thing

PAGE, NARROWEST, WIDEST = 1084.0, 150.0, 236.0
ROW, TOP, FORK = 58.0, 34.0, 42.0
INDENT, LINE, LEFT = 15.0, 50.0, 14.0
MOST_INDENT = 8
MOST_ROWS = 26


def described(lineage: Lineage) -> str:
    """The picture in words: the first things of it, and where it is stopped."""
    told = "; ".join(
        f"{knot.title}{', ' + knot.note if knot.note else ''}{', stopped' if knot.stopped else ''}"
        for knot in lineage.knots[:20]
    )
    more = len(lineage.knots) - 20
    return (told or "Nothing is recorded yet") + (f"; and {more} more" if more > 0 else "") + "."


def wide(lineage: Lineage, name: str) -> str:
    """Left to right, one column a step."""
    return draw_wide(lineage, name).svg(lineage.title, described(lineage))


def draw_wide(lineage: Lineage, name: str) -> Canvas:
    laid = lay(lineage)
    column = min(max((PAGE - 12) / laid.depth, NARROWEST), WIDEST)
    canvas = Canvas(name, 12 + column * laid.depth, TOP + ROW * max(laid.rows, 1) - 8)
    for earlier, later in laid.joins:
        canvas.add(
            _curve(_end(earlier, column), _start(later, column), "quiet", 2, ' stroke-dasharray="5 4"')
        )
    for branch in laid.shown:
        for fork in branch.forks:
            canvas.add(_curve(_end(branch, column), _start(fork, column), "bark", _thick(fork), ""))
    for branch in laid.shown:
        _knot(canvas, branch, lineage.focus, column)
    return canvas


def _start(branch: Branch, column: float) -> tuple[float, float]:
    return 12 + column * branch.depth, TOP + ROW * branch.row


def _end(branch: Branch, column: float) -> tuple[float, float]:
    x, y = _start(branch, column)
    return x + column - FORK, y


def _thick(branch: Branch) -> float:
    """As a life line: thicker with more sticks on hand."""
    sticks = branch.knot.sticks
    return 3.0 if sticks is None else min(7.0, 1.2 + sticks / 3)


def _curve(a: tuple[float, float], b: tuple[float, float], ink: str, width: float, more: str) -> str:
    middle = (a[0] + b[0]) / 2
    bend = f"C{number(middle)} {number(a[1])} {number(middle)} {number(b[1])} {number(b[0])} {number(b[1])}"
    return path(f"M{number(a[0])} {number(a[1])}{bend}", ink=ink, width=width, more=more)


def _knot(canvas: Canvas, branch: Branch, focus: str, column: float) -> None:
    knot, (x, y), (end, _) = branch.knot, _start(branch, column), _end(branch, column)
    here, room = knot.key == focus, column - 14
    if knot.hidden:
        canvas.add(
            path(f"M{number(x)} {number(y)}h18", width=2, more=' stroke-dasharray="2 3"'),
            text(x + 24, y + 5, knot.title, ink="quiet"),
        )
        canvas.add(text(x + 24, y + 20, knot.note, ink="stop", size=12) if knot.note else "")
        return
    if here:
        canvas.add(
            path(
                f"M{number(x - 5)} {number(y - 26)}H{number(x + room + 3)}v50H{number(x - 5)}z",
                ink="bark",
                width=1,
                fill="card",
            )
        )
    canvas.add(
        path(f"M{number(x - 1)} {number(y)}H{number(end + 1)}", width=_thick(branch) + (2 if here else 0))
    )
    if knot.stopped:
        canvas.add(
            path(
                f"M{number(x)} {number(y - 6)}H{number(end)}v12H{number(x)}z",
                ink="stop",
                width=1,
                fill=canvas.hatch,
            )
        )
    canvas.add(_sign(knot.thing, x, y, end))
    canvas.add(
        text(
            x + 1, y - 11, knot.title, size=13.5, bold=here, ink="stop" if knot.stopped else "ink", room=room
        )
    )
    note = " · ".join(word for word in ("stopped" if knot.stopped else "", knot.note) if word)
    if note:
        canvas.add(text(x + 1, y + 19, note, size=12, ink="quiet", room=room))


def _sign(thing: Thing, x: float, y: float, end: float) -> str:
    """What kind of thing: a ring a tree, a slope a cut, a wedge a graft, a leaf a plant; a bundle is the line alone."""
    match thing:
        case Thing.TREE:
            return path(
                f"M{number(x - 6)} {number(y)}a6 6 0 1 1 12 0a6 6 0 1 1 -12 0z", width=2.5, fill="paper"
            )
        case Thing.COLLECTION:
            return path(f"M{number(x - 1)} {number(y + 8)}l10 -16", ink="paper", width=6) + path(
                f"M{number(x - 1)} {number(y + 8)}l10 -16", width=2.5
            )
        case Thing.GRAFT:
            return path(f"M{number(x)} {number(y - 7)}l7 13l7 -13", ink="bud", width=2.6)
        case Thing.PLANT:
            return path(
                f"M{number(end)} {number(y)}c0 -8 6 -12 15 -11c0 8 -6 12 -15 11z",
                ink="bud",
                width=1.4,
                fill="bud",
            )
        case Thing.BUNDLE:
            return ""


def narrow(lineage: Lineage, name: str, *, width: float = 372) -> str:
    """Top to bottom, one row a thing, for a phone held upright."""
    laid = lay(lineage, outline=True, most=MOST_ROWS)
    canvas = Canvas(name, width, LINE * max(laid.rows, 1) + 6)
    for branch in laid.shown:
        _outline_forks(canvas, branch)
    for branch in laid.shown:
        _outline_row(canvas, branch, lineage.focus, _joined_from(laid, branch))
    return canvas.svg(lineage.title, described(lineage))


def _at(branch: Branch) -> tuple[float, float]:
    return LEFT + INDENT * min(branch.depth, MOST_INDENT), 24 + LINE * branch.row


def _outline_forks(canvas: Canvas, branch: Branch) -> None:
    x, y = _at(branch)
    for fork in reversed(branch.forks):
        to_x, to_y = _at(fork)
        bend = 12.0 if to_x > x else 0.0
        turn = f"Q{number(x)} {number(to_y)} {number(to_x)} {number(to_y)}" if bend else ""
        canvas.add(path(f"M{number(x)} {number(y)}V{number(to_y - bend)}{turn}", width=min(_thick(fork), 5)))


def _joined_from(laid: Laid, branch: Branch) -> str:
    return ", ".join(earlier.knot.title for earlier, later in laid.joins if later is branch)


def _outline_row(canvas: Canvas, branch: Branch, focus: str, joined: str) -> None:
    knot, (x, y) = branch.knot, _at(branch)
    here, words_at, room = knot.key == focus, x + 24, canvas.width - x - 26
    if knot.hidden:
        canvas.add(
            text(
                words_at,
                y + 5,
                f"{knot.title}, {knot.note}" if knot.note else knot.title,
                ink="stop" if knot.note else "quiet",
            )
        )
        return
    if here:
        canvas.add(
            path(
                f"M{number(x - 10)} {number(y - 20)}H{number(canvas.width - 1)}v44H{number(x - 10)}z",
                width=1,
                fill="card",
            )
        )
    canvas.add(path(f"M{number(x)} {number(y)}h18", width=min(_thick(branch), 5) + (1.5 if here else 0)))
    if knot.stopped:
        canvas.add(path(f"M{number(x)} {number(y - 6)}h18v12h-18z", ink="stop", width=1, fill=canvas.hatch))
    canvas.add(_outline_sign(knot.thing, x, y))
    parts = ["stopped" if knot.stopped else "", knot.note, f"also from {joined}" if joined else ""]
    note = " · ".join(part for part in parts if part)
    title_y = y - 1 if note else y + 5
    canvas.add(
        text(
            words_at,
            title_y,
            knot.title,
            size=14.5,
            bold=here,
            ink="stop" if knot.stopped else "ink",
            room=room,
        )
    )
    if note:
        canvas.add(text(words_at, y + 16, note, size=12.5, ink="quiet", room=room))


def _outline_sign(thing: Thing, x: float, y: float) -> str:
    return _sign(thing, x + (3 if thing in {Thing.COLLECTION, Thing.GRAFT} else 0), y, x + 4)
