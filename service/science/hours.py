"""Readings put on the hours that all bundles share (UTC, counted from the beginning of 1970), and gaps in them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.science.daylight import Numbers
from service.science.parameters import value

HOUR_SECONDS = 3_600
A_DAY, A_WEEK = 24, int(value("days_left", "repeated"))
HELD_HOURS = int(value("gaps", "held_hours"))
NEIGHBOUR_HOURS = int(value("gaps", "neighbour_hours"))


class Known(IntEnum):
    """How the temperature of an hour is known, the best first."""

    MEASURED = 0
    HELD = 1
    NEIGHBOURS = 2
    NOMINAL = 3
    UNKNOWN = 4


@dataclass(frozen=True)
class Filled:
    """Hours without gaps as far as that is honest. Not a number where nothing is known."""

    values: Numbers
    known: NDArray[np.uint8]

    @property
    def has_long_gap(self) -> bool:
        """Whether the result must be called nominal: some hour rests on a named temperature, or on none."""
        return bool((self.known >= Known.NOMINAL).any())


def on_shared_hours(seconds: ArrayLike, values: ArrayLike, first_hour: int, hours: int) -> Numbers:
    """The mean of every whole hour.

    Parameters
    ----------
    seconds : of each reading since the beginning of 1970, UTC [s]; in any order.
    values : temperatures [°C] or humidities [%], one each.
    first_hour : the first hour asked for, counted from the beginning of 1970 [h].
    hours : how many.

    Returns
    -------
    One mean an hour, in the unit given; not a number in an hour without a reading.
    """
    told = np.asarray(values, np.float64)
    place = np.asarray(seconds, np.int64) // HOUR_SECONDS - first_hour
    inside = (place >= 0) & (place < hours) & ~np.isnan(told)
    # In one order of values whatever came first, so that no mean depends on the order of arrival.
    order = np.lexsort((told[inside], place[inside]))
    place, told = place[inside][order], told[inside][order]
    count = np.bincount(place, minlength=hours)
    total = np.bincount(place, weights=told, minlength=hours)
    return np.asarray(np.where(count > 0, total / np.maximum(count, 1), np.nan))


def fill_gaps(values: ArrayLike, nominal: float | None = None) -> Filled:
    """A record of hours with its gaps filled by rule. A gap never counts as cold.

    Parameters
    ----------
    values : one a shared hour [°C or %]; not a number where there was no reading.
    nominal : what the store is said to have, in the same unit; None where nobody says.

    Returns
    -------
    The record, and of every hour how it is known (`Known`).

    Notes
    -----
    Up to 3 hours hold the last reading; up to 48 hours take, hour by hour, the mean of the day before and the day after;
    longer ones take the nominal value, and what is computed from them is called nominal [1]_. A gap at the end of the
    record is not closed yet: its first 3 hours hold, the rest is nominal. Before the first reading all is nominal.

    References
    ----------
    .. [1] Judgement; no published rule was found.
    """
    found = np.array(values, np.float64)
    known = np.where(np.isnan(found), Known.UNKNOWN, Known.MEASURED).astype(np.uint8)
    for begin, end in _gaps(np.isnan(found)):
        _fill_one(found, known, begin, end)
    if nominal is not None:
        left = known == Known.UNKNOWN
        found[left], known[left] = nominal, Known.NOMINAL
    return Filled(found, known)


def _gaps(missing: NDArray[np.bool_]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate(([False], missing, [False]))))
    return [(int(begin), int(end)) for begin, end in zip(edges[::2], edges[1::2], strict=True)]


def _fill_one(found: Numbers, known: NDArray[np.uint8], begin: int, end: int) -> None:
    is_open = end == len(found)
    if begin > 0 and (is_open or end - begin <= HELD_HOURS):
        held = slice(begin, min(end, begin + HELD_HOURS))
        found[held], known[held] = found[begin - 1], Known.HELD
    elif begin > 0 and end - begin <= NEIGHBOUR_HOURS:
        # A gap longer than a day leans on the last whole day before it and the first after it.
        hours = np.arange(begin, end)
        before = begin - A_DAY + (hours - begin) % A_DAY
        after = end + (hours - end) % A_DAY
        inside = (before >= 0) & (after < len(found))
        mean = (found[np.maximum(before, 0)] + found[np.minimum(after, len(found) - 1)]) / 2
        usable = inside & ~np.isnan(mean)
        found[hours[usable]], known[hours[usable]] = mean[usable], Known.NEIGHBOURS
