"""How warm and how damp a store was, day by day and hour by hour, from loggers and from thermometers read by hand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from service.lib.readings import HOUR_SECONDS, Column
from service.storage.rules.excursions import ANY_SCIONS, Band, Excursion, StoreLimits
from service.storage.rules.loggers import Sensor
from service.storage.rules.words import StoreKind


@dataclass(frozen=True)
class DayTemps:
    """The lowest and highest of one day in °C, None where nothing was measured; `outside`: beyond good storage.

    Humidity in percent; `dry`: below what wood of these kinds wants in its pack.
    """

    day: date
    low_c: float | None = None
    high_c: float | None = None
    by_hand: bool = False
    outside: bool = False
    humidity_low_pct: float | None = None
    humidity_high_pct: float | None = None
    dry: bool = False


@dataclass(frozen=True)
class HourTemps:
    """The same of one hour, by loggers alone, with its mean."""

    at: datetime
    mean_c: float | None = None
    low_c: float | None = None
    high_c: float | None = None
    outside: bool = False
    humidity_low_pct: float | None = None
    humidity_high_pct: float | None = None
    dry: bool = False


@dataclass(frozen=True)
class Measured:
    """Values of one stretch of time: which of the stretches, and their lowest, mean and highest."""

    place: int
    low: float
    mean: float
    high: float


def measured_between(at: Column, values: Column, edges: Sequence[int]) -> list[Measured]:
    """Of the values between each two edges (seconds, in order), those that are numbers; a stretch without any is left out."""
    import numpy as np

    there = (at >= edges[0]) & (at < edges[-1]) & ~np.isnan(values)
    at, values = at[there], values[there]
    if not len(at):
        return []
    places = np.searchsorted(np.asarray(edges), at, "right") - 1
    told, begins, counts = np.unique(places, return_index=True, return_counts=True)
    lows, highs = np.minimum.reduceat(values, begins), np.maximum.reduceat(values, begins)
    means = np.add.reduceat(values, begins) / counts
    return [Measured(*row) for row in zip(*(c.tolist() for c in (told, lows, means, highs)), strict=True)]


NARROWEST_GOOD_C = (
    2.0  # no fridge is steadier: what suits all kinds here together must leave it room (judgement)
)


# A household fridge that is set below this freezes what lies at its back, wherever its dial points. Judgement.
COLDEST_FRIDGE_C = 0.0


def limits_to_draw(limits: StoreLimits, kind: str) -> StoreLimits:
    """What a store's days are held against: what suits all its wood, or, where kinds disagree, what suits scions in general.

    Wood that would keep best below freezing is not asked of a fridge, only of a cold room or a cellar. Nor is wood that wants it
    colder than a fridge or a cellar keeps: what suits scions in general holds there.
    """
    if kind != StoreKind.COLD_ROOM:
        limits = replace(limits, keeps_c=ANY_SCIONS.high_c)
    if kind == StoreKind.FRIDGE and limits.low_c < COLDEST_FRIDGE_C:
        mark = f"{limits.mark}; not below {COLDEST_FRIDGE_C:g} °C in a fridge, judgement"
        limits = replace(limits, low_c=COLDEST_FRIDGE_C, mark=mark)
    if kind == StoreKind.FRIDGE and any(band.low_c < COLDEST_FRIDGE_C for band in limits.bands):
        bands = tuple(_of_fridge(band) for band in limits.bands)
        limits = replace(limits, bands=bands)
    if limits.high_c - limits.low_c >= NARROWEST_GOOD_C and limits.high_c >= limits.keeps_c:
        return limits
    any_wood = (ANY_SCIONS.mark, ANY_SCIONS.source)
    return replace(
        limits,
        low_c=ANY_SCIONS.low_c,
        high_c=ANY_SCIONS.high_c,
        groups=(),
        mark=any_wood[0],
        source=any_wood[1],
    )


def _of_fridge(band: Band) -> Band:
    if band.low_c >= COLDEST_FRIDGE_C:
        return band
    return replace(band, low_c=COLDEST_FRIDGE_C, high_c=max(band.high_c, COLDEST_FRIDGE_C))


NOTHING: tuple[float | None, float | None] = (None, None)


def plan_days(
    measured: Iterable[tuple[date, float]], dials: Iterable[tuple[date, float, float]], first: date, last: date, limits: StoreLimits,
    damp: Iterable[tuple[date, float]] = (),
) -> list[DayTemps]:  # fmt: skip
    """Every day from the first to the last, gaps as gaps.

    A dial's lowest and highest stand for the day it was read: since when they count nobody knows who did not reset it.
    """
    measured = list(measured)
    logged = {day for day, _ in measured}
    temps = _extremes([*measured, *((day, value) for day, *both in dials for value in both)])
    humid = _extremes(damp)
    days = []
    for offset in range((last - first).days + 1):
        day = first + timedelta(days=offset)
        low, high = temps.get(day) or NOTHING
        driest, dampest = humid.get(day) or NOTHING
        days.append(
            DayTemps(
                day, low, high, low is not None and day not in logged, _outside(low, high, limits),
                driest, dampest, _dry(driest, limits),
            )
        )  # fmt: skip
    return days


def _extremes(told: Iterable[tuple[date, float]]) -> dict[date, tuple[float, float]]:
    found: dict[date, tuple[float, float]] = {}
    for day, value in told:
        low, high = found.get(day, (value, value))
        found[day] = min(value, low), max(value, high)
    return found


def _outside(low_c: float | None, high_c: float | None, limits: StoreLimits) -> bool:
    return low_c is not None and high_c is not None and (low_c < limits.low_c or high_c > limits.high_c)


def _dry(driest_pct: float | None, limits: StoreLimits) -> bool:
    return (
        driest_pct is not None
        and limits.humidity_min_pct is not None
        and driest_pct < limits.humidity_min_pct
    )


def plan_hours(
    measured: Iterable[Measured], damp: Iterable[Measured], begins: Sequence[datetime], limits: StoreLimits
) -> list[HourTemps]:
    """Every hour that begins then, gaps as gaps; the mean is that of the loggers' means."""
    temps, humid = _by_place(measured), _by_place(damp)
    hours = []
    for place, at in enumerate(begins):
        warm, wet = temps.get(place, ()), humid.get(place, ())
        low, high = _around(warm)
        driest, dampest = _around(wet)
        mean = sum(one.mean for one in warm) / len(warm) if warm else None
        hours.append(
            HourTemps(at, mean, low, high, _outside(low, high, limits), driest, dampest, _dry(driest, limits))
        )
    return hours


def _around(told: Sequence[Measured]) -> tuple[float | None, float | None]:
    return (min(one.low for one in told), max(one.high for one in told)) if told else NOTHING


def _by_place(told: Iterable[Measured]) -> dict[int, list[Measured]]:
    found: dict[int, list[Measured]] = {}
    for one in told:
        found.setdefault(one.place, []).append(one)
    return found


def joined_excursions(found: Iterable[Excursion]) -> list[Excursion]:
    """Those of several loggers as the store's own: what overlaps on the same side is one."""
    joined: list[Excursion] = []
    for above in (True, False):
        last: Excursion | None = None
        for one in sorted((each for each in found if each.above is above), key=lambda each: each.begin):
            if last is None or one.begin > last.end:
                joined.append(one)
            else:
                end = max(last.end, one.end)
                hours = min(last.hours + one.hours, (end - last.begin) / HOUR_SECONDS)
                worst = max if above else min
                ended = last.ended and one.ended
                joined[-1] = Excursion(last.begin, end, ended, hours, worst(last.extreme_c, one.extreme_c), above)  # fmt: skip
            last = joined[-1]
    return sorted(joined, key=lambda each: each.begin)


@dataclass(frozen=True)
class WeekTemps:
    """Up to seven days as one line of a table: their lowest and highest, and how many days of which kind."""

    first: date
    last: date
    low_c: float | None
    high_c: float | None
    measured: int
    outside: int
    humidity_low_pct: float | None
    humidity_high_pct: float | None
    dry: int


def weeks_of(days: Sequence[DayTemps]) -> list[WeekTemps]:
    weeks = []
    for begin in range(0, len(days), 7):
        week = days[begin : begin + 7]
        weeks.append(
            WeekTemps(
                week[0].day, week[-1].day,
                min((day.low_c for day in week if day.low_c is not None), default=None),
                max((day.high_c for day in week if day.high_c is not None), default=None),
                sum(day.low_c is not None for day in week), sum(day.outside for day in week),
                min((day.humidity_low_pct for day in week if day.humidity_low_pct is not None), default=None),
                max((day.humidity_high_pct for day in week if day.humidity_high_pct is not None), default=None),
                sum(day.dry for day in week),
            )
        )  # fmt: skip
    return weeks


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


def excursion_words(found: Sequence[Excursion], limits: StoreLimits) -> str:
    """How often and how long loggers were beyond good storage, each side told."""
    warm, cold = ([one for one in found if one.above is above] for above in (True, False))
    return f"Above {limits.high_c:g} °C {_stretches(warm)}; below {limits.low_c:g} °C {_stretches(cold)}."


def _stretches(found: Sequence[Excursion]) -> str:
    if not found:
        return "never for an hour"
    hours = sum(one.hours for one in found)
    return f"{'once' if len(found) == 1 else f'{len(found)} times'}, {hours:.0f} {'hour' if round(hours) == 1 else 'hours'} in all"


def humidity_words(days: Sequence[DayTemps], where: Sensor, limits: StoreLimits) -> str:
    """The band of humidity in words, for who cannot see it."""
    told = [day for day in days if day.humidity_low_pct is not None]
    low = min(day.humidity_low_pct for day in told if day.humidity_low_pct is not None)
    high = max(day.humidity_high_pct for day in told if day.humidity_high_pct is not None)
    dry = sum(day.dry for day in told)
    below = (
        ""
        if limits.humidity_min_pct is None
        else f"; {dry or 'none'} of them below {limits.humidity_min_pct:g} %"
    )
    place = "inside a pack" if where is Sensor.PACK else "in the store’s air"
    return f"Humidity {place} from {low:.0f} to {high:.0f} % on {len(told)} of {len(days)} days{below}."
