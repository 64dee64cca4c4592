"""What takes taught: how fast a group ages before and after them, and what was told of wood against what took."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from service.pages.pictures.drawing import Canvas, number, path, text

WIDE, NARROW = 560.0, 340.0
_BAND = 1.2816
_LEFT, _RIGHT, _TOP, _FOOT = 58.0, 28.0, 8.0, 44.0
_SPEEDS = (0.5, 0.7, 1.0, 1.4, 2.0)


@dataclass(frozen=True)
class Span:
    """A range: where four in five lie, and its middle."""

    low: float
    middle: float
    high: float


def span_of(mu: float, sigma: float) -> Span:
    """Of th as it is taken before any take, its logarithm normal; what takes taught is kept with its own range."""
    return Span(*(math.exp(mu + each * sigma) for each in (-_BAND, 0, _BAND)))


def speeds(name: str, title: str, before: Span, after: Span, *, width: float) -> str:
    """Two spans above one scale of factors: as wide steps to the slow side as to the fast."""
    canvas = Canvas(name, width, 92)
    first = min(_SPEEDS[0], before.low, after.low)
    last = max(_SPEEDS[-1], before.high, after.high)
    room = width - _LEFT - _RIGHT

    def x(factor: float) -> float:
        return _LEFT + math.log(factor / first) / math.log(last / first) * room

    for factor in _SPEEDS:
        is_usual = factor == 1
        ink, wide = ("quiet", 1.2) if is_usual else ("hair", 0.8)
        canvas.add(path(f"M{number(x(factor))} 4V66", ink=ink, width=wide))
        words = "as usual" if is_usual else f"{factor:g} times"
        canvas.add(text(x(factor), 84, words, ink="quiet", size=12, anchor="middle"))
    for y, words, span, ink, is_now in (
        (20, "before", before, "quiet", False),
        (48, "now", after, "bud", True),
    ):
        canvas.add(text(_LEFT - 8, y + 4, words, size=13, anchor="end", bold=is_now))
        canvas.add(_span(span, y, x, ink, is_now=is_now))
    told = f"Before: {_said(before)}. Now: {_said(after)}."
    return canvas.svg(title, told)


def _span(span: Span, y: float, x: Callable[[float], float], ink: str, *, is_now: bool) -> str:
    dash = "" if is_now else ' stroke-dasharray="4 3"'
    ends = f"M{number(x(span.low))} {y - 6}v12M{number(x(span.high))} {y - 6}v12"
    line = path(
        f"M{number(x(span.low))} {y}H{number(x(span.high))}", ink=ink, width=4 if is_now else 2, more=dash
    )
    fill = "bud" if is_now else "paper"
    middle = f'<circle cx="{number(x(span.middle))}" cy="{y}" r="6" fill="var(--{fill})" stroke="var(--{ink})" stroke-width="2"/>'
    return line + path(ends, ink=ink, width=2) + middle


def _said(span: Span) -> str:
    return f"{span.middle:.2f} times as fast as usual, four times in five {span.low:.2f} to {span.high:.2f}"


@dataclass(frozen=True)
class Outcome:
    """Grafts of wood of which about the same was told: the share told, what took, and the range of that."""

    told: float
    took: Span
    grafts: int
    taken: int


def came_true(outcomes: Sequence[Outcome], fresh: float | None, *, width: float) -> str:
    """What was told, along; what took of it, upwards, with its range. Empty where nothing was told of what was grafted.

    `fresh`: how much of fresh wood takes here; a line by it shows where all would lie if every forecast were right.
    """
    if not outcomes:
        return ""
    name = "came-true" if width == WIDE else "came-true-narrow"
    side = min(width, 420.0) - _LEFT - _RIGHT
    canvas = Canvas(name, width, side + _TOP + _FOOT)

    def x(share: float) -> float:
        return _LEFT + share * side

    def y(share: float) -> float:
        return _TOP + (1 - share) * side

    for tick in (0, 0.25, 0.5, 0.75, 1):
        canvas.add(path(f"M{number(x(0))} {number(y(tick))}H{number(x(1))}", ink="hair", width=0.8))
        canvas.add(path(f"M{number(x(tick))} {number(y(0))}V{number(y(1))}", ink="hair", width=0.8))
        canvas.add(text(x(0) - 6, y(tick) + 4, f"{100 * tick:g}", ink="quiet", size=12, anchor="end"))
        canvas.add(text(x(tick), y(0) + 17, f"{100 * tick:g}", ink="quiet", size=12, anchor="middle"))
    canvas.add(text(x(0.5), y(0) + 36, "told fit, of 100", ink="quiet", size=12, anchor="middle"))
    canvas.add(
        f'<g transform="rotate(-90 14 {number(y(0.5))})">{text(14, y(0.5) + 4, "took, of 100", ink="quiet", size=12, anchor="middle")}</g>'
    )
    if fresh is not None:
        canvas.add(
            path(f"M{number(x(0))} {number(y(0))}L{number(x(1))} {number(y(fresh))}", ink="bark", width=1.4, more=' stroke-dasharray="6 4"')
        )  # fmt: skip
    canvas.add(*(_dot(each, x, y) for each in outcomes))
    told = "; ".join(
        f"told {100 * each.told:.0f} of 100: {each.taken} of {each.grafts} took" for each in outcomes
    )
    return canvas.svg("What was told of wood at grafting, against what took", f"{told}.")


def _dot(each: Outcome, x: Callable[[float], float], y: Callable[[float], float]) -> str:
    at, low, high = number(x(each.told)), number(y(each.took.low)), number(y(each.took.high))
    ends = "".join(f"M{number(x(each.told) - 5)} {end}h10" for end in (low, high))
    words = f"{each.taken} of {each.grafts} took, where {100 * each.told:.0f} of 100 was told"
    place = f'cx="{at}" cy="{number(y(each.taken / each.grafts))}" r="{number(_radius(each.grafts))}"'
    return f'<g><title>{words}</title>{path(f"M{at} {low}V{high}{ends}", ink="bud")}<circle {place} fill="var(--bud)"/></g>'


def _radius(grafts: int) -> float:
    return min(9.0, 3.5 + math.log1p(grafts))
