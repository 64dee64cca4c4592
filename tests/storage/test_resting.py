"""Wood cut before its rest is over: warmth counts as forcing only as far as chill has ended the rest.

Keeping times of wood cut with little chill, and doses after hours at 4 °C, are worked values that were computed with a first
version of the model, hour by hour, before this one was written (computed, not measured).
"""

from __future__ import annotations

import itertools
import math
from datetime import date, timedelta
from uuid import UUID

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.collection.rules.dormancy import need_of
from service.science.chill import chill_portions
from service.science.groups import GROUPS
from service.science.hazards import age, fresh_doses, many_traits, traits_of
from service.science.keeping_time import days_left
from service.science.viability import Ageing
from service.storage.queries.chill import _at_site
from service.storage.rules.doses import StoreRun
from service.storage.rules.keeping import Lay, Wood, hours_left, stands, walk
from service.storage.rules.keeping_words import Chill, inputs_told
from service.storage.rules.resting import Rest
from service.storage.rules.store_sums import base_doses
from service.trees.rules.air_hours import DayOfAir
from tests.builders.hourly import as_one

STORE = UUID(int=1)


def walked(group, temps, rest, cuts=()):
    temp = np.asarray(temps, float)
    run = StoreRun(0, temp, np.full(len(temp), np.nan), np.zeros(len(temp), np.uint8))
    edges = [0, *cuts, len(temp)]
    lays = [Lay(STORE, a, b) for a, b in itertools.pairwise(edges) if b > a]
    wood = Wood(STORE, group, True, 0, rest=rest)
    return walk(wood, GROUPS[group], lays, [], {STORE: base_doses(run)})


def weeks(group, temp_c, portions):
    need = GROUPS[group].chill_need_cp
    found = walked(group, [temp_c] * 168, Rest(need, portions))
    left = hours_left(found, found.week, Ageing()).central
    return round(math.ceil((168 + left) / 24) / 7, 1)  # the table counts whole days


@pytest.mark.parametrize(
    "group, portions, temp_c, told",
    [
        ("apple", 25, 1, 30.7),
        ("apple", 25, 4, 18.6),
        ("apple", 50, 1, 25.4),
        ("apple", 50, 4, 15.3),
        ("peach", 36, 1, 17.3),
        ("peach", 36, 4, 9.9),
        ("peach", 60, 1, 11.0),
        ("peach", 60, 4, 6.6),
    ],
)
def test_wood_cut_before_its_rest_is_over_keeps_as_long_as_was_computed(group, portions, temp_c, told):
    assert weeks(group, temp_c, portions) == told


def test_the_dose_and_the_portions_in_store_are_those_of_the_hourly_model():
    """Apple, 720 h at 4 °C from its need on: budbreak 0.227150, 71.2458 portions."""
    found = walked("apple", [4.0] * 720, Rest(50, 50))
    chill, _ = chill_portions(np.full(720, 4.0))

    assert found.doses.bud[0] == pytest.approx(0.227150, abs=1e-6)
    assert 50 + chill[-1] == pytest.approx(71.2458, abs=1e-4)


@pytest.mark.parametrize("portions", [5.0, 30.0, 48.0])
def test_with_rest_under_way_it_is_the_hourly_model_to_the_hour(portions):
    temps = 3 + 2 * np.sin(np.arange(24 * 40) / 24 * 2 * np.pi)
    traits = traits_of(GROUPS["apple"])

    found = walked("apple", temps, Rest(50, portions))

    hourly = age(traits, fresh_doses(traits, portions), temps)
    assert found.doses.bud[0] == pytest.approx(float(hourly.bud), rel=1e-9)
    assert found.doses.chill.portions[0] == pytest.approx(float(hourly.chill.portions), rel=1e-12)
    (left,) = days_left(many_traits([traits]), as_one(hourly), temps[None, -168:], ageing=Ageing())
    assert hours_left(found, found.week, Ageing()).central / 24 == pytest.approx(left.central, abs=1)


@given(st.lists(st.floats(-2, 12), min_size=24, max_size=96), st.integers(1, 95), st.floats(0, 60))
@settings(max_examples=30, deadline=None)
def test_a_way_cut_anywhere_comes_to_the_same(temps, cut, portions):
    whole = walked("apple", temps, Rest(50, portions))
    parts = walked("apple", temps, Rest(50, portions), cuts=[min(cut, len(temps))])

    assert parts.doses.bud == pytest.approx(whole.doses.bud, rel=1e-9, abs=1e-12)
    assert parts.doses.chill.portions == pytest.approx(whole.doses.chill.portions, rel=1e-12)


@given(
    st.sampled_from(["apple", "peach", "cherry_sweet", "walnut"]),
    st.floats(0, 12),
    st.floats(0.1, 6),
    st.booleans(),
)
@settings(max_examples=40, deadline=None)
def test_once_rest_is_complete_warmer_never_keeps_longer(group, temp_c, warmer, is_known):
    rest = Rest(GROUPS[group].chill_need_cp, GROUPS[group].chill_need_cp) if is_known else None
    left = []
    for temp in (temp_c, temp_c + warmer):
        found = walked(group, [temp] * 168, rest)
        left.append(hours_left(found, found.week, Ageing()).central)

    assert left[1] is not None
    assert left[0] is None or left[1] <= left[0]


def test_before_that_warmer_can_keep_longer_and_the_model_says_so():
    """Apple cut with hardly any chill: at 12 °C no more of it comes than at 1 °C, so its rest ends later or never."""
    cold, warm = (
        walked("apple", [temp] * 24 * 60, Rest(50, 25)).doses.chill.portions[0] for temp in (6.0, 14.0)
    )

    assert warm < cold


@pytest.mark.parametrize("group, portions", [("apple", 25), ("peach", 36), ("walnut", 40)])
def test_the_band_of_wood_cut_early_holds_how_far_its_need_may_be_out(group, portions):
    """The ends against the same wood, were its need known to be that much lower or higher."""
    need = GROUPS[group].chill_need_cp
    told, lower, higher = (
        walked(group, [2.0] * 24 * 30, Rest(each, portions, spread=spread))
        for each, spread in ((need, 0.2), (need * 0.8, 0), (need * 1.2, 0))
    )
    without = walked(group, [2.0] * 24 * 30, Rest(need, portions))

    left, low, high, middle = (hours_left(one, one.week, Ageing()) for one in (told, lower, higher, without))

    assert (left.central, left.low, left.high) == (middle.central, low.low, high.high)
    assert left.low < middle.low
    assert stands(told, Ageing()).low == pytest.approx(stands(lower, Ageing()).low, rel=1e-12)
    assert stands(told, Ageing()).expected == stands(without, Ageing()).expected


def test_how_far_the_need_may_be_out_is_known_of_a_variety_and_else_of_its_group():
    """Half the range that is told of a variety over its middle; else a fifth (judgement), of walnut two fifths."""
    assert chill_at_cut(all_days()).spread == 0.2
    assert chill_at_cut(all_days(), "walnut").spread == 0.4


def test_rest_that_chill_never_ends_goes_on_for_good():
    found = walked("apple", [20.0] * 168, Rest(50, 10))

    two_years = found.ahead.until(np.full(3, 730.0 * 24))

    assert found.ahead.summed.shape[1] < 168 * 10
    assert (two_years < 0.05).all()


# -- chill at the tree ------------------------------------------------------------------------------------------------------

CUT = date(2026, 1, 10)
BEGINS = date(2025, 9, 1)


def chill_at_cut(days, group="apple"):
    need = need_of(group)
    found = _at_site(days, 51.0, {(BEGINS, CUT): [(STORE, need)]})
    return found.get(STORE)


def all_days(low=2.0, high=8.0):
    return {BEGINS + timedelta(days=n): DayOfAir(low, high, STORE) for n in range((CUT - BEGINS).days + 1)}


def test_chill_at_the_cut_is_counted_from_the_air_of_its_site():
    rest = chill_at_cut(all_days())

    assert rest.need_cp == 50
    assert 80 < rest.portions_cp < 140  # 132 days of two thirds to one portion each
    assert 0 <= rest.precursor < 1


def test_hours_that_nobody_measured_count_as_the_quickest_chill():
    days = all_days(20.0, 28.0)  # too warm for any
    none = chill_at_cut(days)
    for n in range(10, 38):
        del days[BEGINS + timedelta(days=n)]

    with_gap = chill_at_cut(days)

    assert none.portions_cp == pytest.approx(0, abs=0.01)
    assert with_gap.portions_cp == pytest.approx(28 * 24 / 28, abs=1.0)


@pytest.mark.parametrize(
    "days",
    [
        {},
        dict(list(all_days().items())[:40]),
        dict(list(all_days().items())[:-9]),
    ],
    ids=["no air", "too few days", "ended nine days before the cut"],
)
def test_where_the_air_says_too_little_nobody_knows(days):
    assert chill_at_cut(days) is None


@pytest.mark.parametrize(
    "chill, how, words",
    [
        (None, "assumed", "its site’s air is not known: rest is taken as over, the cautious side"),
        ((62.4, 70.0, 50.0), "measured", "62 of 50 portions by its site’s air: its rest was over"),
        ((30.0, 52.0, 50.0), "measured", "30 of 50 portions by its site’s air; its rest ended in store"),
        (
            (30.0, 41.0, 50.0),
            "measured",
            "30 of 50 portions by its site’s air, 41 by now: its rest is not over",
        ),
        (
            (52.0, 70.0, 50.0, 0.1),
            "measured",
            "52 of 50 portions by its site’s air, and such wood may need 45 to 55: its rest was likely over",
        ),
        (
            (56.0, 70.0, 50.0, 0.1),
            "measured",
            "56 of 50 portions by its site’s air, and such wood may need 45 to 55: its rest was over",
        ),
        (
            (30.0, 54.0, 50.0, 0.1),
            "measured",
            "30 of 50 portions by its site’s air, and such wood may need 45 to 55; its rest likely ended",
        ),
        (
            (30.0, 46.0, 50.0, 0.1),
            "measured",
            "30 of 50 portions by its site’s air, and such wood may need 45 to 55, 46 by now: its rest is likely not",
        ),
    ],
)
def test_what_is_known_of_the_chill_is_told_among_the_inputs(chill, how, words):
    known = None if chill is None else Chill(*chill)
    told = inputs_told({}, None, weighed=False, looks=0, at_cut=None, fruit=False, chill=known)

    (one,) = [each for each in told if each[0] == "chill at cutting"]
    assert one[1] == how
    assert one[2].startswith(words.replace("{OR}", ", and such wood may need 45 to 55"))
