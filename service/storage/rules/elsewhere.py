"""How long a bundle would keep in another store, and why it is not to be put there. Imported where it is needed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from service.lib.readings import Column
from service.lib.temperatures import signed
from service.science.groups import Group
from service.science.hazards import Fruit, cold_warning
from service.science.hours import A_WEEK
from service.science.keeping_time import MOST_DAYS, rounded_days
from service.storage.rules.doses import Basis
from service.storage.rules.keeping import Left, Walked, Wood, ageing_of, hours_left, traits_beside, week_in
from service.storage.rules.remembered import Counts
from service.storage.rules.resting import ahead_of
from service.storage.rules.store_sums import DRYING, MIDDLE, WARM, BaseDoses

# Where the reference names no lowest temperature of a group: none below freezing is proposed. Judgement.
LEAST_C = 0.0


@dataclass(frozen=True)
class LastWeek:
    """A store's last week: mean, lowest and highest [°C], how its hours are known, by their number, and frost kept in mind."""

    mean_c: float
    low_c: float
    high_c: float
    hours: Mapping[str, int]
    damp: int
    frosts: tuple[tuple[Counts, float], ...] = ()

    @property
    def how(self) -> str:
        """How most of its hours are known."""
        return max(self.hours, key=lambda name: self.hours[name])


@dataclass(frozen=True)
class Elsewhere:
    """One store: how long the bundle would keep there from now on, and what that rests on."""

    left: Left
    week: LastWeek


@dataclass(frozen=True)
class Gained:
    """Days more than where it lies (fewer: below nothing), central and at both ends, rounded; `more`: at least so many."""

    days: int
    low: int
    high: int
    more: bool = False


def elsewhere(
    found: Walked,
    wood: Wood,
    group: Group,
    base: BaseDoses,
    fruit: Fruit,
    learned: tuple[float, float] | None,
) -> Elsewhere:
    """From how the bundle stands now, if the store's last week goes on repeating. `base`: of that week."""
    now = base.first_hour + base.temp_c.shape[1]
    week = last_week(base)
    loose = week.hours["by hand"] + week.hours["nominal"] + week.hours["assumed"]
    hours = {**found.hours, "assumed": found.hours.get("assumed", 0) + loose}
    coldest = np.minimum(found.doses.coldest_c, _coldest(base))
    ahead = ahead_of(found.traits, found.needs_cp, found.doses.chill, base.last_week(now))
    moved = replace(found, hours=hours, doses=replace(found.doses, coldest_c=coldest), ahead=ahead)
    ahead_in = week_in(traits_beside(wood, group, fruit, found.packed), base, now)
    if found.is_in_pack and found.week is not None:
        ahead_in[DRYING] = found.week[
            DRYING
        ]  # its pack goes along: how damp it is in there is no matter of the store
    return Elsewhere(hours_left(moved, ahead_in, ageing_of(moved, learned)), week)


def last_week(base: BaseDoses) -> LastWeek:
    temp, known = base.temp_c[0, -A_WEEK:], base.known[-A_WEEK:]
    hours = {
        "measured": int((known <= Basis.NEIGHBOURS).sum()),
        "by hand": int((known == Basis.BY_HAND).sum()),
        "nominal": int((known == Basis.NOMINAL).sum()),
        "assumed": int((known == Basis.ASSUMED).sum()),
    }
    return LastWeek(
        float(temp.mean()),
        float(temp.min()),
        float(temp.max()),
        hours,
        int(base.damp[-A_WEEK:].sum()),
        frosts_of(base),
    )


def frosts_of(base: BaseDoses) -> tuple[tuple[Counts, float], ...]:
    """Frost that a thermometer of the store kept in mind, read in the last week, as it would count for wood there all week."""
    now = base.first_hour + base.temp_c.shape[1]
    week = (now - A_WEEK, now)
    told = ((one.counts(week, week, base.known, base.first_hour), one.lowest_c) for one in base.frosts)
    return tuple((counts, lowest) for counts, lowest in told if counts is not None)


def _coldest(base: BaseDoses) -> Column:
    """Of what was measured, and of a thermometer's memory: what was assumed says nothing of a single hour."""
    told = base.temp_c[0, -A_WEEK:][base.known[-A_WEEK:] <= Basis.NEIGHBOURS]
    coldest = np.full(3, told.min(initial=np.inf))
    for counts, lowest in frosts_of(base):
        ways = [MIDDLE, WARM] if counts is Counts.WHOLE else [WARM]
        coldest[ways] = np.minimum(coldest[ways], lowest)
    return coldest


def why_not_there(base: BaseDoses, kind: str, least_c: float | None, plain_group: str) -> str:
    """Why no wood of a group is to be put there, by what was measured or read of its last week; empty: it may be.

    Never below what the group is stored at, and never below freezing in a household fridge, whose cold corner is colder
    than its thermometer.
    """
    kept = min((lowest for counts, lowest in frosts_of(base) if counts is not Counts.UNKNOWN), default=None)
    if kept is not None and kept < (0.0 if kind == "fridge" or least_c is None else least_c):
        return (
            f"Its thermometer, read in the last week, had kept {signed(kept)} °C in mind: wood of {plain_group} is not to be put where "
            "it may have been so cold."
        )
    told = base.known[-A_WEEK:] <= Basis.BY_HAND
    temp = base.temp_c[0, -A_WEEK:][told]
    frozen = cold_warning(temp, 0.0) if kind == "fridge" else None
    if frozen is not None:
        return f"It was down to {signed(frozen.lowest_c)} °C in the last week: no fridge of a household is to be below 0 °C."
    least = LEAST_C if least_c is None else least_c
    cold = cold_warning(temp, least)
    if cold is None:
        return ""
    return (
        f"It was down to {signed(cold.lowest_c)} °C in the last week, for {cold.hours} {'hour' if cold.hours == 1 else 'hours'} below "
        f"the {signed(least)} °C at which wood of {plain_group} is stored at the least."
    )


def gained(here: Left, there: Left) -> Gained:
    """Both ends against the same ends: what makes wood age faster here does so there."""
    days = [(_hours(there, end) - _hours(here, end)) / 24 for end in ("central", "low", "high")]
    central, low, high = (_rounded(each) for each in (days[0], min(days), max(days)))
    return Gained(central, low, high, there.central is None and here.central is not None)


def _rounded(days: float) -> int:
    return rounded_days(days) if days >= 0 else -rounded_days(-days)


def _hours(left: Left, end: str) -> float:
    told = getattr(left, end)
    return MOST_DAYS * 24 if told is None else float(told)
