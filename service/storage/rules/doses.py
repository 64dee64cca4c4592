"""The hours of a store that wood ages by: measured, filled by rule, or as a thermometer read by hand says.

Imported where it is needed, and not at the start: it is arrays throughout.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from service.lib.readings import HOUR_SECONDS, Column, Hours
from service.science.hours import A_DAY, HELD_HOURS, NEIGHBOUR_HOURS, Known, fill_gaps
from service.storage.rules.nominal import NominalFrom

# A dial stands for the hours nearest to it, a week either way. Judgement.
DIAL_REACHES_HOURS = 7 * A_DAY
# What a filled hour rests on lies at most so far from it: a gap of two days and a day on its other side.
REACH_HOURS = NEIGHBOUR_HOURS + A_DAY
_VERSION = 1
_HEAD = struct.Struct("<B")
_NOT_TOLD = -(2**31)


class Basis(IntEnum):
    """How the temperature of a store's hour is known, the best first; the first four as in `science.hours`."""

    MEASURED = Known.MEASURED
    HELD = Known.HELD
    NEIGHBOURS = Known.NEIGHBOURS
    BY_HAND = Known.NOMINAL
    ASSUMED = Known.UNKNOWN
    NOMINAL = 5  # what the store is said to have; put in where it is used, and never kept


class DamagedDay(ValueError):
    """A day of hours that cannot be read."""


@dataclass(frozen=True)
class DayHours:
    """The 24 hours of a day (UTC): °C, percent (not a number where not known), and how each temperature is known."""

    temp_c: Column
    humidity: Column
    known: Column

    @property
    def measured(self) -> int:
        return int((self.known <= Basis.NEIGHBOURS).sum())


def pack_hours(day: DayHours) -> bytes:
    """Temperatures to a thousandth of a degree, humidities to a hundredth of a percent: some hundred bytes a day."""
    temp = _whole(day.temp_c, 1000).astype("<i4").view(np.uint8).reshape(-1, 4).T
    humidity = _whole(day.humidity, 100).astype("<i4").view(np.uint8).reshape(-1, 4).T
    raw = temp.tobytes() + humidity.tobytes() + day.known.astype(np.uint8).tobytes()
    return _HEAD.pack(_VERSION) + zlib.compress(raw, 9)


def _whole(values: Column, times: int) -> Column:
    return np.where(np.isnan(values), _NOT_TOLD, np.rint(np.nan_to_num(values) * times))


def unpack_hours(block: bytes) -> DayHours:
    """Raises `DamagedDay`."""
    try:
        raw = zlib.decompress(block[_HEAD.size :])
    except zlib.error as error:
        raise DamagedDay(str(error)) from error
    if block[0] != _VERSION or len(raw) != 9 * A_DAY:
        raise DamagedDay("This program cannot read it.")
    bytes_of = np.frombuffer(raw, np.uint8)
    whole = [
        np.ascontiguousarray(bytes_of[n * 4 * A_DAY : (n + 1) * 4 * A_DAY].reshape(4, -1).T).view("<i4").ravel()
        for n in (0, 1)
    ]  # fmt: skip
    temp, humidity = (
        np.where(each == _NOT_TOLD, np.nan, each / times)
        for each, times in zip(whole, (1000, 100), strict=True)
    )
    return DayHours(temp, humidity, bytes_of[8 * A_DAY :].copy())


def days_of_store(records: Sequence[Hours], dials: Iterable[tuple[int, float]]) -> dict[int, DayHours]:
    """All days (since the beginning of 1970) of which something is known, from all there is.

    `records`: hourly means of each logger in the store; of several, each hour is their mean. `dials`: instants and °C.
    What a day holds rests on nothing farther from it than `REACH_HOURS`, or `DIAL_REACHES_HOURS` for dials.
    """
    read = sorted((at // HOUR_SECONDS, temp) for at, temp in dials)
    ends = [int(each.hour[place]) for each in records if len(each.hour) for place in (0, -1)]
    ends += [hour + reach for hour, _ in read for reach in (-DIAL_REACHES_HOURS, DIAL_REACHES_HOURS)]
    if not ends:
        return {}
    first, last = min(ends) // A_DAY * A_DAY, max(ends) // A_DAY * A_DAY + A_DAY
    temp, humidity = (_mean_of(records, name, first, last - first) for name in ("temp_c", "humidity"))
    # A gap at the end is a gap like another here: what comes after the last reading is not known, and not held.
    filled = fill_gaps(np.concatenate([temp, np.full(REACH_HOURS + 1, np.nan), [0.0]]))
    values, known = filled.values[: last - first], filled.known[: last - first]
    damp = np.where(known <= Known.NEIGHBOURS, humidity, np.nan)
    _by_hand(values, known, first, read)
    parts = [(n // A_DAY, slice(n - first, n - first + A_DAY)) for n in range(first, last, A_DAY)]
    return {
        day: DayHours(values[part], damp[part], known[part])
        for day, part in parts
        if (known[part] < Basis.ASSUMED).any()
    }


def without_hours(records: Iterable[Hours], others: Sequence[Hours]) -> list[Hours]:
    """Records without the hours that one of the others tells of."""
    told = np.concatenate([np.empty(0, np.int64), *(each.hour for each in others)])
    left = [(each, ~np.isin(each.hour, told)) for each in records]
    return [Hours(each.hour[own], each.temp_c[own], each.humidity[own]) for each, own in left if own.any()]


def dry_hours(hours: Hours) -> Hours:
    """The same without its humidities."""
    return Hours(hours.hour, hours.temp_c, np.full(len(hours.hour), np.nan))


def _mean_of(records: Sequence[Hours], name: str, first: int, hours: int) -> Column:
    told = np.full((max(1, len(records)), hours), np.nan)
    for row, each in enumerate(records):
        told[row, each.hour - first] = getattr(each, name)
    # Added up in the order of their values, so that no mean depends on which logger comes first.
    told.sort(axis=0)
    count = (~np.isnan(told)).sum(axis=0)
    return np.asarray(np.where(count > 0, np.nansum(told, axis=0) / np.maximum(count, 1), np.nan))


def _by_hand(values: Column, known: Column, first: int, read: Sequence[tuple[int, float]]) -> None:
    """Hours that nothing measured take the dial nearest to them; of two as near, the later."""
    if not read:
        return
    empty = np.flatnonzero(known == Known.UNKNOWN)
    # Of one hour the mean of what was read in it.
    at = np.array(sorted({hour for hour, _ in read}))
    temp = np.array([np.mean([value for hour, value in read if hour == each]) for each in at])
    hours = empty + first
    after = np.minimum(np.searchsorted(at, hours), len(at) - 1)
    before = np.maximum(after - 1, 0)
    nearest = np.where(np.abs(at[after] - hours) <= np.abs(at[before] - hours), after, before)
    near = np.abs(at[nearest] - hours) <= DIAL_REACHES_HOURS
    values[empty[near]], known[empty[near]] = temp[nearest[near]], Known.NOMINAL


@dataclass(frozen=True)
class StoreRun:
    """A store's hours from one on without gaps: what nothing is known of is assumed."""

    first_hour: int
    temp_c: Column
    humidity: Column
    known: Column


def run_of(days: Mapping[int, DayHours], first_hour: int, last_hour: int, assumed_c: float, nominal: Sequence[NominalFrom] = ()
) -> StoreRun:  # fmt: skip
    """The hours from the first up to, but not including, the last. Of what is not known the nominal counts, else what is assumed."""
    begin, end = first_hour // A_DAY, -(-last_hour // A_DAY)
    nothing = DayHours(
        np.full(A_DAY, np.nan), np.full(A_DAY, np.nan), np.full(A_DAY, Basis.ASSUMED, np.uint8)
    )
    told = [days.get(day, nothing) for day in range(begin, end)]
    temp = np.concatenate([each.temp_c for each in told]) if told else np.empty(0)
    humidity = np.concatenate([each.humidity for each in told]) if told else np.empty(0)
    known = np.concatenate([each.known for each in told]) if told else np.empty(0, np.uint8)
    # The last reading goes on for its three hours where nothing else is known; a gap that is longer is assumed.
    _hold(temp, known)
    _as_said(temp, known, begin * A_DAY, nominal)
    temp = np.where(np.isnan(temp), assumed_c, temp)
    part = slice(first_hour - begin * A_DAY, last_hour - begin * A_DAY)
    return StoreRun(first_hour, temp[part], humidity[part], known[part])


def _as_said(temp: Column, known: Column, first: int, nominal: Sequence[NominalFrom]) -> None:
    hours = np.arange(first, first + len(temp))
    for place, one in enumerate(nominal):
        until = nominal[place + 1].from_hour if place + 1 < len(nominal) else first + len(temp)
        said = (known == Basis.ASSUMED) & (hours >= one.from_hour) & (hours < until)
        if one.temp_c is not None:
            temp[said], known[said] = one.temp_c, Basis.NOMINAL


def _hold(temp: Column, known: Column) -> None:
    measured = np.flatnonzero(known <= Basis.NEIGHBOURS)
    if len(measured):
        last = int(measured[-1])
        rest = np.arange(last + 1, min(last + 1 + HELD_HOURS, len(temp)))
        rest = rest[known[rest] == Basis.ASSUMED]
        temp[rest], known[rest] = temp[last], Basis.HELD
