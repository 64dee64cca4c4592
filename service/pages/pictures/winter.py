"""The winter of a site: chill rising day by day, below it a row for each kind with its rest, the warmth after it, and its cuts.

Nothing is told by colour alone: before rest a row is dotted, at rest a line, after it a wedge that rises with the warmth, and
hatched where buds could be moving. Days that nobody measured leave the line of chill open.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from math import ceil

from service.collection.schemas.winters import CutInWinter, KindInWinter, SiteWinter, WinterDay
from service.pages.pictures.drawing import Canvas, number, path, text
from service.pages.pictures.life import MONTHS

WIDE, NARROW = 720.0, 360.0
LEFT, RIGHT, TOP, CHILL, ROW, FOOT = 40.0, 10.0, 22.0, 170.0, 54.0, 20.0
WEDGE = 17.0
SHOWN_DAYS = 300  # from late summer until every deciduous kind is in leaf
MOST_ROWS = 16
DOTTED, DASHED = ' stroke-dasharray="1 4"', ' stroke-dasharray="4 3"'


@dataclass(frozen=True)
class MonthOfWinter:
    """A month in numbers: chill portions at its end, and how many of its days were measured."""

    name: str
    portions: float
    gained: float
    measured: int
    days: int


def months_of_winter(days: list[WinterDay]) -> list[MonthOfWinter]:
    """The same days as a table, a line a month."""
    found, before = [], 0.0
    for month, group in groupby(days, key=lambda each: each.day.replace(day=1)):
        same = list(group)
        end = same[-1].portions
        found.append(
            MonthOfWinter(
                f"{MONTHS[month.month - 1]} {month.year}", end, end - before, sum(each.measured for each in same), len(same)
            )
        )  # fmt: skip
        before = end
    return found


def winter_over(told: SiteWinter, *, width: float = WIDE) -> str:
    """An SVG of one winter; empty where too few days were measured to draw it as known."""
    if not told.is_counted or not told.days or told.begins is None:
        return ""
    begins, rows = told.begins, told.kinds[:MOST_ROWS]
    height = TOP + CHILL + FOOT + ROW * len(rows) + 16
    step = (width - LEFT - RIGHT) / SHOWN_DAYS

    def x(day: date) -> float:
        return LEFT + min(max((day - begins).days, 0), SHOWN_DAYS) * step

    canvas = Canvas("winter" if width == WIDE else "winter-narrow", width, height)
    days = [each for each in told.days if (each.day - begins).days <= SHOWN_DAYS]
    _draw_months(canvas, begins, x, height, narrow=width < WIDE)
    _draw_chill(canvas, days, rows, x)
    for place, kind in enumerate(rows):
        base = TOP + CHILL + FOOT + ROW * (place + 1)
        _draw_kind(canvas, kind, days, base, x)
        _draw_cuts(canvas, [cut for cut in told.cuts if cut.group == kind.group], base, x)
    return canvas.svg("Chill and warmth of one winter", _described(told))


def _described(told: SiteWinter) -> str:
    last = told.days[-1]
    kinds = sum(each.turns.rest_ended_on is not None for each in told.kinds)
    moving = sum(each.turns.moving_on is not None for each in told.kinds)
    if not told.kinds:
        of_kinds = "no kind stands here whose rest is reckoned"
    elif len(told.kinds) == 1:
        rest, buds = ("has" if kinds else "has not"), ("could be moving" if moving else "do not move")
        of_kinds = f"the one kind here: its rest {rest} ended, its buds {buds}"
    else:
        of_kinds = f"of {len(told.kinds)} kinds the rest of {kinds} has ended, and the buds of {moving} could be moving"
    return (
        f"{last.portions:.0f} chill portions by {last.day.day} {last.day:%B %Y}; {of_kinds}; {told.days_measured} of "
        f"{told.days_asked} days were measured."
    )


def _draw_months(
    canvas: Canvas, begins: date, x: Callable[[date], float], height: float, *, narrow: bool
) -> None:
    foot = TOP + CHILL
    month = (begins.replace(day=1) + timedelta(days=32)).replace(day=1)
    place = 0
    while (month - begins).days < SHOWN_DAYS:
        canvas.add(path(f"M{number(x(month))} {number(TOP)}V{number(height - 6)}", ink="hair", width=0.8))
        if (SHOWN_DAYS - (month - begins).days) > 22 and (not narrow or place % 2 == 0):
            canvas.add(text(x(month) + 3, foot + 16, MONTHS[month.month - 1], ink="quiet", size=12))
        month, place = (month + timedelta(days=32)).replace(day=1), place + 1


def _draw_chill(
    canvas: Canvas, days: list[WinterDay], rows: list[KindInWinter], x: Callable[[date], float]
) -> None:
    needs = [each.need.value for each in rows]
    ends = [
        *needs,
        *(each.need.least for each in rows if each.need.least),
        *(each.need.most for each in rows if each.need.most),
    ]
    top = max(20.0, ceil(max([days[-1].portions, *ends]) / 20) * 20.0)

    def y(portions: float) -> float:
        return TOP + (1 - portions / top) * CHILL

    wide = canvas.width - RIGHT
    if ends:
        band = f"M{number(LEFT)} {number(y(max(ends)))}H{number(wide)}V{number(y(min(ends)))}H{number(LEFT)}z"
        canvas.add(path(band, ink="bud", width=1, fill="card", more=DASHED + ' fill-opacity="0.6"'))
        words = f"needs, {min(ends):g} to {max(ends):g}"
        canvas.add(text(LEFT + 5, y(max(ends)) + 14, words, ink="bud", size=12))
    for portions in range(0, int(top) + 1, 20 if top <= 120 else 40):
        canvas.add(path(f"M{number(LEFT)} {number(y(portions))}H{number(wide)}", ink="hair", width=0.8))
        canvas.add(text(LEFT - 5, y(portions) + 4, f"{portions}", ink="quiet", anchor="end", size=12))
    canvas.add(text(4, 12, "chill portions", ink="quiet", size=12))
    line = ""
    for is_measured, group in groupby(days, key=lambda each: each.measured):
        same = list(group)
        if is_measured:
            line += "M" + "L".join(f"{number(x(each.day))} {number(y(each.portions))}" for each in same)
            line += "h1.5"
    canvas.add(path(line, ink="water", width=3, more=' stroke-linejoin="round"'))


def _draw_kind(
    canvas: Canvas, kind: KindInWinter, days: list[WinterDay], base: float, x: Callable[[date], float]
) -> None:
    turns, first, last = kind.turns, days[0].day, days[-1].day
    need = f"{kind.need.value:g}"
    if kind.need.least is not None and kind.need.most is not None:
        most = "" if kind.need.most == kind.need.least else f"–{kind.need.most:g}"
        need += f" ({kind.need.least:g}{most})"
    canvas.add(text(LEFT, base - 26, f"{kind.name}: {need}", size=13, room=canvas.width - LEFT - RIGHT))
    ripe, ended, moving = turns.ripe_on or last, turns.rest_ended_on, turns.moving_on
    canvas.add(_line(x(first), x(ripe), base, "quiet", 1.6, DOTTED))
    if turns.ripe_on:
        canvas.add(_line(x(ripe), x(ended or last), base, "water", 3.2))
    if ended:
        shown = list(_wedge(kind, days, ended))
        points = "".join(f"L{number(x(day))} {number(base - share * WEDGE)}" for day, share in shown)
        until = x(moving or last)
        canvas.add(
            path(
                f"M{number(x(ended))} {number(base)}{points}V{number(base)}z",
                ink="bark",
                width=1.2,
                fill="bark",
            )
        )
        if moving and moving <= last:
            box = f"M{number(until)} {number(base)}V{number(base - WEDGE)}H{number(x(last))}V{number(base)}z"
            canvas.add(path(box, ink="stop", width=1, fill=canvas.hatch))
    if kind.moves and (moving is None):
        box = f"M{number(x(kind.moves.earliest))} {number(base)}v{number(-WEDGE)}H{number(x(kind.moves.latest) + 2)}v{number(WEDGE)}z"
        canvas.add(path(box, ink="bark", width=1.2, more=DASHED))
    reached = [_reaches(days, each) for each in (kind.need.least, kind.need.most)]
    if reached[0]:
        end = x(reached[1] or last)
        bracket = f"M{number(x(reached[0]))} {number(base + 2)}v5H{number(end)}" + (
            "v-5" if reached[1] else ""
        )
        canvas.add(path(bracket, ink="bud", width=1.2))


def _line(start: float, end: float, y: float, ink: str, width: float, more: str = "") -> str:
    return path(f"M{number(start)} {number(y)}H{number(max(end, start))}", ink=ink, width=width, more=more)


def _wedge(kind: KindInWinter, days: list[WinterDay], ended: date) -> Iterator[tuple[date, float]]:
    """Warmth since rest ended, until buds could move."""
    for each, share in zip(days, kind.warmth, strict=False):
        if each.day >= ended:
            yield each.day, min(share, 1.0)
            if share >= 1:
                return


def _reaches(days: list[WinterDay], portions: float | None) -> date | None:
    """The first day with so much chill."""
    return next((each.day for each in days if portions is not None and each.portions >= portions), None)


def _draw_cuts(canvas: Canvas, cuts: list[CutInWinter], base: float, x: Callable[[date], float]) -> None:
    for day, count in sorted(Counter(each.cut_on for each in cuts).items()):
        at = x(day)
        mark = f"M{number(at)} {number(base + 3)}l-4 8h8z"
        words = f"{count} {'cut' if count == 1 else 'cuts'} on {day.day} {day:%B}"
        canvas.add(f"<g><title>{words}</title>{path(mark, ink='ink', width=1, fill='ink')}</g>")
