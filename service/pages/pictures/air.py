"""The air at a site over a year: each day's span from its lowest to its highest temperature, frost set apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from service.pages.pictures.drawing import Canvas, number, path, text
from service.pages.pictures.life import MONTHS

WIDE, NARROW, HEIGHT = 720.0, 360.0, 230.0
LEFT, RIGHT, TOP, BOTTOM = 44.0, 8.0, 12.0, 30.0
STEP_C = 10


@dataclass(frozen=True)
class AirOfDay:
    """The lowest and highest of one day, in °C."""

    day: date
    lowest_c: float
    highest_c: float


@dataclass(frozen=True)
class AirOfMonth:
    """A month in numbers: means of the lowest and of the highest, the lowest of all, days with frost, days measured."""

    month: date
    mean_lowest_c: float
    mean_highest_c: float
    lowest_c: float
    frosts: int
    days: int

    @property
    def name(self) -> str:
        return f"{MONTHS[self.month.month - 1]} {self.month.year}"


def months_of(days: Sequence[AirOfDay]) -> list[AirOfMonth]:
    """The same days as a table, a line a month."""
    found = []
    for month, group in groupby(days, key=lambda each: each.day.replace(day=1)):
        same = list(group)
        found.append(
            AirOfMonth(
                month,
                sum(each.lowest_c for each in same) / len(same),
                sum(each.highest_c for each in same) / len(same),
                min(each.lowest_c for each in same),
                sum(each.lowest_c < 0 for each in same),
                len(same),
            )
        )
    return found


def air_over(days: Sequence[AirOfDay], first: date, last: date, *, width: float = WIDE) -> str:
    """An SVG of the days from first to last; a day without a reading stays white. Empty where there is none.

    `width`: of the picture in its own units; a narrow one keeps its words readable on a phone.
    """
    if not days:
        return ""
    coldest = min(0.0, *(each.lowest_c for each in days))
    hottest = max(0.0, *(each.highest_c for each in days))
    low, high = math.floor(coldest / STEP_C) * STEP_C, math.ceil(hottest / STEP_C) * STEP_C
    high = max(high, low + STEP_C)
    span = max((last - first).days + 1, 1)
    step = (width - LEFT - RIGHT) / span

    def x(day: date) -> float:
        return LEFT + (day - first).days * step

    def y(celsius: float) -> float:
        return TOP + (high - celsius) / (high - low) * (HEIGHT - TOP - BOTTOM)

    canvas = Canvas("air" if width == WIDE else "air-narrow", width, HEIGHT)
    for celsius in range(low, high + 1, STEP_C):
        ink, line = ("quiet", 1.2) if celsius == 0 else ("hair", 1.0)
        canvas.add(path(f"M{number(LEFT)} {number(y(celsius))}H{number(width - RIGHT)}", ink=ink, width=line))
        said = _signed(celsius) + (" °C" if celsius == high else "")
        canvas.add(text(LEFT - 6, y(celsius) + 4, said, ink="quiet", anchor="end", size=12))
    strokes = max(step * 0.9, 0.9)
    for ink, part in (("bark", _above), ("water", _below)):
        drawn = "".join(
            f"M{number(x(each.day) + step / 2)} {number(y(ends[1]))}V{number(y(ends[0]))}"
            for each in days
            if (ends := part(each))
        )
        if drawn:
            canvas.add(path(drawn, ink=ink, width=strokes))
    for month in _firsts(first, last):
        canvas.add(path(f"M{number(x(month))} {number(HEIGHT - BOTTOM)}v5", ink="quiet", width=1))
        if width == WIDE or month.month % 3 == 0:
            canvas.add(text(x(month) + 3, HEIGHT - 10, MONTHS[month.month - 1], ink="quiet", size=12))
    frosts = sum(each.lowest_c < 0 for each in days)
    coldest_day = min(days, key=lambda each: each.lowest_c)
    told = f"{len(days)} of {span} days were measured; {frosts} had frost; the coldest was {_tenths(coldest_day.lowest_c)} °C."
    return canvas.svg("The air here, each day from its lowest to its highest", told)


def _above(each: AirOfDay) -> tuple[float, float] | None:
    if each.highest_c < 0:
        return None
    low = max(each.lowest_c, 0.0)
    return (low, max(each.highest_c, low + 0.2))


def _below(each: AirOfDay) -> tuple[float, float] | None:
    return (each.lowest_c, min(each.highest_c, 0.0)) if each.lowest_c < 0 else None


def _firsts(first: date, last: date) -> list[date]:
    found, month = [], first.replace(day=1)
    while month <= last - timedelta(days=10):
        if month >= first:
            found.append(month)
        month = (month + timedelta(days=32)).replace(day=1)
    return found


def _signed(celsius: float) -> str:
    return f"{celsius:g}".replace("-", "−")


def _tenths(celsius: float) -> str:
    return f"{celsius:.1f}".replace("-", "−")
