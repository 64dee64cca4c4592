"""What a spell of warmth or frost cost the wood of a store, in days of keeping. Imported where it is needed."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from uuid import UUID

import numpy as np

from service.science.hazards import Fruit
from service.science.keeping_time import MOST_DAYS
from service.storage.rules.doses import StoreRun
from service.storage.rules.keeping import Lay, Left, Wood, ageing_of, group_of, hours_left, walk
from service.storage.rules.learned import AgeingKnown
from service.storage.rules.store_sums import base_doses

_STORE = UUID(int=0)
# With fewer hours than these outside of the spell nothing says what it would have been without. Judgement.
LEAST_OTHER_HOURS = 24
LEAST_TOLD_DAYS = 0.5


@dataclass(frozen=True)
class Cost:
    """Days of keeping that a spell cost wood of a group that lay there all the while; `more`: at least so many.

    `low`, `high`: if it ages slower or faster than expected, four times in five within; infinite: it would have kept beyond
    what is reckoned; none: not told.
    """

    group: str
    days: float
    more: bool = False
    low: float | None = None
    high: float | None = None


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
        before, after = (
            hours_left(each, without.week, ageing_of(each, learned)) for each in (without, with_it)
        )
        days, more = _at_least(before.central, after.central)
        found.append(Cost(name, days, more, *_ends(before, after, days)))
    return found


def _at_least(before: float | None, after: float | None) -> tuple[float, bool]:
    """Days lost, and whether it may be more: none is over two years."""
    if after is None:
        return 0.0, False
    days = ((MOST_DAYS * 24 if before is None else before) - after) / 24
    return max(0.0, days), before is None or after == 0


def _ends(before: Left, after: Left, days: float) -> tuple[float | None, float | None]:
    """None where such wood was past its end already by the end of the run: then it cost at least something, and no more is known."""
    if 0 in (after.low, after.high):
        return None, None
    sides = [_at_least(before.low, after.low), _at_least(before.high, after.high)]
    return min(days, *(one for one, _ in sides)), math.inf if any(more for _, more in sides) else max(
        days, *(one for one, _ in sides)
    )


def cost_words(costs: Iterable[Cost]) -> str:
    """`Reckoned for wood that lay there: it cost apple about 24 days of keeping (18 to 33).`"""
    costs = list(costs)
    if len(costs) > 1 and not any(one.more or one.days >= LEAST_TOLD_DAYS for one in costs):
        return "Reckoned for wood that lay there: it cost less than a day of keeping."
    told = [f"{plain(one.group)} {_days(one)}{_range(one)}" for one in costs]
    return f"Reckoned for wood that lay there: it cost {'; '.join(told)}." if told else ""


def plain(group: str) -> str:
    first, _, rest = group.partition("_")
    return f"{first} ({rest.replace('_', ' ')})" if rest else first


def _days(one: Cost) -> str:
    if one.days < LEAST_TOLD_DAYS and not one.more:
        return "less than a day of keeping"
    whole = round(one.days)
    return f"{'at least' if one.more else 'about'} {whole} {'day' if whole == 1 else 'days'} of keeping"


def _range(one: Cost) -> str:
    if one.more or one.low is None or one.high is None:
        return ""
    low, high = round(one.low), one.high if math.isinf(one.high) else round(one.high)
    if math.isinf(high):
        return f" ({low} or more)"
    if one.days < 0.5:
        return f" (up to {high})" if high > 1 else ""
    return f" ({low} to {high})" if low < high else ""
