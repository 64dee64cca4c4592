"""What a spell of warmth or frost cost the wood of a store, in days of keeping. Imported where it is needed.

A spell is priced from where it left what is good for the wood to where it came back, and not by the hours alone in which it rang.

How far a price may be out: how fast wood ages hardly matters, for what it loses and what it has left change alike. What does is
how much faster warmth drives buds, and uses up reserves, than cold. Of the forcing curve 1/(1+exp(-k(T-18.4))), T in °C, the
steepness k is varied between the two values at which a day at 1 °C counts for 1/16 and 1/12 of one at 20 °C: rose plants kept for
12 to 16 weeks at 0 to 2 °C broke bud 7 days sooner at 20 °C (Menoud, Mauget and Frossard 1991, Acta Hortic 298:237-245,
published; 7 days in 112 and in 84, derived). Of respiration Q10 is varied from 1.3 (beech stems at rest, Ceschia et al. 2002) to
2.8 (grape buds at rest, Gardea et al., Metabolic heat rates of breaking grape primary buds), both published.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from uuid import UUID

import numpy as np

from service.lib.readings import Column
from service.science.hazards import Fruit, Hazard
from service.science.hours import A_WEEK
from service.science.keeping_time import MOST_DAYS
from service.science.varied import FORCING_MIDDLE_C, FORCING_STEEP, Q10
from service.storage.rules.doses import Basis, StoreRun
from service.storage.rules.keeping import Lay, Left, Wood, ageing_of, group_of, hours_left, walk
from service.storage.rules.learned import AgeingKnown
from service.storage.rules.store_sums import base_doses

_STORE = UUID(int=0)
# With fewer hours than these outside of the spell nothing says what it would have been without. Judgement.
LEAST_OTHER_HOURS = 24
LEAST_TOLD_DAYS = 0.5
MOST_ALIKE = 3  # so many kinds that agree are told as most of them
STEEP_FROM_TO = (0.1725, 0.1890)
Q10_FROM_TO = (1.3, 2.8)


@dataclass(frozen=True)
class Cost:
    """Days of keeping that a spell cost wood of a group that lay there all the while; `more`: at least so many.

    `low`, `high`: the least and the most, as wood ages slower or faster than expected (four times in five) and warmth drives it
    less or more, between the published extremes; no chance is told of both together. Infinite: it would have kept beyond what
    is reckoned; none: not told.
    """

    group: str
    days: float
    more: bool = False
    low: float | None = None
    high: float | None = None


def whole_spell(
    run: StoreRun, begin: int, end: int, good: tuple[float, float], *, above: bool
) -> tuple[int, int]:
    """The hours from leaving what is good for the wood to being back in it, around those in which it rang or was told.

    In a store that is never as cold, or as warm, as is good: from and to what is usual there. What nothing is known of ends it.
    """
    out = _within(run, begin, end)
    usual = _usual(run, out)
    edge = (max if above else min)(good[above], good[above] if usual is None else usual)
    off = (run.temp_c > edge if above else run.temp_c < edge) & (run.known < Basis.ASSUMED)
    first, last = begin - run.first_hour, end - run.first_hour
    while first > 0 and off[first - 1]:
        first -= 1
    while last < len(off) and off[last]:
        last += 1
    return first + run.first_hour, last + run.first_hour


def _within(run: StoreRun, begin: int, end: int) -> Column:
    out = np.zeros(len(run.temp_c), bool)
    out[max(0, begin - run.first_hour) : max(0, end - run.first_hour)] = True
    return out


def _usual(run: StoreRun, out: Column) -> float | None:
    """The median of the other hours of which something is known; none: of too few."""
    others = run.temp_c[~out & (run.known < Basis.ASSUMED)]
    return float(np.median(others)) if len(others) >= LEAST_OTHER_HOURS else None


def costs_of(
    run: StoreRun, begin: int, end: int, groups: Iterable[str], known: AgeingKnown | None = None, else_c: float | None = None
) -> list[Cost]:  # fmt: skip
    """Of each group: how long it keeps without the spell less how long with it, from the first hour of the run on.

    `begin`, `end`: the hours of the spell. Without it its hours count as the median of the others of which something is known,
    or where those are too few as `else_c`; in both cases the last week without it goes on. `known`: what takes taught; none:
    nothing yet.
    """
    out = _within(run, begin, end)
    usual_c = _usual(run, out)
    usual_c = else_c if usual_c is None else usual_c
    if not out.any() or usual_c is None:
        return []
    usual = replace(run, temp_c=np.where(out, usual_c, run.temp_c))
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
        if before.central == after.central == 0:
            continue  # wood that lay here all the while is past its time anyhow: of younger wood this says nothing
        low, high = _ends(before, after, days)
        if low is not None and high is not None:
            doubt = _doubt(before.limiting, usual.temp_c, run.temp_c, out)
            if doubt is not None:
                low, high = low * doubt[0], high * doubt[1]
            elif high - low < LEAST_TOLD_DAYS and days >= LEAST_TOLD_DAYS:
                low = high = None  # of mould and drying no doubt is published
        found.append(Cost(name, days, more, low, high))
    return found


def _doubt(
    limiting: Hazard | None, usual_c: Column, temp_c: Column, out: Column
) -> tuple[float, float] | None:
    """By how much less and more a spell may have cost, as a part of what it did; none: not known."""
    varied = {Hazard.BUDBREAK: (FORCING_STEEP, *STEEP_FROM_TO), Hazard.RESERVE: (Q10, *Q10_FROM_TO)}
    rate = _forcing if limiting is Hazard.BUDBREAK else _respired
    if limiting not in varied:
        return None
    told, *others = [
        float((rate(temp_c[out], by) - rate(usual_c[out], by)).sum() / rate(usual_c[-A_WEEK:], by).mean())
        for by in varied[limiting]
    ]
    if told <= 0:
        return 1.0, 1.0
    parts = [max(0.0, each / told) for each in (told, *others)]
    return min(parts), max(parts)


def _respired(temp_c: Column, q10: float) -> Column:
    return np.asarray(q10 ** (temp_c / 10))


def _forcing(temp_c: Column, steepness: float) -> Column:
    return np.where(temp_c < -1, 0.0, 1 / (1 + np.exp(-steepness * (temp_c - FORCING_MIDDLE_C))))


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
    """`Reckoned for wood that lay there: it cost every kind here about 4 days of keeping (3 to 5).`

    What comes to the same after rounding is told once; where most kinds agree, the others are named.
    """
    costs = list(costs)
    if len(costs) > 1 and not any(one.more or one.days >= LEAST_TOLD_DAYS for one in costs):
        return "Reckoned for wood that lay there: it cost less than a day of keeping."
    alike: dict[str, list[str]] = {}
    for one in costs:
        alike.setdefault(f"{_days(one)}{_range(one)}", []).append(plain(one.group))
    if len(costs) > 1 and len(alike) == 1:
        told = [f"every kind here {next(iter(alike))}"]
    else:
        most = max(alike, key=lambda words: len(alike[words]), default="")
        is_most = len(alike.get(most, ())) >= MOST_ALIKE and 2 * len(alike[most]) > len(costs)
        told = [f"most kinds here {most}"] if is_most else []
        told += [
            f"{_joined(names)} {words}" for words, names in alike.items() if not (is_most and words == most)
        ]
    return f"Reckoned for wood that lay there: it cost {'; '.join(told)}." if told else ""


def _joined(names: list[str]) -> str:
    *some, last = names
    return f"{', '.join(some)} and {last}" if some else last


def plain(group: str) -> str:
    first, _, rest = group.partition("_")
    return f"{first} ({rest.replace('_', ' ')})" if rest else first


def _days(one: Cost) -> str:
    if one.days < LEAST_TOLD_DAYS and not one.more:
        return "less than a day of keeping"
    whole = max(1, round(one.days))
    return f"{'at least' if one.more else 'about'} {whole} {'day' if whole == 1 else 'days'} of keeping"


def _range(one: Cost) -> str:
    if one.more:
        return ""
    if one.days >= LEAST_TOLD_DAYS and (one.low is None or one.high is None):
        return " (how far that may be out is not known)"
    if one.low is None or one.high is None:
        return ""
    low, high = round(one.low), one.high if math.isinf(one.high) else round(one.high)
    if math.isinf(high):
        return f" ({low} or more)"
    if one.days < LEAST_TOLD_DAYS:
        return f" (up to {high})" if high > 1 else ""
    return f" ({low} to {high})" if low < high else " (its range is narrower than a day)"
