"""Temperatures that wood should not have: how long and how far, and which of them ring at once.

An alarm has four parts, as for stores of vaccines (WHO, Step-by-step interpretation of 10-day electronic temperature
monitoring devices, 2007-2009): a limit, a direction, single or cumulative, and a delay; the limit itself counts as beyond.
The standing limits for scionwood are judgement: alarm at 10 °C or more for 10 hours in 7 days, or at 15 °C or more for
2 hours on end; alarm at or below 3 degrees above the temperature that kills a tenth of the buds, for 1 hour. A store may
have its own (`own_limits`). Warmer or colder than a kind of the wood is kept is told and rings nobody (`beyond`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from service.lib.readings import DAY_SECONDS, HOUR_SECONDS, Column
from service.storage.rules.runs import Run, runs_beyond, seconds_of

HOT_C, HOT_HOURS, HOT_DAYS = 10.0, 10, 7
VERY_HOT_C, VERY_HOT_HOURS = 15.0, 2
FREEZING_ABOVE_KILL10_C, FREEZING_HOURS = 3.0, 1
# Back by so much, it is over; what begins again within a day is the same excursion. Judgement.
HEAT_BACK_C, FREEZING_BACK_C = 2.0, 1.0
# Colder than it likes: single, an hour on end; the least that a kind is kept at is itself good. Judgement.
COLD_HOURS, COLD_BACK_C = 1, 0.0
# Warmer than it likes: above the most that a kind is kept at, for so many hours within 7 days; it is over when it is no more.
WARM_HOURS, WARM_BACK_C = 10, 0.0
SAME_EXCURSION_SECONDS = DAY_SECONDS
# What ended longer ago is told in the weekly letter and rings nobody out of bed. Judgement.
RINGS_WITHIN_SECONDS = DAY_SECONDS
ALARM_MARK = "judgement, in the four-part form of the WHO's monitors"


class AlarmKind(StrEnum):
    FREEZING = "freezing"
    HEAT = "heat"


@dataclass(frozen=True)
class HeatLimits:
    """When heat rings: at a limit or more for so many hours within a week, or at a higher one for so many on end."""

    limit_c: float = HOT_C
    hours: float = HOT_HOURS
    high_c: float = VERY_HOT_C
    high_hours: float = VERY_HOT_HOURS


STANDING_HEAT = HeatLimits()


@dataclass(frozen=True)
class RingsBy:
    """What rings: freezing at or below a limit, where one is known, for so many hours on end; heat."""

    freezing_c: float | None
    freezing_hours: float = FREEZING_HOURS
    heat: HeatLimits = STANDING_HEAT


@dataclass(frozen=True)
class StoreOwn:
    """The limits that somebody set for one store; None: the standing one."""

    heat_c: float | None = None
    heat_hours: float | None = None
    high_c: float | None = None
    high_hours: float | None = None
    freezing_c: float | None = None
    freezing_minutes: int | None = None
    cold_c: float | None = None
    warm_c: float | None = None
    warm_hours: float | None = None

    @property
    def heat(self) -> HeatLimits:
        told = (self.heat_c, self.heat_hours, self.high_c, self.high_hours)
        stands = (HOT_C, HOT_HOURS, VERY_HOT_C, VERY_HOT_HOURS)
        return HeatLimits(*(a if one is None else one for one, a in zip(told, stands, strict=True)))

    @property
    def freezing_hours(self) -> float:
        return FREEZING_HOURS if self.freezing_minutes is None else self.freezing_minutes / 60


NOTHING_OWN = StoreOwn()


@dataclass(frozen=True)
class Band:
    """What is good for one group of species, with how it is known."""

    group: str
    low_c: float
    high_c: float
    mark: str = ""
    source: str = ""


@dataclass(frozen=True)
class StoreLimits:
    """What the wood in a store bears: the band of good storage, and where freezing rings; each with how it is known."""

    low_c: float
    high_c: float
    freezing_c: float | None
    groups: tuple[str, ...] = ()
    mark: str = ""
    source: str = ""
    freezing_mark: str = ""
    humidity_min_pct: float | None = None  # inside the pack
    humidity_mark: str = ""
    kill10_c: float | None = None  # kills a tenth of the buds of the tenderest wood here, where known
    kill10_mark: str = ""
    kill10_source: str = ""
    tenderest: str = ""
    bands: tuple[Band, ...] = ()  # of each group that lies here
    own: StoreOwn = NOTHING_OWN
    keeps_c: float = -math.inf  # what such a store is usually as warm as: below it no warmth is told
    bundles: int = 0  # that lie here …
    not_known: int = 0  # … and of which nothing is known

    @property
    def not_known_words(self) -> str:
        """Of wood that lies beside known wood: what the limits leave out; empty: nothing."""
        if not self.not_known or not self.bands:
            return ""
        are = "bundle nothing is known" if self.bundles == 1 else "bundles nothing is known"
        return f"of {self.not_known} of {self.bundles} {are}: what they bear is not among these limits"

    @property
    def rings_by(self) -> RingsBy:
        return RingsBy(self.freezing_c, self.own.freezing_hours, self.own.heat)

    @property
    def cold_c(self) -> float:
        """Colder than this is told: the store's own, or the least that the kind here is kept at that wants it warmest."""
        if self.own.cold_c is not None:
            return self.own.cold_c
        return max((band.low_c for band in self.bands), default=self.low_c)

    @property
    def warm_c(self) -> float:
        """Warmer than this is told: the store's own, or the most of the kind here that wants it coldest, or what such a store keeps."""
        if self.own.warm_c is not None:
            return self.own.warm_c
        return min((max(band.high_c, self.keeps_c) for band in self.bands), default=self.high_c)

    @property
    def warm_hours(self) -> float:
        return WARM_HOURS if self.own.warm_hours is None else self.own.warm_hours

    @property
    def in_general(self) -> bool:
        """Whether the band is that of scions in general, and not of the kinds here, which want different cold."""
        return bool(self.bands) and not self.groups

    @property
    def agree(self) -> bool:
        """Whether there is a temperature that is good for all of it."""
        return self.low_c <= self.high_c


# For fruit and nut scions in general: 32-40 °F, not frozen.
ANY_SCIONS = StoreLimits(
    0.0, 4.4, None, (), "published",
    "Auer, Grafting Fruit and Nut Trees (GC-310/311), Galveston County (Texas) extension handout: fruit and nut scions",
)  # fmt: skip


# Wood of which no group is known is taken to be as tender as the tenderest that drops its leaves: fig and kiwi, of which a tenth
# of the buds is killed at -5 °C. Judgement, as that figure is.
TENDEREST_KILL10_C = -5.0
UNKNOWN_WOOD = replace(
    ANY_SCIONS, freezing_c=TENDEREST_KILL10_C + FREEZING_ABOVE_KILL10_C, kill10_c=TENDEREST_KILL10_C, tenderest="fig and kiwi",
    kill10_mark="judgement, as of the tenderest that drop their leaves: of the wood here nothing is known",
    freezing_mark=f"{ALARM_MARK}; of this wood nothing is known, so as for fig and kiwi, the tenderest that drop their leaves, judgement",
)  # fmt: skip


@dataclass(frozen=True)
class GroupLimit:
    """What is known of one group of species."""

    group: str
    low_c: float
    high_c: float
    mark: str
    source: str
    kill10_c: float
    freeze_mark: str
    keep_weeks_min: int
    keep_weeks_max: int
    keep_mark: str
    keep_source: str
    humidity_min_pct: float | None = None
    humidity_mark: str = ""
    freeze_source: str = ""


def limits_for(groups: Iterable[GroupLimit]) -> StoreLimits:
    """The band that is good for every group: from the highest of the lower limits to the lowest of the upper ones."""
    told = sorted(groups, key=lambda one: one.group)
    if not told:
        return ANY_SCIONS
    low, high = max(told, key=lambda one: one.low_c), min(told, key=lambda one: one.high_c)
    tender = max(told, key=lambda one: one.kill10_c)
    marks = dict.fromkeys(f"{one.mark} ({plain_group(one.group)})" for one in (low, high))
    damp = max(told, key=lambda one: one.humidity_min_pct or 0)
    return StoreLimits(
        low.low_c, high.high_c, tender.kill10_c + FREEZING_ABOVE_KILL10_C, tuple(one.group for one in told),
        "; ".join(marks), "; ".join(dict.fromkeys(one.source for one in (low, high) if one.source)),
        f"{ALARM_MARK}; {plain_group(tender.group)}: a tenth of the buds killed at {tender.kill10_c:g} °C, {tender.freeze_mark}",
        damp.humidity_min_pct, damp.humidity_mark,
        tender.kill10_c, tender.freeze_mark, tender.freeze_source, group_words(tender.group),
        tuple(Band(one.group, one.low_c, one.high_c, one.mark, one.source) for one in told),
    )  # fmt: skip


def plain_group(group: str) -> str:
    """`pear_european` as people read it: `pear, european`."""
    first, _, rest = group.partition("_")
    return f"{first}, {rest.replace('_', ' ')}" if rest else first


def group_words(group: str) -> str:
    """`pear_european` within a sentence: `European pear`."""
    first, _, rest = group.partition("_")
    return f"{_OF_A_LAND.get(rest, rest.replace('_', ' '))} {first}".strip()


_OF_A_LAND = {"european": "European", "asian": "Asian", "japanese": "Japanese"}


# -- how long beyond a limit -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Excursion:
    """One stretch outside the band of good storage, for a picture and a list."""

    begin: int
    end: int
    ended: bool
    hours: float
    extreme_c: float
    above: bool


def excursions(at: Column, temp_c: Column, limits: StoreLimits, least_hours: float = 1.0) -> list[Excursion]:
    """Stretches above or below the band of good storage, in order; shorter ones than an hour are left out."""
    found = [
        Excursion(run.begin, run.end, run.ended, run.hours, run.extreme_c, above)
        for above, limit in ((True, limits.high_c + 1e-9), (False, limits.low_c - 1e-9))
        for run in runs_beyond(at, temp_c, limit, 0.0, above=above)
        if run.hours >= least_hours
    ]
    return sorted(found, key=lambda one: one.begin)


# -- what rings --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Alarm:
    """An excursion that rings: when it began, when it had lasted long enough to ring, and when it was over, if it is.

    `last` is when it is known to have lasted: until it was over, or until nothing more was measured.
    """

    kind: AlarmKind
    began: int
    rang: int
    ended: int | None
    extreme_c: float
    hours: float
    last: int
    by_hand: bool = False
    remembered: bool = False  # told by the memory of a dial alone: for how long, nobody knows

    def rings_at(self, now: int) -> bool:
        """Whether somebody should hear of it at once, and not with the next weekly letter.

        What was measured a month ago and sent today is a month old, also where the record ends in the midst of it.
        """
        return now - self.last <= RINGS_WITHIN_SECONDS


def find_alarms(at: Column, temp_c: Column, by: RingsBy) -> list[Alarm]:
    """The excursions in a record that ring, in order: each once, however it goes up and down meanwhile."""
    found = _heat(at, temp_c, by.heat)
    if by.freezing_c is not None:
        found += _below(at, temp_c, by.freezing_c, by.freezing_hours, FREEZING_BACK_C)
    return sorted(found, key=lambda alarm: (alarm.began, alarm.kind))


def find_cold(at: Column, temp_c: Column, cold_c: float) -> list[Alarm]:
    """Where it was colder than the wood likes for an hour on end: found as what rings, and rings nobody."""
    return _below(at, temp_c, cold_c - 1e-9, COLD_HOURS, COLD_BACK_C)


def find_warm(at: Column, temp_c: Column, limit_c: float, hours: float) -> list[Alarm]:
    """Where it was warmer than a kind is kept for so many hours within a week, added up: told, and rings nobody."""
    by = HeatLimits(limit_c + 1e-9, hours, math.inf, math.inf)
    return _heat(at, temp_c, by, WARM_BACK_C)


def _below(at: Column, temp_c: Column, limit_c: float, hours: float, back_c: float) -> list[Alarm]:
    alarms = []
    for runs in _same(runs_beyond(at, temp_c, limit_c, back_c, above=False)):
        rang = next((run.begin + int(hours * HOUR_SECONDS) for run in runs if run.hours >= hours), None)
        if rang is not None:
            alarms.append(_alarm(AlarmKind.FREEZING, runs, rang, min(run.extreme_c for run in runs)))
    return alarms


def _heat(at: Column, temp_c: Column, by: HeatLimits, back_c: float = HEAT_BACK_C) -> list[Alarm]:
    alarms: list[Alarm] = []
    since = None
    for runs in _same(runs_beyond(at, temp_c, by.limit_c, back_c, above=True)):
        rang = _rang(at, temp_c, runs, since, by)
        if rang is not None:
            alarms.append(_alarm(AlarmKind.HEAT, runs, rang, max(run.extreme_c for run in runs)))
            since = runs[-1].end  # what rang once does not make the next one ring
    return alarms


def _rang(at: Column, temp_c: Column, runs: Sequence[Run], since: int | None, by: HeatLimits) -> int | None:
    """The first moment at which a rule for heat was met within these runs."""
    import numpy as np

    begin, end = runs[0].begin, runs[-1].end
    moments = [
        run.begin + int(by.high_hours * HOUR_SECONDS)
        for run in runs_beyond(at, temp_c, by.high_c, 0.0, above=True)
        if run.hours >= by.high_hours and begin <= run.begin <= end
    ]
    hot = seconds_of(at) * (temp_c >= by.limit_c) * (at >= (since if since is not None else at[0]))
    total = np.cumsum(hot)
    before = np.searchsorted(at, at - HOT_DAYS * DAY_SECONDS)
    within = total - np.concatenate([[0], total])[before]
    met = np.flatnonzero((within >= by.hours * HOUR_SECONDS) & (at >= begin) & (at <= end))
    if len(met):
        moments.append(int(at[met[0]]))
    return min(moments, default=None)


def _same(runs: Sequence[Run]) -> list[list[Run]]:
    """Runs of one excursion together: what begins again within a day is the same."""
    groups: list[list[Run]] = []
    for run in runs:
        if groups and run.begin - groups[-1][-1].end < SAME_EXCURSION_SECONDS:
            groups[-1].append(run)
        else:
            groups.append([run])
    return groups


def _alarm(kind: AlarmKind, runs: Sequence[Run], rang: int, extreme_c: float) -> Alarm:
    last = runs[-1]
    ended, hours = last.end if last.ended else None, sum(run.hours for run in runs)
    return Alarm(kind, runs[0].begin, rang, ended, extreme_c, hours, last.end)
