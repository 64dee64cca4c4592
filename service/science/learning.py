"""What the club's own takes say of how fast wood ages here, and of how well a method takes.

An observation is a bundle on its grafting day, how many scions or buds of it were grafted by one method, and how many took.
Failures with another known cause (stock died, graft broken off, wrong way up) are left out before, not counted as failures.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from service.science.daylight import Numbers
from service.science.groups import Group
from service.science.hazards import Doses, Traits, fresh_doses, many_traits, traits_of
from service.science.hours import A_WEEK
from service.science.keeping_time import days_left
from service.science.parameters import value
from service.science.viability import FRESH, Ageing, viable_share

_BASE_TAKEN, _BASE_FAILED = value("learning", "base_taken"), value("learning", "base_failed")
_LEAST_SIGMA, _FRESH_SHARE = value("learning", "least_sigma"), value("learning", "fresh")
_POOL_GROUPS, _POOL_GRAFTS = value("learning", "pool_groups"), value("learning", "pool_grafts")
TRUSTED = round(value("learning", "trusted"))  # grafts of a group, from which on its share stands first
_STEP = value("learning", "forecast_step")
_KEPT_AT_C = value("learning", "told_at")
_SIGMAS = np.linspace(-3, 3, 61)
_BASES = np.linspace(0.02, 0.98, 49)


def share_step(share: float | None) -> int | None:
    """A viable share [-] as the step it lies in, by whose change a forecast is kept; None where there is none (judgement)."""
    return None if share is None else round(share / _STEP)


@dataclass(frozen=True)
class Takes:
    """`taken` of `grafted` [-] by one method, from a bundle with these doses on the day."""

    method: str
    grafted: int
    taken: int
    traits: Traits
    doses: Doses


@dataclass(frozen=True)
class Learned:
    """What takes made of a group's ageing.

    `ageing`: mean and spread of ln th [-], the spread at least 0.08; `median`, `low`, `high`: of th, where half, a tenth and
    nine tenths of the weight lie below [-]; `base`: mean take of fresh wood by method [-]; `grafts`: how many it rests on;
    `is_told_apart`: whether wood both fresh and aged was grafted, without which ageing and base take are confused.
    """

    ageing: Ageing
    median: float
    low: float
    high: float
    base: Mapping[str, float]
    grafts: int
    is_told_apart: bool


def learn(takes: Sequence[Takes], before: Ageing | None = None) -> Learned:
    """Ageing and base takes after these takes of one group.

    Parameters
    ----------
    takes : of one group of species; in any order.
    before : what is taken for ln th beforehand; None: normal around 0 with 0.30 (judgement).

    Returns
    -------
    What was learned; without takes, what was taken beforehand.

    Notes
    -----
    takes ~ Binomial(grafted, p0 V(th)); p0 ~ Beta(8, 2) for each method by itself, so that the weight of a th is the product
    over methods of the sum over p0. On a grid of 61 values of ln th, from -3 to 3 spreads, by 49 of p0, from 0.02 to 0.98 [1]_.
    A multiplier of the whole hazard would be the other obvious form; with an exponent of 6 it moves budbreak by less than
    15 %, far less than varieties differ.

    References
    ----------
    .. [1] Bayes' rule; priors are judgement.
    """
    prior = before or Ageing()
    logs = prior.mu + prior.sigma * _SIGMAS
    by_method = {
        name: _method_weight([each for each in takes if each.method == name], logs)
        for name in sorted({each.method for each in takes})
    }
    weight = -(_SIGMAS**2) / 2
    for table in by_method.values():
        weight = weight + _log_sum(table)
    chance = np.exp(weight - weight.max())
    chance /= chance.sum()
    mean = float(chance @ logs)
    spread = math.sqrt(float(chance @ (logs - mean) ** 2))
    low, median, high = (math.exp(_quantile(logs, chance, share)) for share in (0.1, 0.5, 0.9))
    base = {name: float(chance @ (_shares(table) @ _BASES)) for name, table in by_method.items()}
    told = [
        float(viable_share(each.traits, each.doses, math.exp(prior.mu))) / FRESH < _FRESH_SHARE
        for each in takes
    ]
    return Learned(
        Ageing(mean, max(spread, _LEAST_SIGMA)), median, low, high, base, sum(each.grafted for each in takes),
        any(told) and not all(told),
    )  # fmt: skip


def _method_weight(takes: Sequence[Takes], logs: Numbers) -> Numbers:
    """The logarithm of prior and likelihood of one method: ln th by p0."""
    table = np.broadcast_to(
        (_BASE_TAKEN - 1) * np.log(_BASES) + (_BASE_FAILED - 1) * np.log1p(-_BASES), (61, 49)
    )
    for each in takes:
        chance = np.clip(viable_share(each.traits, each.doses, np.exp(logs)), 1e-300, 1)[:, None] * _BASES
        table = table + each.taken * np.log(chance) + (each.grafted - each.taken) * np.log1p(-chance)
    return np.asarray(table - table.max())


def _log_sum(table: Numbers) -> Numbers:
    most = table.max(axis=1)
    return np.asarray(most + np.log(np.exp(table - most[:, None]).sum(axis=1)))


def _shares(table: Numbers) -> Numbers:
    weights = np.exp(table - table.max(axis=1)[:, None])
    return np.asarray(weights / weights.sum(axis=1)[:, None])


def _quantile(values: Numbers, chance: Numbers, share: float) -> float:
    """Where so much of the weight lies below, each point's own spread evenly around it."""
    return float(np.interp(share, np.cumsum(chance) - chance / 2, values))


def start_of_group(others: Sequence[Learned]) -> Ageing:
    """What a group without takes starts from.

    Parameters
    ----------
    others : what was learned of the other groups.

    Returns
    -------
    Normal around the mean of those with 20 grafts each of wood both fresh and aged, once there are three of them; else around 0;
    spread 0.30 (judgement).
    """
    known = [each.ageing.mu for each in others if each.grafts >= _POOL_GRAFTS and each.is_told_apart]
    return Ageing(sum(known) / len(known)) if len(known) >= _POOL_GROUPS else Ageing()


@dataclass(frozen=True)
class GroupLearned:
    """What a group started from, and what its takes made of it."""

    before: Ageing
    after: Learned
    taken: int


def learn_groups(takes: Mapping[str, Sequence[Takes]]) -> tuple[Ageing, dict[str, GroupLearned]]:
    """All groups at once.

    Parameters
    ----------
    takes : by group of species, in any order.

    Returns
    -------
    What a group without takes starts from, and each group that has some, exactly the same whatever order they came in.

    Notes
    -----
    A group starts from what the *others* came to by themselves, so that no take counts twice.
    """
    ordered = {name: sorted(takes[name], key=_in_order) for name in sorted(takes)}
    alone = {name: learn(own) for name, own in ordered.items()}
    found = {}
    for name, own in ordered.items():
        before = start_of_group([other for each, other in alone.items() if each != name])
        after = alone[name] if before == Ageing() else learn(own, before)
        found[name] = GroupLearned(before, after, sum(each.taken for each in own))
    return start_of_group(list(alone.values())), found


def kept_days(group: Group, ageing: Ageing) -> int | None:
    """How long wood of a group keeps by this ageing.

    Parameters
    ----------
    group : of species.
    ageing : how fast it ages here.

    Returns
    -------
    Whole days at 4 °C, sealed with barely damp paper, rest over, until three quarters of the start are left; None: over two years.
    """
    one = many_traits([traits_of(group)])
    found = days_left(one, fresh_doses(one), np.full((1, A_WEEK), _KEPT_AT_C), None, ageing)[0].central
    return None if found is None else math.ceil(found)


def _in_order(each: Takes) -> tuple[str, int, int, list[float]]:
    doses = each.doses
    five = (doses.reserve, doses.lost_pct, doses.mould, doses.bud, doses.ethylene, doses.coldest_c)
    return (each.method, each.grafted, each.taken, [float(one) for one in five])


@dataclass(frozen=True)
class Interval:
    """A rate [-] between 0 and 1: in the middle, and where its ends lie."""

    low: float
    median: float
    high: float


def take_interval(
    taken: int, grafted: int, mass: float = 0.8, prior: tuple[float, float] = (_BASE_TAKEN, _BASE_FAILED)
) -> Interval:
    """How well something takes, by what took of what was grafted.

    Parameters
    ----------
    taken, grafted : how many [-]; 0 <= taken <= grafted.
    mass : how much of the weight the interval holds [-], between 0 and 1.
    prior : takes and failures assumed before any [-], both above 0; (8, 2) is judgement, (0.5, 0.5) says next to nothing.

    Returns
    -------
    Median and equal-tailed interval of Beta(prior taken + taken, prior failed + failed).
    """
    a, b = prior[0] + taken, prior[1] + grafted - taken
    low, median, high = (beta_quantile(share, a, b) for share in ((1 - mass) / 2, 0.5, (1 + mass) / 2))
    return Interval(low, median, high)


def beta_quantile(share: float, a: float, b: float) -> float:
    """Where so much of Beta(a, b) lies below [-], by halving to the last digit; `share` between 0 and 1, a and b above 0."""
    low, high = 0.0, 1.0
    for _ in range(80):
        middle = (low + high) / 2
        if beta_below(middle, a, b) < share:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def beta_below(x: float, a: float, b: float) -> float:
    """How much of Beta(a, b) lies below x [-]: the regularised incomplete beta function.

    Notes
    -----
    The continued fraction 26.5.8 of Abramowitz and Stegun, Handbook of Mathematical Functions (number from memory), taken on
    the side where it runs quickly, evaluated from its end.
    """
    if x <= 0 or x >= 1:
        return float(x >= 1)
    if x > (a + 1) / (a + b + 2):
        return 1 - beta_below(1 - x, b, a)
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    )
    fraction = 1.0
    for step in range(_STEPS, 0, -1):
        m = step // 2
        if step % 2:
            part = -(a + m) * (a + b + m) * x / ((a + step - 1) * (a + step))
        else:
            part = m * (b - m) * x / ((a + step - 1) * (a + step))
        fraction = 1 + part / fraction
    return front / (a * fraction)


_STEPS = 400  # enough for counts far beyond those of a club: a fraction settles in about the root of a or b
