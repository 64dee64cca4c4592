"""Sources. SCIPY: quantiles as scipy 1.17.1, stats.beta.ppf, gives them (written down here; scipy is not installed with the
tests), and a plain numeric integral beside. COMPUTED: posteriors worked out beforehand by another program on the same grid."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import betainc
from scipy.stats import beta as scipy_beta

from service.science.groups import GROUPS
from service.science.hazards import Doses, age, fresh_doses, many_traits, traits_of
from service.science.keeping_time import days_left
from service.science.learning import (
    Learned,
    Takes,
    beta_below,
    beta_quantile,
    learn,
    start_of_group,
    take_interval,
)
from service.science.viability import Ageing, viable_share

CHERRY = traits_of(GROUPS["cherry_sweet"])
SCIPY = [
    (8, 2, 0.631637636, 0.820380388, 0.93923095), (17, 3, 0.743493099, 0.861728838, 0.940535029),
    (8, 12, 0.263272838, 0.396603003, 0.541320897), (0.5, 0.5, 0.024471742, 0.5, 0.975528258),
    (10.5, 0.5, 0.876425794, 0.978059833, 0.999230245), (508, 202, 0.693671968, 0.715695397, 0.73705347),
    (4008, 1002, 0.792732754, 0.800039922, 0.807215945),
]  # fmt: skip
# Days in store at 4 °C, grafted, taken.
SLOWER, FASTER = [(14, 10, 9), (35, 10, 9), (49, 10, 9), (56, 10, 8)], [(14, 10, 9), (35, 10, 8), (49, 10, 2)]
ROWS = st.lists(
    st.tuples(st.sampled_from((14, 35, 49, 56)), st.integers(0, 10), st.sampled_from("abc")),
    min_size=1,
    max_size=6,
)


@cache
def after(days: int) -> Doses:
    return age(CHERRY, fresh_doses(CHERRY), np.full(days * 24, 4.0))


def takes(rows: list[tuple[int, int, int]], method: str = "whip") -> list[Takes]:
    return [Takes(method, grafted, taken, CHERRY, after(days)) for days, grafted, taken in rows]


def days_to_three_quarters(ageing: Ageing) -> int:
    one = many_traits([CHERRY])
    return math.ceil(days_left(one, fresh_doses(one), np.full((1, 168), 4.0), None, ageing)[0].central or 0)


@pytest.mark.parametrize("a, b, low, median, high", SCIPY)
def test_beta_quantiles_are_those_of_scipy(
    a: float, b: float, low: float, median: float, high: float
) -> None:
    found = [beta_quantile(share, a, b) for share in (0.1, 0.5, 0.9)]

    assert found == pytest.approx([low, median, high], abs=1e-9)


@given(st.floats(2, 60), st.floats(2, 60), st.floats(0.02, 0.98))  # smooth enough for so plain a sum
@settings(max_examples=40)
def test_beta_is_a_plain_integral(a: float, b: float, x: float) -> None:
    steps = np.linspace(0, x, 20_001)[1:]
    middles = steps - x / 40_000
    logs = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    density = np.exp(logs + (a - 1) * np.log(middles) + (b - 1) * np.log1p(-middles))

    assert beta_below(x, a, b) == pytest.approx(float(density.sum() * x / 20_000), abs=1e-6)


def test_an_interval_narrows_as_more_is_grafted() -> None:
    none, few, many = take_interval(0, 0), take_interval(8, 10), take_interval(800, 1000)

    assert none.median == pytest.approx(0.820380388)
    assert none.high - none.low > few.high - few.low > many.high - many.low
    assert many.low < 0.8 < many.high


def test_central_shares_on_the_days_of_the_example_are_as_computed_elsewhere() -> None:
    shares = [float(viable_share(CHERRY, after(days))) for days in (14, 35, 49, 56)]

    assert shares == pytest.approx([0.968, 0.869, 0.451, 0.179], abs=6e-4)


@pytest.mark.parametrize(
    "rows, mean, spread, median, low, high, base, days",
    [
        (FASTER, 0.065, 0.083, 1.06, 0.97, 1.16, 0.87, 39),
        (SLOWER, -0.444, 0.142, 0.66, 0.53, 0.76, 0.91, 65),
    ],
)
def test_takes_move_ageing_as_computed_elsewhere(
    rows: list[tuple[int, int, int]], mean: float, spread: float, median: float, low: float, high: float, base: float, days: int
) -> None:  # fmt: skip
    learned = learn(takes(rows))

    assert learned.ageing.mu == pytest.approx(mean, abs=6e-4)
    assert learned.ageing.sigma == pytest.approx(spread, abs=6e-4)
    assert learned.base == {"whip": pytest.approx(base, abs=6e-3)}
    assert days_to_three_quarters(learned.ageing) == days
    # What was printed lies on points of the grid, 0.03 apart; here it is read between them.
    found = np.log([learned.median, learned.low, learned.high])
    assert found == pytest.approx(np.log([median, low, high]), abs=0.03)


def test_without_takes_nothing_is_learned() -> None:
    learned = learn([])

    assert learned.ageing.mu == pytest.approx(0, abs=1e-12)
    assert learned.ageing.sigma == pytest.approx(0.30, abs=0.005)
    assert (learned.low, learned.median, learned.high) == pytest.approx((0.68, 1, 1.47), abs=0.005)
    assert days_to_three_quarters(Ageing()) == 42
    assert not learned.is_told_apart


@given(ROWS, st.randoms())
@settings(max_examples=25)
def test_the_order_of_arrival_changes_nothing(rows: list[tuple[int, int, str]], chance: object) -> None:
    told = [Takes(method, 10, taken, CHERRY, after(days)) for days, taken, method in rows]
    mixed = list(told)
    chance.shuffle(mixed)
    one, other = learn(told), learn(mixed)

    assert one.ageing.mu == pytest.approx(other.ageing.mu, abs=1e-9)
    assert one.ageing.sigma == pytest.approx(other.ageing.sigma, abs=1e-9)
    assert one.base == pytest.approx(other.base)


@given(ROWS)
@settings(max_examples=25)
def test_takes_told_in_two_rows_say_what_they_say_in_one(rows: list[tuple[int, int, str]]) -> None:
    whole = [Takes(method, 10, taken, CHERRY, after(days)) for days, taken, method in rows]
    parts = [
        part
        for each in whole
        for part in (replace(each, grafted=each.taken), replace(each, grafted=10 - each.taken, taken=0))
    ]

    assert learn(whole).ageing.mu == pytest.approx(learn(parts).ageing.mu, abs=1e-9)


def test_each_method_has_a_base_take_of_its_own() -> None:
    good, poor = takes([(14, 20, 19)], "whip"), takes([(14, 20, 8)], "bark")

    learned = learn([*good, *poor])

    assert learned.base["whip"] > 0.85
    assert learned.base["bark"] < 0.6
    assert abs(learned.ageing.mu) < 0.05  # that one method is poor says little of the wood


@pytest.mark.parametrize(
    "rows, apart", [([(14, 10, 9)], False), ([(49, 10, 9)], False), ([(14, 10, 9), (49, 10, 4)], True)]
)
def test_ageing_and_base_take_are_told_apart_by_fresh_and_aged_wood(
    rows: list[tuple[int, int, int]], apart: bool
) -> None:
    assert learn(takes(rows)).is_told_apart == apart


def test_the_spread_never_falls_below_what_is_believable() -> None:
    assert learn(takes([(14, 900, 800), (49, 900, 400)])).ageing.sigma == 0.08


@pytest.mark.parametrize("true", [0.8, 1.0, 1.25])
def test_many_takes_find_the_speed_they_were_made_with(true: float) -> None:
    chance = np.random.default_rng(5)
    rows = [
        (days, 40, int(chance.binomial(40, 0.85 * float(viable_share(CHERRY, after(days), true)))))
        for days in (14, 35, 49, 56)
    ]
    learned = learn(takes(rows))

    assert abs(learned.ageing.mu - math.log(true)) < 2 * learned.ageing.sigma
    assert learned.base["whip"] == pytest.approx(0.85, abs=0.1)


def learned_of(mu: float, grafts: int) -> Learned:
    return replace(learn([]), ageing=Ageing(mu, 0.1), grafts=grafts, is_told_apart=True)


@pytest.mark.parametrize(
    "others, mu",
    [
        ([], 0), ([(0.2, 20), (0.4, 20)], 0), ([(0.2, 20), (0.4, 25), (0.3, 19)], 0), ([(0.2, 20), (0.4, 25), (0.3, 20)], 0.3),
    ],
)  # fmt: skip
def test_a_new_group_starts_from_three_that_are_known(others: list[tuple[float, int]], mu: float) -> None:
    start = start_of_group([learned_of(*each) for each in others])

    assert (start.mu, start.sigma) == (pytest.approx(mu), 0.30)


@pytest.mark.parametrize("mass", [0.5, 0.8, 0.95, 0.99])
def test_the_interval_of_takes_is_that_of_another_library_over_a_grid(mass):
    """Equal-tailed quantiles of the Beta distribution as scipy.stats.beta.ppf has them (Boost.Math inside)."""
    for prior in ((8.0, 2.0), (0.5, 0.5), (1.0, 1.0)):
        for grafted in (0, 1, 2, 5, 12, 40, 200, 1000):
            for taken in sorted({0, 1, grafted // 3, grafted // 2, grafted - 1, grafted}):
                if 0 <= taken <= grafted:
                    theirs = scipy_beta.ppf(
                        [(1 - mass) / 2, 0.5, (1 + mass) / 2], prior[0] + taken, prior[1] + grafted - taken
                    )

                    ours = take_interval(taken, grafted, mass, prior)

                    assert [ours.low, ours.median, ours.high] == pytest.approx(theirs, rel=1e-9, abs=1e-12)


def test_what_lies_below_is_that_of_another_library_over_a_grid():
    """scipy.special.betainc, the regularised incomplete beta function."""
    for a in (0.5, 1.0, 2.0, 8.0, 50.0, 808.0):
        for b in (0.5, 1.0, 2.0, 10.0, 202.0):
            for x in (0.0, 0.001, 0.1, 0.5, 0.8, 0.99, 1.0):
                assert beta_below(x, a, b) == pytest.approx(float(betainc(a, b, x)), rel=1e-9, abs=1e-14)


def test_a_group_of_fresh_or_of_aged_wood_alone_starts_no_other() -> None:
    known = [learned_of(0.2, 20), learned_of(0.4, 25), replace(learned_of(0.3, 90), is_told_apart=False)]

    assert start_of_group(known).mu == 0
