"""What a record of readings lacks or repeats, and hours filled where it has none.

A gap is never taken for cold. Up to 3 hours the last reading is held; up to 48 hours the mean of the day before and the
day after stands in; longer, a nominal temperature where one is known, else nothing. (These limits are judgement.)
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from service.lib.readings import DAY_SECONDS, HOUR_SECONDS, Column, Hours, Readings

HELD_HOURS = 3
FILLED_HOURS = 48
Span = tuple[int, int]

# A sensor that works shows its own noise: the same value over and over says that it is stuck, or that it shows whole
# degrees only, in which case a quiet cellar may well be the same for days. Judgement.
STUCK_READINGS = 12
STUCK_SECONDS, STUCK_SECONDS_COARSE = DAY_SECONDS, 7 * DAY_SECONDS
REPEATED_DAYS = (1, 7)


@dataclass(frozen=True)
class Stuck:
    """A stretch in which every reading says the same: from its first to its last."""

    begin: int
    end: int
    readings: int
    temp_c: float


def usual_step(at: Column) -> int:
    """The seconds between readings, as most of them have it; 0 of fewer than two."""
    import numpy as np

    return int(np.median(np.diff(at))) if len(at) > 1 else 0


def find_gaps(at: Column, longest: int = HELD_HOURS * HOUR_SECONDS) -> list[Span]:
    """Stretches without a reading, from the one before to the one after: longer than usual, and than `longest`."""
    import numpy as np

    steps = np.diff(at)
    found = np.flatnonzero(steps > max(longest, usual_step(at) * 3 // 2))
    return [(int(at[place]), int(at[place + 1])) for place in found]


def find_stuck(readings: Readings) -> list[Stuck]:
    """Stretches in which temperature and humidity never move, too long for a sensor that works."""
    import numpy as np

    if len(readings) < STUCK_READINGS:
        return []
    wet = readings.has_humidity
    moved = (np.diff(readings.temp) != 0) | (np.diff(np.where(wet, readings.humidity, -1)) != 0)
    begins = np.flatnonzero(np.concatenate([[True], moved]))
    ends = np.concatenate([begins[1:], [len(readings)]]) - 1
    half_degrees = readings.temp * 2 % 10**readings.temp_decimals == 0
    longest = STUCK_SECONDS_COARSE if half_degrees.all() else STUCK_SECONDS
    lasting = readings.at[ends] - readings.at[begins]
    celsius = readings.celsius()
    return [
        Stuck(int(readings.at[begin]), int(readings.at[end]), int(end - begin + 1), float(celsius[begin]))
        for begin, end in zip(begins[lasting >= longest], ends[lasting >= longest], strict=True)
        if end - begin + 1 >= STUCK_READINGS
    ]


def find_repeats(readings: Readings) -> list[tuple[int, Span]]:
    """Days or weeks that say exactly what the one before said: as (days, from the first repeated reading to the last)."""
    import numpy as np

    found: list[tuple[int, Span]] = []
    step = max(usual_step(readings.at), 1)
    for days in REPEATED_DAYS:
        lag = days * DAY_SECONDS
        before = np.searchsorted(readings.at, readings.at - lag)
        known = readings.at[np.minimum(before, len(readings) - 1)] == readings.at - lag
        same = known & (readings.temp == readings.temp[np.minimum(before, len(readings) - 1)])
        broken = np.flatnonzero(known & ~same)
        for begin, end in _runs(same, broken):
            if readings.at[end] - readings.at[begin] < lag - step:
                continue
            part = readings.temp[begin : end + 1]
            if end - begin + 1 >= STUCK_READINGS and len(np.unique(part)) > 3:
                found.append((days, (int(readings.at[begin]), int(readings.at[end]))))
    return found


def _runs(same: Column, broken: Column) -> list[tuple[int, int]]:
    """The longest stretches, as places, from a place that is the same to another, with none in between that is broken."""
    import numpy as np

    places = np.flatnonzero(same)
    if not len(places):
        return []
    cut = np.flatnonzero(np.diff(np.searchsorted(broken, places)) > 0)
    begins, ends = np.concatenate([[0], cut + 1]), np.concatenate([cut, [len(places) - 1]])
    return [(int(places[begin]), int(places[end])) for begin, end in zip(begins, ends, strict=True)]


# -- every hour of a stretch -----------------------------------------------------------------------------------------


class How(IntEnum):
    """How the temperature of an hour is known."""

    MEASURED = 0
    HELD = 1  # the last one before, within 3 hours
    FILLED = 2  # the mean of the day before and the day after, within 48 hours
    NOMINAL = 3  # what the store is set to
    UNKNOWN = 4


@dataclass(frozen=True)
class EveryHour:
    """Each hour of a stretch from `begin` on: its temperature (not a number where unknown), and how it is known."""

    begin: int
    temp_c: Column
    how: Column


def fill_hours(hours: Hours, begin: int, end: int, nominal_c: float | None = None) -> EveryHour:
    """Every hour from one (since the beginning of 1970) up to, not including, another, by the rules above."""
    import numpy as np

    temp = np.full(max(end - begin, 0), np.nan)
    how = np.full(len(temp), How.UNKNOWN, np.uint8)
    inside = (hours.hour >= begin) & (hours.hour < end)
    temp[hours.hour[inside] - begin] = hours.temp_c[inside]
    how[hours.hour[inside] - begin] = How.MEASURED
    for first, last in _missing(how):
        _fill(hours, begin, temp, how, (first, last), nominal_c)
    return EveryHour(begin, temp, how)


def _missing(how: Column) -> list[Span]:
    import numpy as np

    edges = np.diff(np.concatenate([[0], (how == How.UNKNOWN).astype(np.int8), [0]]))
    return list(
        zip(np.flatnonzero(edges == 1).tolist(), (np.flatnonzero(edges == -1) - 1).tolist(), strict=True)
    )


def _fill(hours: Hours, begin: int, temp: Column, how: Column, gap: Span, nominal_c: float | None) -> None:
    """One stretch of missing hours. Its neighbours may lie outside of what is asked for, so the whole record is asked."""
    import numpy as np

    first, last = gap[0] + begin, gap[1] + begin
    before = int(np.searchsorted(hours.hour, first)) - 1
    after = before + 1
    since = first - int(hours.hour[before]) if before >= 0 else FILLED_HOURS + 1
    until = int(hours.hour[after]) - last if after < len(hours.hour) else FILLED_HOURS + 1
    lasts = (since - 1) + (last - first + 1) + (until - 1)
    where = slice(gap[0], gap[1] + 1)
    if before >= 0 and lasts <= HELD_HOURS:
        temp[where], how[where] = hours.temp_c[before], How.HELD
    elif lasts <= FILLED_HOURS:
        day_before = hours.temp_c[(hours.hour <= hours.hour[before]) & (hours.hour > hours.hour[before] - 24)]
        day_after = hours.temp_c[(hours.hour >= hours.hour[after]) & (hours.hour < hours.hour[after] + 24)]
        temp[where], how[where] = (day_before.mean() + day_after.mean()) / 2, How.FILLED
    elif nominal_c is not None:
        temp[where], how[where] = nominal_c, How.NOMINAL
    if after >= len(hours.hour) and before >= 0:
        _go_on_from_last(hours, before, begin, temp, how)


def _go_on_from_last(hours: Hours, before: int, begin: int, temp: Column, how: Column) -> None:
    """After the last reading of all there is no day after: it is held for 3 hours and no longer."""
    first = int(hours.hour[before]) + 1 - begin
    where = slice(max(first, 0), max(first + HELD_HOURS, 0))
    temp[where], how[where] = hours.temp_c[before], How.HELD
