"""Sources. COMPUTED: beforehand by another program from the same equations, hourly, sealed plastic with damp paper, 6 mm, store
at 80 %, rest complete at the start. RANGES: fixtures/reference/storage_limits.csv, each with its own mark. Most parameters
behind them are judgement tuned on those ranges, so that agreement proves the arithmetic more than the wood."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.science.groups import GROUPS
from service.science.hazards import (
    Fruit,
    Hazard,
    Keeping,
    age,
    dose_trace,
    fresh_doses,
    many_traits,
    traits_of,
)
from service.science.keeping_time import DaysLeft, days_left, rounded_days
from service.science.packings import Packing
from service.science.viability import (
    Ageing,
    estimate,
    viable_share,
)
from tests.builders.hourly import weekly_shares
from tests.science.test_parameters import LIMITS, rows_of

DAY = 24


def weeks_at(temp: float, groups: list[str], portions: float | None = None) -> dict[str, DaysLeft]:
    traits = many_traits([traits_of(GROUPS[name]) for name in groups])
    left = days_left(traits, fresh_doses(traits, portions), np.full((len(groups), 168), float(temp)))
    return dict(zip(groups, left, strict=True))


def days_of_one(temp: float, damp: float, keeping: Keeping) -> DaysLeft:
    traits = many_traits([traits_of(GROUPS["apple"], keeping)])
    return days_left(traits, fresh_doses(traits), np.full((1, 168), temp), np.full((1, 168), damp))[0]


# Weeks until 75 % of the start is left, at -2, 0, 1, 4, 10 and 20 °C; to the next whole day, as they were computed.
KEEPS = """
apple 48.0 reserve 29.9 budbreak 25.4 budbreak 15.3 budbreak 5.9 budbreak 1.7 budbreak
pear_european 44.4 reserve 21.1 budbreak 17.9 budbreak 10.7 budbreak 4.0 budbreak 1.3 budbreak
pear_asian 40.9 reserve 17.1 budbreak 14.4 budbreak 8.6 budbreak 3.3 budbreak 1.0 budbreak
quince 44.4 reserve 21.1 budbreak 17.9 budbreak 10.7 budbreak 4.0 budbreak 1.3 budbreak
medlar 48.0 reserve 29.9 budbreak 25.4 budbreak 15.3 budbreak 5.9 budbreak 1.7 budbreak
cherry_sweet 36.7 reserve 12.0 budbreak 10.1 budbreak 6.0 budbreak 2.3 budbreak 0.7 budbreak
cherry_sour 40.9 reserve 17.1 budbreak 14.4 budbreak 8.6 budbreak 3.3 budbreak 1.0 budbreak
plum_european 40.9 reserve 17.1 budbreak 14.4 budbreak 8.6 budbreak 3.3 budbreak 1.0 budbreak
plum_japanese 36.9 reserve 11.0 budbreak 9.1 budbreak 5.4 budbreak 2.1 budbreak 0.7 budbreak
apricot 36.9 reserve 9.9 budbreak 8.3 budbreak 5.0 budbreak 1.9 budbreak 0.6 budbreak
peach 36.6 reserve 13.0 budbreak 11.0 budbreak 6.6 budbreak 2.4 budbreak 0.9 budbreak
almond 36.7 reserve 11.4 budbreak 9.6 budbreak 5.7 budbreak 2.1 budbreak 0.7 budbreak
walnut 40.0 reserve 26.9 budbreak 23.0 budbreak 14.0 budbreak 5.3 budbreak 1.6 mould
pecan 60.9 reserve 38.6 budbreak 32.9 budbreak 19.7 budbreak 7.4 budbreak 2.0 mould
chestnut 44.0 reserve 30.3 budbreak 26.0 budbreak 15.9 budbreak 6.0 budbreak 1.7 mould
hazelnut 40.9 reserve 19.1 budbreak 16.1 budbreak 9.6 budbreak 3.7 budbreak 1.1 budbreak
persimmon 51.4 reserve 34.4 budbreak 29.4 budbreak 17.9 budbreak 6.9 budbreak 1.9 mould
fig 32.3 reserve 24.6 reserve 21.4 reserve 13.6 budbreak 5.3 budbreak 1.4 mould
mulberry 43.4 reserve 30.0 reserve 25.7 budbreak 15.7 budbreak 6.0 budbreak 1.7 mould
grape 47.3 reserve 28.1 budbreak 23.9 budbreak 14.3 budbreak 5.4 budbreak 1.6 mould
kiwi 36.1 reserve 18.9 budbreak 15.9 budbreak 9.6 budbreak 3.6 budbreak 1.1 budbreak
pawpaw 44.4 reserve 30.6 budbreak 26.1 budbreak 16.1 budbreak 6.1 budbreak 1.7 mould
rose 36.4 reserve 23.6 budbreak 20.1 budbreak 12.3 budbreak 4.7 budbreak 1.4 budbreak
citrus 41.4 reserve 35.9 reserve 32.1 reserve 21.7 mould 9.0 mould 1.9 mould
avocado 0.1 freezing 6.7 reserve 6.3 reserve 5.0 reserve 3.0 reserve 1.0 mould
olive 15.0 reserve 13.1 reserve 12.1 reserve 9.6 reserve 5.4 mould 1.4 mould
"""
TABLE = {cells[0]: cells[1:] for cells in map(str.split, KEEPS.strip().splitlines())}
DEGREES = (-2, 0, 1, 4, 10, 20)


@pytest.mark.parametrize("place, temp", list(enumerate(DEGREES)))
def test_every_group_keeps_as_long_as_computed_elsewhere(place: int, temp: float) -> None:
    groups = list(TABLE)
    left = weeks_at(temp, groups)
    days = {name: math.ceil(left[name].central or 0) for name in groups}
    weeks = {name: round(days[name] / 7, 1) for name in groups}

    assert weeks == {name: float(TABLE[name][2 * place]) for name in groups}
    for name in groups:
        one = traits_of(GROUPS[name])
        by_then = estimate(one, age(one, fresh_doses(one), np.full(days[name] * DAY, float(temp))))
        assert by_then.limiting == TABLE[name][2 * place + 1]
    assert len(groups) == 26


@pytest.mark.parametrize(
    "keeping, damp, days, limiting",
    [
        (Keeping(Packing.BARE), 65, 33, Hazard.DRYING), (Keeping(Packing.LOOSE), 65, 108, Hazard.BUDBREAK),
        (Keeping(fruit=Fruit.RIPE), 80, 105, Hazard.BUDBREAK), (Keeping(Packing.LOOSE, fruit=Fruit.RIPE), 80, 87, Hazard.ETHYLENE),
    ],
)  # fmt: skip
def test_packing_and_fruit_shorten_what_apple_keeps_at_four_degrees(
    keeping: Keeping, damp: float, days: int, limiting: Hazard
) -> None:
    left = days_of_one(4.0, damp, keeping)

    assert math.ceil(left.central or 0) == days
    assert left.limiting is limiting


@pytest.mark.parametrize(
    "group, portions, weeks_at_1, weeks_at_4", [("apple", 25, 30.7, 18.6), ("peach", 36, 17.3, 9.9)]
)
def test_wood_cut_before_its_rest_is_over_keeps_longer(
    group: str, portions: float, weeks_at_1: float, weeks_at_4: float
) -> None:
    for temp, weeks in ((1, weeks_at_1), (4, weeks_at_4)):
        days = math.ceil(weeks_at(temp, [group], portions)[group].central or 0)
        assert round(days / 7, 1) == weeks


# The degrees of the range, and whether the model's span of weeks over them meets it.
RANGE_AT = {
    "apple": (0, 4.4), "pear_european": (0, 4.4), "pear_asian": (0, 4), "quince": (0, 4), "medlar": (0, 4), "cherry_sweet": (0, 0),
    "cherry_sour": (0, 2), "plum_european": (0, 4.4), "plum_japanese": (0, 4.4), "apricot": (0, 0), "peach": (0, 7.2),
    "almond": (0, 0), "walnut": (0, 4), "pecan": (0, 0), "chestnut": (0, 0), "hazelnut": (0, 2), "persimmon": (0, 4), "fig": (1, 5),
    "mulberry": (0, 3), "grape": (1, 1), "kiwi": (0, 4), "pawpaw": (0, 4), "rose": (0, 2), "citrus": (5, 5), "avocado": (5, 8),
    "olive": (4, 6),
}  # fmt: skip
# Known misses, in weeks: the model's shortest and longest, and the range. Both keep longer than reported (rose: whole plants,
# longest trial; citrus: practice says several months). The numbers are not tuned to them.
MISSES = {"rose": (17.1, 23.6, 8, 16), "citrus": (18.6, 18.6, 6, 16)}
# Meets the range, but at its coldest keeps this many weeks longer than the range's end; of peach, see SHORTER too.
LONGER = {
    "apple": 5.8, "pear_european": 1.1, "pear_asian": 1.1, "quince": 1.1, "medlar": 5.8, "cherry_sour": 1.1, "plum_european": 1.1,
    "peach": 1.0, "walnut": 0.8, "hazelnut": 1.1, "mulberry": 5.9, "kiwi": 2.8, "pawpaw": 4.5, "avocado": 0.5, "olive": 1.5,
}  # fmt: skip
# Meets the range, but at its warmest (7.2 °C for peach) keeps so many weeks and not the range's least.
SHORTER = {"peach": (3.8, 4)}


def spans() -> dict[str, tuple[float, float]]:
    at = {
        temp: weeks_at(temp, list(RANGE_AT))
        for temp in sorted({temp for ends in RANGE_AT.values() for temp in ends})
    }
    return {
        name: (round((at[warm][name].central or 0) / 7, 1), round((at[cold][name].central or 0) / 7, 1))
        for name, (cold, warm) in RANGE_AT.items()
    }


def test_every_group_keeps_within_its_range_but_for_the_misses_that_are_known() -> None:
    ranges = {
        row["species_group"]: (float(row["keep_weeks_min"]), float(row["keep_weeks_max"]))
        for row in rows_of(LIMITS)
    }
    misses, longer, shorter = {}, {}, {}
    for name, (short, long) in spans().items():
        least, most = ranges[name]
        if short > most or long < least:
            misses[name] = (short, long, least, most)
            continue
        if long > most:
            longer[name] = round(long - most, 1)
        if short < least:
            shorter[name] = (short, least)

    assert misses == MISSES
    assert longer == LONGER
    assert shorter == SHORTER


@given(st.floats(0, 22), st.floats(0.1, 5))
@settings(max_examples=8)
def test_once_rest_is_complete_days_left_never_grow_with_warmth(temp: float, more: float) -> None:
    groups = ["apple", "cherry_sweet", "citrus", "avocado"]
    cold, warm = weeks_at(temp, groups), weeks_at(temp + more, groups)

    for name in groups:
        assert (warm[name].central or 731) <= (cold[name].central or 731)


def by_steps(group: str, portions: float, week: np.ndarray, most_days: int) -> float | None:
    """The first hour below three quarters, stepped through hour by hour."""
    traits = traits_of(GROUPS[group])
    path, _ = dose_trace(traits, fresh_doses(traits, portions), np.resize(week, most_days * DAY))
    under = viable_share(traits, path) / 0.97 < 0.75
    return (int(under.argmax()) + 1) / DAY if under.any() else None


@given(
    st.sampled_from(["cherry_sweet", "peach", "avocado", "fig"]),
    st.floats(0, 70),
    st.lists(st.floats(-7, 22), min_size=7, max_size=7),
)
@settings(max_examples=30)
def test_days_left_are_those_of_stepping_through_every_hour(
    group: str, portions: float, days: list[float]
) -> None:
    """Frost at night and warm days, rest complete or not: the quick way says what the slow way says."""
    week = np.repeat(days, DAY) + 2 * np.sin(2 * np.pi * np.arange(168) / DAY)
    traits = many_traits([traits_of(GROUPS[group])])
    quick = days_left(traits, fresh_doses(traits, portions), week[None])[0].central
    slow = by_steps(group, portions, week, 400)

    assert quick == slow or (slow is None and (quick is None or quick > 400))


def test_many_bundles_at_once_keep_as_each_alone() -> None:
    names, speeds = ["cherry_sweet", "apple", "citrus"], [Ageing(0.1, 0.1), Ageing(), Ageing(-0.3, 0.4)]
    chance = np.random.default_rng(9)
    weeks, portions = chance.uniform(0, 12, (3, 168)), chance.uniform(0, 70, 3)
    traits = [traits_of(GROUPS[name]) for name in names]
    together = days_left(many_traits(traits), fresh_doses(many_traits(traits), portions), weeks, None, speeds)

    for place in range(3):
        one = many_traits([traits[place]])
        begun = fresh_doses(one, portions[[place]])
        assert days_left(one, begun, weeks[[place]], None, speeds[place]) == [together[place]]


def test_what_keeps_over_two_years_says_so_and_what_is_lost_keeps_no_day() -> None:
    deep = weeks_at(-4, ["pecan"])["pecan"]
    lost = weeks_at(-20, ["avocado"])["avocado"]

    assert deep.high is None
    assert (lost.central, lost.limiting) == (pytest.approx(1 / 24), Hazard.FREEZING)


def test_the_coming_weeks_end_where_days_left_says() -> None:
    left = weeks_at(4, ["peach"])["peach"]
    curve = weekly_shares(traits_of(GROUPS["peach"]), np.full(168, 4.0), 10)

    assert all(low <= central <= high for low, central, high in curve)
    crossed = next(week for week, (_, central, _) in enumerate(curve, 1) if central / 0.97 < 0.75)
    assert crossed == math.ceil((left.central or 0) / 7)


@pytest.mark.parametrize("days, told", [(0, 0), (13.4, 13), (13.9, 14), (16, 14), (18, 21), (178, 175)])
def test_days_are_told_to_one_below_a_fortnight_and_to_a_week_above(days: float, told: int) -> None:
    assert rounded_days(days) == told
