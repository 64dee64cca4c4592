"""What a spell of warmth or frost cost the wood of a store, in days of keeping. Imported where it is needed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from uuid import UUID

import numpy as np

from service.science.hazards import Fruit
from service.science.keeping_time import MOST_DAYS
from service.storage.rules.doses import StoreRun
from service.storage.rules.keeping import Lay, Wood, ageing_of, group_of, hours_left, walk
from service.storage.rules.learned import AgeingKnown
from service.storage.rules.store_sums import base_doses

_STORE = UUID(int=0)
# With fewer hours than these outside of the spell nothing says what it would have been without. Judgement.
LEAST_OTHER_HOURS = 24
LEAST_TOLD_DAYS = 0.5


@dataclass(frozen=True)
class Cost:
    """Days of keeping that a spell cost wood of a group that lay there all the while; `more`: at least so many."""

    group: str
    days: float
    more: bool = False


def costs_of(
    run: StoreRun, begin: int, end: int, groups: Iterable[str], known: AgeingKnown | None = None
) -> list[Cost]:
    """Of each group: how long it keeps without the spell less how long with it, from the first hour of the run on.

    `begin`, `end`: the hours of the spell. Without it its hours count as the median of the others; in both cases the last
    week without it goes on. `known`: what takes taught; none: nothing yet.
    """
    out = np.zeros(len(run.temp_c), bool)
    out[max(0, begin - run.first_hour) : max(0, end - run.first_hour)] = True
    if not out.any() or (~out).sum() < LEAST_OTHER_HOURS:
        return []
    usual = replace(run, temp_c=np.where(out, np.median(run.temp_c[~out]), run.temp_c))
    now = run.first_hour + len(run.temp_c)
    lay = [Lay(_STORE, run.first_hour, now, Fruit.NONE)]
    bases = [{_STORE: base_doses(each)} for each in (usual, run)]
    found = []
    for name in groups:
        group = group_of(name)
        if group is None:
            continue
        without, with_it = (
            walk(Wood(_STORE, name, True, run.first_hour), group, lay, [], base) for base in bases
        )
        assert without.week is not None
        learned = known.of(name) if known else None
        left = [
            hours_left(each, without.week, ageing_of(each, learned)).central for each in (without, with_it)
        ]
        if left[1] is None:
            found.append(Cost(name, 0.0))
            continue
        days = ((MOST_DAYS * 24 if left[0] is None else left[0]) - left[1]) / 24
        found.append(Cost(name, max(0.0, days), left[0] is None or left[1] == 0))
    return found


def cost_words(costs: Iterable[Cost]) -> str:
    """`Reckoned for wood that lay there: it cost apple 24 days of keeping; cherry (sweet) 9 days of keeping.`"""
    costs = list(costs)
    if len(costs) > 1 and not any(one.more or one.days >= LEAST_TOLD_DAYS for one in costs):
        return f"Reckoned for wood that lay there: it cost {_days(0)}."
    told = [f"{plain(one.group)} {'at least ' if one.more else ''}{_days(one.days)}" for one in costs]
    return f"Reckoned for wood that lay there: it cost {'; '.join(told)}." if told else ""


def plain(group: str) -> str:
    first, _, rest = group.partition("_")
    return f"{first} ({rest.replace('_', ' ')})" if rest else first


def _days(days: float) -> str:
    if days < LEAST_TOLD_DAYS:
        return "less than a day of keeping"
    whole = round(days)
    return f"{whole} {'day' if whole == 1 else 'days'} of keeping"
