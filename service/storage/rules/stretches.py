"""The ways of many bundles as columns: their lays, and the stretches these are cut into. See `keeping_many`."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

import numpy as np

from service.lib.readings import Column
from service.science.groups import Group
from service.science.hours import A_WEEK
from service.storage.rules.keeping import Lay, Looked, Wood


@dataclass(frozen=True)
class Asked:
    """What the reckoning of a bundle starts from."""

    wood: Wood
    group: Group
    lays: Sequence[Lay]
    looked: Sequence[Looked]

    @property
    def is_gapless(self) -> bool:
        """Whether its lays follow one another, each with an hour at least."""
        return (
            bool(self.lays)
            and all(lay.end > lay.begin for lay in self.lays)
            and all(one.end == other.begin for one, other in itertools.pairwise(self.lays))
        )

    @property
    def hours(self) -> int:
        return self.lays[-1].end - self.lays[0].begin

    @property
    def marks(self) -> set[int]:
        """Hours at which something was seen, and those that a weighed loss counts from."""
        return {hour for one in self.looked for hour in (one.hour, one.weighed_from) if hour is not None}


class LaysOfAll:
    """One bundle's lays after the other's."""

    def __init__(self, asked: Sequence[Asked]) -> None:
        told = [(n, lay) for n, one in enumerate(asked) for lay in one.lays]
        self.each = [lay for _, lay in told]
        self.bundle = np.array([n for n, _ in told])
        self.begin = np.array([lay.begin for lay in self.each])
        self.end = np.array([lay.end for lay in self.each])
        self.stores: list[UUID] = list(dict.fromkeys(lay.store_id for lay in self.each if lay.store_id))
        number: dict[UUID | None, int] = {None: -1, **{one: n for n, one in enumerate(self.stores)}}
        self.store = np.array([number[lay.store_id] for lay in self.each])  # -1: in none
        stored: Column = np.cumsum(self.store >= 0) - (self.store >= 0)
        first = np.searchsorted(self.bundle, self.bundle, "left")
        self.was_stored: Column = stored > stored[first]

    def hours_out(self) -> Column:
        """Of each, for how long it had been in no store without a break when it ended."""
        out = self.store < 0
        goes_on = out[1:] & out[:-1] & (self.bundle[1:] == self.bundle[:-1])
        starts = np.where(np.append(True, ~goes_on), np.arange(len(out)), 0)  # lays follow one another
        return np.where(out, self.end - self.begin[np.maximum.accumulate(starts)], 0)


class Stretches:
    """One bundle's after the other's: cut at its lays, where each week since its cutting begins, and where something was seen."""

    def __init__(self, asked: Sequence[Asked], lays: LaysOfAll) -> None:
        self.first = np.array([one.lays[0].begin for one in asked])
        self.last = np.array([one.lays[-1].end for one in asked])
        # What begins with the last hour of all is told of, and is no stretch.
        self.weeks = (self.last - self.first) // A_WEEK + 1
        self.weeks_at = np.cumsum(self.weeks) - self.weeks
        week_of = np.repeat(np.arange(len(asked)), self.weeks)
        week = np.arange(len(week_of)) - self.weeks_at[week_of]
        marks = [(n, hour) for n, one in enumerate(asked) if one.looked for hour in one.marks]
        mark_of, mark_at = (np.array([each[place] for each in marks], np.int64) for place in (0, 1))
        bundle = np.concatenate([lays.bundle, week_of, mark_of])
        hour = np.concatenate([lays.begin, self.first[week_of] + A_WEEK * week, mark_at])
        inside = (hour >= self.first[bundle]) & (hour < self.last[bundle])
        earliest = int(self.first.min())
        span = int(self.last.max()) - earliest
        keys = np.unique(bundle[inside] * span + hour[inside] - earliest)
        self.bundle, self.begin = keys // span, keys % span + earliest
        self.lay = np.searchsorted(lays.bundle * span + lays.begin - earliest, keys, "right") - 1
        self.count = np.bincount(self.bundle, minlength=len(asked))
        self.at = np.cumsum(self.count) - self.count
        self.end = np.append(self.begin[1:], 0)
        self.end[self.at + self.count - 1] = self.last
        since = self.begin - self.first[self.bundle]
        self.week = np.where(since % A_WEEK == 0, since // A_WEEK, -1)  # -1: none begins with it

    def number(self, bundle: int, hour: int) -> int:
        """The stretch of a bundle that begins with an hour, or in which that lies."""
        at, count = int(self.at[bundle]), int(self.count[bundle])
        return at + int(np.searchsorted(self.begin[at : at + count], hour, "right")) - 1


def stretch_sums(base: Column, first: Column, last: Column) -> Column:
    """Of sums from the first hour on (any axes, hours last), what each stretch adds."""
    return np.asarray(base[..., last] - base[..., first])
