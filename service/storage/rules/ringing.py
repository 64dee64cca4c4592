"""What of freezing and heat rings anew: from loggers' records, from dials, each event once for as long as it lasts,
and again for wood that came in meanwhile.

The limits are those of `excursions`: they are judgement, in the four-part form of the WHO's monitors (Step-by-step
interpretation of 10-day electronic temperature monitoring devices, 2007-2009). A dial knows no hours, so it rings without
their delay: at or below the limit for freezing; with heat at the limit or more now, 10 °C where the store has no other, or at
the high one or more, 15 °C, since its reset (judgement).
What its memory said before, and was not reset, is no news.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from uuid import UUID

from service.lib.whole_times import second_of
from service.storage.rules.excursions import (
    COLD_BACK_C,
    FREEZING_BACK_C,
    HEAT_BACK_C,
    SAME_EXCURSION_SECONDS,
    WARM_BACK_C,
    Alarm,
    AlarmKind,
    RingsBy,
)


@dataclass(frozen=True)
class DialAt:
    """A dial as it was read, in °C; None: not told."""

    at: datetime
    now_c: float | None
    lowest_c: float | None
    highest_c: float | None
    reset_done: bool = False
    place_id: UUID | None = None


@dataclass
class _Side:
    """One dial followed through time on one side: cold as it is, or heat with its sign turned, so that less is worse."""

    kind: AlarmKind
    now_limit: float
    memory_limit: float
    back_c: float
    found: list[Alarm] = field(default_factory=list)
    memory: float | None = None  # what it said before, where it was not reset since
    since: int | None = None  # when it last told its memory, or was reset

    @property
    def sign(self) -> int:
        return 1 if self.kind is AlarmKind.FREEZING else -1

    def read(self, dial: DialAt) -> None:
        at = second_of(dial.at)
        now, told = (
            None if value is None else value * self.sign
            for value in (dial.now_c, dial.lowest_c if self.sign > 0 else dial.highest_c)
        )
        news = told is not None and told <= self.memory_limit and (self.memory is None or told < self.memory)
        out = now is not None and now <= self.now_limit
        if news or out:
            worst = min(value for value in (told if news else None, now) if value is not None)
            began = self.since if news and self.since is not None else at
            self._goes_on(at, began, worst, remembered=not out)
        if self._is_back(now, told):
            self._close(at)
        if dial.reset_done:
            self.memory, self.since = None, at
        elif told is not None:
            self.memory, self.since = told, at

    def _goes_on(self, at: int, began: int, worst: float, *, remembered: bool) -> None:
        last = self.found[-1] if self.found else None
        if last is not None and (last.ended is None or began - last.last < SAME_EXCURSION_SECONDS):
            extreme = min(last.extreme_c * self.sign, worst) * self.sign
            self.found[-1] = replace(
                last, extreme_c=extreme, last=at, ended=None, remembered=last.remembered and remembered
            )
            return
        extreme = worst * self.sign
        self.found.append(
            Alarm(self.kind, began, at, None, extreme, 0.0, at, by_hand=True, remembered=remembered)
        )

    def _is_back(self, now: float | None, told: float | None) -> bool:
        if now is not None:
            return now > self.now_limit + self.back_c
        # Without a number for now: all that it saw since its reset was well within.
        return told is not None and self.memory is None and told > self.now_limit + self.back_c

    def _close(self, at: int) -> None:
        if self.found and self.found[-1].ended is None:
            self.found[-1] = replace(self.found[-1], ended=at, last=at)


def dial_alarms(dials: Iterable[DialAt], by: RingsBy) -> list[Alarm]:
    """The events that thermometers read by hand tell of, each place's thermometer by itself, in order."""

    def sides() -> list[_Side]:
        heat = _Side(AlarmKind.HEAT, -by.heat.limit_c, -by.heat.high_c, HEAT_BACK_C)
        cold = by.freezing_c
        return [heat] if cold is None else [heat, _Side(AlarmKind.FREEZING, cold, cold, FREEZING_BACK_C)]

    return _read_dials(dials, sides)


def dial_cold(dials: Iterable[DialAt], cold_c: float) -> list[Alarm]:
    """Where they tell of colder than the wood likes; it rings nobody."""
    limit_c = cold_c - 1e-9
    return _read_dials(dials, lambda: [_Side(AlarmKind.FREEZING, limit_c, limit_c, COLD_BACK_C)])


def dial_warm(dials: Iterable[DialAt], limit_c: float) -> list[Alarm]:
    """Where they show warmer than a kind is kept, now: what their memory tells may have been by an open door."""
    return _read_dials(dials, lambda: [_Side(AlarmKind.HEAT, -limit_c - 1e-9, -math.inf, WARM_BACK_C)])


def _read_dials(dials: Iterable[DialAt], sides: Callable[[], Iterable[_Side]]) -> list[Alarm]:
    found: list[Alarm] = []
    places: dict[UUID | None, list[DialAt]] = {}
    for dial in sorted(dials, key=lambda one: one.at):
        places.setdefault(dial.place_id, []).append(dial)
    for readings in places.values():
        for side in sides():
            for dial in readings:
                side.read(dial)
            found += side.found
    return sorted(found, key=lambda alarm: (alarm.began, alarm.kind))


# -- once for each event -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Rung:
    """An event that stands in the record, and when it was last told at once, if it was."""

    id: UUID
    kind: AlarmKind
    began: int
    last: int
    told_at: datetime | None
    recorded: datetime
    limit_c: float | None = None  # what it rang by

    def is_told_of(self, alarm: Alarm, wood_since: Iterable[datetime], limit_c: float | None) -> bool:
        """Whether what it goes on as, beyond what the wood of today bears, was told already.

        It is news where wood came in after the telling and it lasted on; and where only hardier wood is left than it rang by, and
        by now it is beyond what that bears too. `wood_since`: from when on what lies there now lay there without a break.
        """
        if self.told_at is None:
            return False
        told = second_of(self.told_at)
        if any(told < second_of(since) < alarm.last for since in wood_since if since > self.told_at):
            return False
        hardier = False
        if self.kind is AlarmKind.FREEZING and self.limit_c is not None and limit_c is not None:
            hardier = limit_c < self.limit_c
        return not (hardier and told < alarm.last)


@dataclass(frozen=True)
class RingPlan:
    """What becomes of the record: events that are new, those that go on, those that are gone.

    `stands`: those that go on only beyond what they rang by, and not beyond what the wood of today bears: they call nobody.
    """

    new: tuple[Alarm, ...] = ()
    goes_on: tuple[tuple[Rung, Alarm], ...] = ()
    stands: tuple[tuple[Rung, Alarm], ...] = ()
    gone: tuple[Rung, ...] = ()


def join_alarms(alarms: Iterable[Alarm]) -> list[Alarm]:
    """What several instruments of one store tell of one event, as one."""
    joined: list[Alarm] = []
    for alarm in sorted(alarms, key=lambda one: (one.kind, one.began)):
        before = joined[-1] if joined else None
        if before is None or before.kind is not alarm.kind or not _near(before, alarm):
            joined.append(alarm)
            continue
        worst = min if alarm.kind is AlarmKind.FREEZING else max
        ended = None if None in (before.ended, alarm.ended) else max(before.ended or 0, alarm.ended or 0)
        joined[-1] = Alarm(
            alarm.kind, before.began, min(before.rang, alarm.rang), ended, worst(before.extreme_c, alarm.extreme_c),
            max(before.hours, alarm.hours), max(before.last, alarm.last), by_hand=before.by_hand and alarm.by_hand,
            remembered=before.remembered and alarm.remembered,
        )  # fmt: skip
    return joined


def _near(one: Alarm | Rung, other: Alarm | Rung) -> bool:
    first, second = sorted((one, other), key=lambda each: each.began)
    return second.began - first.last < SAME_EXCURSION_SECONDS


def plan_rings(
    known: Sequence[Rung], found: Iterable[Alarm], *, looked_from: int, seen: datetime,
    at_limits: Mapping[float, Sequence[Alarm]] | None = None,
) -> RingPlan:  # fmt: skip
    """Compare what was found with what stands. An event is known by its kind and its time, whatever measured it.

    What was found is beyond what the wood of today bears; `at_limits` is what lies beyond the limits that events rang by. Where
    the wood left, the event stays for as long as its readings show it so. `looked_from` is where the look at the record began,
    `seen` when it was taken: what began before the one, or was recorded after the other, is not taken for gone.
    """
    left = list(known)
    new, goes_on, stands = [], [], []
    for alarm in join_alarms(found):
        mine = [rung for rung in left if rung.kind is alarm.kind and _near(rung, alarm)]
        if not mine:
            new.append(alarm)
            continue
        first = min(mine, key=lambda rung: (rung.told_at is None, rung.began))
        goes_on.append((first, alarm))
        left = [rung for rung in left if rung not in mine]
    for rung in list(left):
        beyond = at_limits.get(rung.limit_c, ()) if at_limits and rung.limit_c is not None else ()
        still = [one for one in join_alarms(beyond) if one.kind is rung.kind and _near(rung, one)]
        if still:
            stands.append((rung, still[0]))
            left.remove(rung)
    gone = [rung for rung in left if rung.began > looked_from and rung.recorded <= seen]
    return RingPlan(tuple(new), tuple(goes_on), tuple(stands), tuple(gone))
