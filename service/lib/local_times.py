"""Clock times of a place as instants, with the hour that happens twice and the hour that never comes.

A zone is a name of the IANA database or a fixed offset. Where a clock is put back, the same times come twice: they are
told apart by their order. Where it is put forward, an hour of times does not exist.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from functools import lru_cache
from zoneinfo import ZoneInfo, available_timezones

from service.lib.errors import Unusable
from service.lib.readings import DAY_SECONDS, Column

_FIXED = re.compile(r"(?:UTC|GMT)?([+-])(\d{1,2})(?::?(\d{2}))?")
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
LARGEST_OFFSET = 14 * 3600  # of any zone there is


class NoSuchZone(Unusable):
    title = "There is no such time zone"
    todo = "Choose a place like Europe/London, or a fixed offset like +01:00."


@lru_cache(maxsize=64)
def zone_of(told: str) -> tzinfo:
    """A zone by its name or its offset. Raises `NoSuchZone`."""
    text = told.strip().replace("−", "-")
    if text.upper() in ("UTC", "GMT", "Z"):
        return UTC
    fixed = _FIXED.fullmatch(text)
    if fixed:
        seconds = int(fixed[2]) * 3600 + int(fixed[3] or 0) * 60
        if int(fixed[3] or 0) < 60 and seconds <= LARGEST_OFFSET:
            return timezone(timedelta(seconds=-seconds if fixed[1] == "-" else seconds))
    elif text in available_timezones():
        return ZoneInfo(text)
    raise NoSuchZone(f"'{told[:60]}' is neither a place nor an offset.", field="zone")


@dataclass(frozen=True)
class Change:
    """A moment at which a zone's offset changes, all in seconds."""

    at: int  # since the beginning of 1970, UTC
    before: int
    after: int

    @property
    def span(self) -> tuple[int, int]:
        """The clock times that come twice, or never: from the first up to, not including, the second."""
        low, high = sorted((self.before, self.after))
        return self.at + low, self.at + high

    @property
    def comes_twice(self) -> bool:
        return self.after < self.before


def _offset(zone: tzinfo, second: int) -> int:
    found = (_EPOCH + timedelta(seconds=second)).astimezone(zone).utcoffset()
    return int(found.total_seconds()) if found is not None else 0


def changes_of(zone: tzinfo, begin: int, end: int) -> tuple[int, list[Change]]:
    """The offset at an instant, and every change from there to another instant."""
    first = _offset(zone, begin)
    changes: list[Change] = []
    before, place = first, begin
    while place < end:
        ahead = min(place + DAY_SECONDS, end)
        after = _offset(zone, ahead)
        if after != before:
            low, high = place, ahead
            while high - low > 1:
                middle = (low + high) // 2
                low, high = (low, middle) if _offset(zone, middle) != before else (middle, high)
            changes.append(Change(high, before, after))
        before, place = after, ahead
    return first, changes


@dataclass(frozen=True)
class Instants:
    """Instants (UTC) of clock times, and what was met on the way, by place."""

    at: Column
    never: Column  # places of times that do not exist
    twice: tuple[Change, ...]  # changes within which times came twice in order
    once: tuple[Change, ...]  # changes within which times came once only: taken for the first time round


def instants_of(local: Column, zone: tzinfo) -> Instants:
    """Instants of clock times (seconds since the beginning of 1970 on that clock), given in the order they were written."""
    import numpy as np

    if not len(local):
        return Instants(local, np.empty(0, np.int64), (), ())
    margin = 2 * DAY_SECONDS
    first, changes = changes_of(zone, int(local.min()) - margin, int(local.max()) + margin)
    offset = np.full(len(local), first, np.int64)
    never = np.zeros(len(local), bool)
    twice: list[Change] = []
    once: list[Change] = []
    for change in changes:
        begin, end = change.span
        offset[local >= (end if change.comes_twice else begin)] = change.after
        inside = np.flatnonzero((local >= begin) & (local < end))
        if not len(inside):
            continue
        if not change.comes_twice:
            never[inside] = True
            continue
        second = _second_round(local, inside, end - begin)
        offset[inside] = np.where(second, change.after, change.before)
        (twice if second.any() else once).append(change)
    return Instants(local - offset, np.flatnonzero(never), tuple(twice), tuple(once))


def _second_round(local: Column, inside: Column, length: int) -> Column:
    """Which of the times within an hour that comes twice are of the second round: those after the clock went back."""
    import numpy as np

    times = local[inside]
    back = np.diff(times, prepend=times[0]) < 0
    steps = np.diff(local)
    if len(steps) and np.median(steps) >= length:  # one time each round: the same time again is the second
        back |= np.concatenate([[False], np.diff(times) == 0])
    return np.cumsum(back) > 0
