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
    Packing,
    age,
    fresh_doses,
    many_traits,
    traits_of,
)
from service.science.viability import (
    AgeLight,
    DaysLeft,
    Measured,
    Viability,
    ageing_before_takes,
    days_left,
    estimate,
    estimate_nominal,
    excursion_cost,
    light_by_age,
    viable_share,
    weekly_curve,
)
from tests.science.test_parameters import LIMITS, rows_of

DAY = 24
SWINGING = 4 + 3 * np.sin(2 * np.pi * np.arange(720) / 24)
SPELL = np.repeat([1.0, 15.0, 1.0], [1440, 72, 1440])


def found(
    group: str, temp: np.ndarray, keeping: Keeping | None = None, portions: float | None = None
) -> Viability:
    traits = traits_of(GROUPS[group], keeping)
    return estimate(traits, age(traits, fresh_doses(traits, portions), temp))


def weeks_at(temp: float, groups: list[str], portions: float | None = None) -> dict[str, DaysLeft]:
    traits = many_traits([traits_of(GROUPS[name]) for name in groups])
    left = days_left(traits, fresh_doses(traits, portions), np.full((len(groups), 168), float(temp)))
    return dict(zip(groups, left, strict=True))


def days_of_one(temp: float, damp: float, keeping: Keeping) -> DaysLeft:
    traits = many_traits([traits_of(GROUPS["apple"], keeping)])
    return days_left(traits, fresh_doses(traits), np.full((1, 168), temp), np.full((1, 168), damp))[0]


@pytest.mark.parametrize(
    "group, temp, central, expected, low, high, digits",
    [
        ("apple", np.full(720, 4.0), 0.964370, 0.962847, 0.956614, 0.967503, 6e-7),
        ("apple", SWINGING, 0.9634, 0.9616, 0.9543, 0.9671, 6e-5),
        ("apple", np.full(123 * DAY, 1.0), 0.9085, 0.8589, 0.7086, 0.9506, 6e-5),
        ("apple", SPELL, 0.8601, 0.7763, 0.4691, 0.9397, 6e-5),
    ],
)
def test_the_share_and_its_band_are_as_computed_elsewhere(
    group: str, temp: np.ndarray, central: float, expected: float, low: float, high: float, digits: float
) -> None:  # fmt: skip
    share = found(group, temp)

    assert (share.central, share.expected) == pytest.approx((central, expected), abs=digits)
    assert (share.low, share.high) == pytest.approx((low, high), abs=digits)


@pytest.mark.parametrize("group, frost, central", [("apple", -9.4, 0.871), ("cherry_sweet", -12, 0.428)])
def test_a_night_of_frost_takes_as_many_as_computed_elsewhere(
    group: str, frost: float, central: float
) -> None:
    share = found(group, np.repeat([1.0, frost], [720, 24]))

    assert share.central == pytest.approx(central, abs=6e-4)
    assert share.limiting is Hazard.FREEZING


def test_a_tenth_and_nine_tenths_die_at_the_published_degrees() -> None:
    """Penn State Extension, from Washington EB0419: apple at silver tip, -9.4 and -16.7 °C."""
    traits = traits_of(GROUPS["apple"])
    fresh = float(viable_share(traits, fresh_doses(traits)))
    left = [
        float(viable_share(traits, age(traits, fresh_doses(traits), [frost]))) / fresh
        for frost in (-9.4, -16.7)
    ]

    assert left == pytest.approx([0.9, 0.1], abs=1e-6)


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
    "group, temp, days, expected, low, high",
    [
        ("apple", 1, 150, 0.76, 0.42, 0.94), ("apple", 4, 90, 0.76, 0.42, 0.94), ("apple", 10, 60, 0.23, 0.00, 0.71),
        ("peach", 1, 60, 0.81, 0.50, 0.96), ("peach", 4, 60, 0.32, 0.00, 0.82), ("cherry_sweet", 1, 90, 0.35, 0.00, 0.85),
        ("cherry_sweet", 4, 30, 0.85, 0.64, 0.96), ("cherry_sweet", 10, 30, 0.06, 0.00, 0.22),
    ],
)  # fmt: skip
def test_shares_at_steady_degrees_are_as_computed_elsewhere(
    group: str, temp: float, days: int, expected: float, low: float, high: float
) -> None:
    share = found(group, np.full(days * DAY, float(temp)))

    assert (share.expected, share.low, share.high) == pytest.approx((expected, low, high), abs=0.0051)


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


def test_citrus_budsticks_keep_as_a_trial_saw() -> None:
    """Scientia Agricola 2008, 65(4): polyethylene bags, 5 °C, 74 days, grafting success above 95 %. Tuned to it."""
    share = found("citrus", np.full(74 * DAY, 5.0), Keeping(Packing.SEALED))

    assert share.expected / 0.97 > 0.95


@pytest.mark.parametrize(
    "group, temp, days, expected",
    [("walnut", 4, 62, 0.89), ("rose", 0, 112, 0.92)],
)
def test_other_trials_are_met_about_as_far_as_computed_elsewhere(
    group: str, temp: float, days: int, expected: float
) -> None:
    """Aslamarz et al. 2009 (walnut twigs still forced); waxed rose plants, 100 % grew on: rest not complete at lifting."""
    portions = 0 if group == "rose" else None

    assert found(group, np.full(days * DAY, float(temp)), None, portions).expected == pytest.approx(
        expected, abs=0.035
    )


# -- against what is published or practised ---------------------------------------------------------------------------

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


# -- properties -------------------------------------------------------------------------------------------------------


@given(st.sampled_from(sorted(GROUPS)), st.floats(0, 22), st.floats(0.1, 5), st.integers(1, 90))
@settings(max_examples=40)
def test_once_rest_is_complete_warmer_never_keeps_longer(
    group: str, temp: float, more: float, days: int
) -> None:
    """Above frost; before rest is complete warmth may well keep it shut, and below 0 °C cold has a hazard of its own."""
    cold, warm = (found(group, np.full(days * DAY, each)).central for each in (temp, temp + more))

    assert warm <= cold


@given(st.floats(0, 22), st.floats(0.1, 5))
@settings(max_examples=8)
def test_once_rest_is_complete_days_left_never_grow_with_warmth(temp: float, more: float) -> None:
    groups = ["apple", "cherry_sweet", "citrus", "avocado"]
    cold, warm = weeks_at(temp, groups), weeks_at(temp + more, groups)

    for name in groups:
        assert (warm[name].central or 731) <= (cold[name].central or 731)


@given(st.sampled_from(sorted(GROUPS)), st.floats(-5, 25), st.integers(1, 100))
@settings(max_examples=40)
def test_a_share_lies_in_its_band_and_shares_of_hazards_add_up(group: str, temp: float, days: int) -> None:
    share = found(group, np.full(days * DAY, temp))

    assert 0 <= share.low <= share.central <= share.high <= 0.97
    assert 0 <= share.expected <= 0.97  # of almost nothing left it may lie above the band
    assert sum(share.shares.values()) == pytest.approx(1)
    assert share.limiting is max(share.shares, key=lambda each: share.shares[each])


# -- outputs ----------------------------------------------------------------------------------------------------------


def test_a_store_of_which_only_a_temperature_is_said_has_a_wide_band() -> None:
    """Computed elsewhere: apple, 60 days at a nominal 4 °C: 89 %, band 30-97 %."""
    traits = traits_of(GROUPS["apple"])
    share = estimate_nominal(traits, fresh_doses(traits), 4.0, 60 * DAY)

    assert [round(each, 2) for each in (share.expected, share.low, share.high)] == [0.89, 0.30, 0.97]


def test_three_warm_days_cost_about_what_the_rule_of_thumb_says() -> None:
    """27 days' worth of bud time at 1 °C, so about 24 days: 3 x 0.6064 / 0.0671."""
    traits = traits_of(GROUPS["apple"])
    month_after = SPELL[: 1440 + 72 + 240]
    cost = excursion_cost(traits, fresh_doses(traits), month_after, month_after > 10)

    for days in (cost.central, cost.low, cost.high):
        assert days == pytest.approx(24, abs=2)
    assert cost.limiting is Hazard.BUDBREAK


def test_a_spell_that_was_all_there_is_cannot_be_priced() -> None:
    traits = traits_of(GROUPS["apple"])

    with pytest.raises(ValueError, match="without"):
        excursion_cost(traits, fresh_doses(traits), [15.0] * 48, [True] * 48)


def test_what_keeps_over_two_years_says_so_and_what_is_lost_keeps_no_day() -> None:
    deep = weeks_at(-4, ["pecan"])["pecan"]
    lost = weeks_at(-20, ["avocado"])["avocado"]

    assert deep.high is None
    assert (lost.central, lost.limiting) == (pytest.approx(1 / 24), Hazard.FREEZING)


def test_the_coming_weeks_end_where_days_left_says() -> None:
    traits = traits_of(GROUPS["peach"])
    left = weeks_at(4, ["peach"])["peach"]
    curve = weekly_curve(traits, fresh_doses(traits), np.full(168, 4.0), 10)

    assert all(low <= central <= high for low, central, high in curve)
    crossed = next(week for week, (_, central, _) in enumerate(curve, 1) if central / 0.97 < 0.75)
    assert crossed == math.ceil((left.central or 0) / 7)


def test_how_far_out_it_may_be_follows_what_was_measured() -> None:
    sigmas = {each: ageing_before_takes(each).sigma for each in Measured}

    assert sigmas == {Measured.LOGGER: 0.30, Measured.IN_PACK: 0.25, Measured.NOMINAL: 0.40}


@pytest.mark.parametrize(
    "age_weeks, light",
    [(4, AgeLight.WITHIN), (8, AgeLight.WITHIN), (9, AgeLight.LATE), (25, AgeLight.BEYOND)],
)
def test_without_any_temperature_only_age_speaks(age_weeks: float, light: AgeLight) -> None:
    assert light_by_age(age_weeks, 8, 24) is light
