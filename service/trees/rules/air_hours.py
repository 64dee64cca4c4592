"""The hours of a site's air: days measured from midnight to midnight, and their twenty-four means, whoever brought them first."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import NamedTuple
from uuid import UUID
from zoneinfo import ZoneInfo

from service.lib.clock import local_day, start_of_day
from service.lib.logged import HELD_HOURS
from service.lib.readings import DAY_SECONDS, HOUR_SECONDS, Column, Readings, hours_of
from service.lib.whole_times import instant_of, number_of, second_of

A_DAY = 24
_NONE, _HUNDREDTHS = -32_768, 100


class DayOfAir(NamedTuple):
    """A day as it stands: its lowest and highest, the record that told it, and its hours where they were measured."""

    lowest_c: float
    highest_c: float
    record_id: UUID
    hours: bytes | None = None


@dataclass
class HourlyDays:
    """Days out of readings: their lowest and highest, their hours as bytes, and those with too long a gap or not over."""

    days: dict[date, tuple[float, float]] = field(default_factory=dict)
    hours: dict[date, bytes] = field(default_factory=dict)
    first_at: dict[date, int] = field(default_factory=dict)
    thin: list[date] = field(default_factory=list)
    not_over: set[date] = field(default_factory=set)


# -- a day's hours as bytes ----------------------------------------------------------------------------------------------


def pack_hours(celsius: Column) -> bytes:
    """Twenty-four means as whole hundredths of a degree, two bytes each, low byte first; a mark where none was measured."""
    import numpy as np

    hundredths = np.rint(np.nan_to_num(celsius, nan=_NONE / _HUNDREDTHS) * _HUNDREDTHS)
    return np.asarray(hundredths, "<i2").tobytes()


def unpack_hours(block: bytes) -> tuple[float, ...]:
    """Twenty-four temperatures in °C, not a number where none was measured."""
    import numpy as np

    found = np.frombuffer(block, "<i2")
    return tuple(np.where(found == _NONE, np.nan, found / _HUNDREDTHS).tolist())


def hours_by_day(days: Mapping[date, DayOfAir]) -> dict[date, tuple[float, ...]]:
    """The hours of those days that were measured by the hour."""
    return {day: unpack_hours(one.hours) for day, one in days.items() if one.hours is not None}


# -- out of readings -----------------------------------------------------------------------------------------------------


def days_in(readings: Readings, zone: str) -> list[date]:
    """The club's days from the first reading to the last."""
    if not len(readings):
        return []
    first, last = (local_day(instant_of(int(readings.at[place])), zone) for place in (0, -1))
    return [first + timedelta(days=place) for place in range((last - first).days + 1)]


def days_around(days: Collection[date]) -> list[date]:
    """These days and their neighbours: an hour at midnight can belong to either."""
    return sorted({day + timedelta(days=step) for day in days for step in (-1, 0, 1)})


def days_of(readings: Readings, days: Collection[date], over_to: date, zone: str) -> HourlyDays:
    """What readings say of these days: each from one midnight of the club to the next. It depends on no order of arrival."""
    import numpy as np

    found = HourlyDays()
    if not len(readings):
        return found
    celsius, longest, means = readings.celsius(), HELD_HOURS * HOUR_SECONDS, _means(readings)
    for day in days:
        begin, end = (second_of(start_of_day(each, zone)) for each in (day, day + timedelta(days=1)))
        first, after = np.searchsorted(readings.at, [begin, end]).tolist()
        if after <= first:
            continue
        if day > over_to:
            found.not_over.add(day)
            continue
        steps = np.diff(np.concatenate([[begin], readings.at[first:after], [end]]))
        if int(steps.max()) > longest:
            found.thin.append(day)
            continue
        part = celsius[first:after]
        found.days[day] = round(float(part.min()), 2), round(float(part.max()), 2)
        found.hours[day] = pack_hours(_hours(means, first_hour(day, zone)))
        found.first_at[day] = int(readings.at[first])
    return found


def first_hour(day: date, zone: str) -> int:
    """The hour (UTC, since 1970) a day's twenty-four begin with: midnight without summer time, so that none is lost or doubled."""
    told = ZoneInfo(zone)
    offsets = (
        datetime(day.year, month, 1, tzinfo=UTC).astimezone(told).utcoffset() or timedelta()
        for month in (1, 7)
    )
    return number_of(day) * A_DAY - int(min(offsets).total_seconds() // HOUR_SECONDS)


def _means(readings: Readings) -> dict[int, float]:
    found = hours_of(readings)
    return dict(zip(found.hour.tolist(), found.temp_c.tolist(), strict=True))


def _hours(means: Mapping[int, float], begin: int) -> Column:
    """Each hour's own mean, or that of the last hour measured, at most three hours before it."""
    import numpy as np

    def known(hour: int) -> float:
        return next(
            (means[hour - back] for back in range(HELD_HOURS + 1) if hour - back in means), float("nan")
        )

    return np.array([known(begin + place) for place in range(A_DAY)])


def utc_days(days: Collection[date]) -> tuple[int, int]:
    """The first and the last UTC day (since 1970) whose readings these days can need."""
    return number_of(min(days)) - 1, number_of(max(days)) + 1


def seconds_of_days(days: tuple[int, int]) -> tuple[int, int]:
    return days[0] * DAY_SECONDS, (days[1] + 1) * DAY_SECONDS
