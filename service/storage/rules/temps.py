"""A store's temperatures day by day: the lowest and highest of each, from loggers and from thermometers read by hand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from service.storage.rules.excursions import ANY_SCIONS, StoreLimits
from service.storage.rules.words import StoreKind


@dataclass(frozen=True)
class DayTemps:
    """The lowest and highest of one day in °C, None where nothing was measured; `outside`: beyond good storage."""

    day: date
    low_c: float | None = None
    high_c: float | None = None
    by_hand: bool = False
    outside: bool = False


NARROWEST_GOOD_C = (
    2.0  # no fridge is steadier: what suits all kinds here together must leave it room (judgement)
)


# A household fridge that is set below this freezes what lies at its back, wherever its dial points. Judgement.
COLDEST_FRIDGE_C = 0.0


def limits_to_draw(limits: StoreLimits, kind: str) -> StoreLimits:
    """What a store's days are held against: what suits all its wood, or, where kinds disagree, what suits scions in general.

    Wood that would keep best below freezing is not asked of a fridge, only of a cold room or a cellar.
    """
    if kind == StoreKind.FRIDGE and limits.low_c < COLDEST_FRIDGE_C:
        mark = f"{limits.mark}; not below {COLDEST_FRIDGE_C:g} °C in a fridge, judgement"
        limits = replace(limits, low_c=COLDEST_FRIDGE_C, mark=mark)
    if limits.high_c - limits.low_c >= NARROWEST_GOOD_C:
        return limits
    return replace(ANY_SCIONS, freezing_c=limits.freezing_c, freezing_mark=limits.freezing_mark)


def plan_days(
    measured: Iterable[tuple[date, float]], dials: Iterable[tuple[date, float, float]], first: date, last: date, limits: StoreLimits
) -> list[DayTemps]:  # fmt: skip
    """Every day from the first to the last, gaps as gaps.

    A dial's lowest and highest stand for the day it was read: since when they count nobody knows who did not reset it.
    """
    lows: dict[date, float] = {}
    highs: dict[date, float] = {}
    logged = set[date]()
    for day, temp in measured:
        logged.add(day)
        lows[day], highs[day] = min(temp, lows.get(day, temp)), max(temp, highs.get(day, temp))
    for day, low, high in dials:
        lows[day], highs[day] = min(low, lows.get(day, low)), max(high, highs.get(day, high))
    days = []
    for offset in range((last - first).days + 1):
        day = first + timedelta(days=offset)
        if day not in lows:
            days.append(DayTemps(day))
            continue
        outside = lows[day] < limits.low_c or highs[day] > limits.high_c
        days.append(DayTemps(day, lows[day], highs[day], day not in logged, outside))
    return days


def days_words(days: Sequence[DayTemps], limits: StoreLimits) -> str:
    """The whole picture in two sentences, for who cannot see it."""
    told = [day for day in days if day.low_c is not None]
    if not told:
        return f"Nothing was measured in {len(days)} days."
    low = min(day.low_c for day in told if day.low_c is not None)
    high = max(day.high_c for day in told if day.high_c is not None)
    out = sum(day.outside for day in told)
    return (
        f"From {low:.1f} to {high:.1f} °C on {len(told)} of {len(days)} days; "
        f"{out or 'none'} of them outside {limits.low_c:g} to {limits.high_c:g} °C."
    )
