"""A store's own limits, as rules: what may be set, what holds, and what is beyond them.

The form of a limit - a threshold, a direction, single or cumulative, a delay, the threshold itself beyond - is that of the
WHO, Step-by-step interpretation of 10-day electronic temperature monitoring devices (2007-2009): its settings for type I are
>= 45 °C single 1 h, >= 30 °C cumulative 10 h, <= -0.5 °C single 1 h. The standing values are judgement; what kills a tenth
of the buds of apple, -9.4 °C, is of Penn State Extension.
"""

from __future__ import annotations

import numpy as np
import pytest

from service.storage.rules import AlarmKind
from service.storage.rules.excursions import (
    NOTHING_OWN,
    UNKNOWN_WOOD,
    HeatLimits,
    RingsBy,
    StoreLimits,
    StoreOwn,
    find_alarms,
    find_cold,
)
from service.storage.rules.own_limits import (
    LimitsContradict,
    NoSuchDelay,
    NoSuchLimit,
    RingsTooLate,
    check_own,
    in_force,
    limits_told,
)

MINUTE, HOUR = 60, 3600
FREEZING, HEAT = AlarmKind.FREEZING, AlarmKind.HEAT
APPLE = StoreLimits(0.0, 4.4, -6.4, ("apple",), "published", kill10_c=-9.4, tenderest="apple")
# Settings of the WHO's type I in the words of this service.
TYPE_ONE = RingsBy(-0.5, 1, HeatLimits(30.0, 10, 45.0, 1))


def record(*spans, step=10 * MINUTE):
    """Spans of minutes and °C, one after another, a reading every ten minutes."""
    temps = np.concatenate([np.full(minutes // 10, celsius) for minutes, celsius in spans])
    return np.arange(len(temps), dtype=np.int64) * step, temps


def kinds(by, *spans):
    return [(one.kind, one.rang / HOUR) for one in find_alarms(*record(*spans), by)]


# -- the four parts ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("spans", "rings"),
    [
        pytest.param([(120, 5.0), (60, 45.0), (60, 5.0)], [(HEAT, 3.0)], id="45.0 for an hour"),
        pytest.param([(120, 5.0), (50, 45.0), (60, 5.0)], [], id="45.0 for less than an hour"),
        pytest.param([(120, 5.0), (60, 44.9), (60, 5.0)], [], id="44.9 for an hour"),
        pytest.param([(60, 5.0), (60, -0.5), (60, 5.0)], [(FREEZING, 2.0)], id="-0.5 for an hour"),
        pytest.param([(60, 5.0), (600, -0.4), (60, 5.0)], [], id="-0.4 for long"),
        pytest.param(
            [(60, 5.0), (50, -0.5), (60, 5.0), (50, -0.5), (60, 5.0)], [], id="single, not added up"
        ),
        pytest.param(
            [(300, 30.0), (60, 20.0), (300, 30.0)], [(HEAT, 10.833)], id="30.0 for ten hours in all"
        ),
        pytest.param([(300, 30.0), (60, 20.0), (290, 30.0)], [], id="30.0 for less than ten hours in all"),
        pytest.param([(1200, 29.9)], [], id="29.9 for long"),
    ],
)
def test_a_limit_a_direction_single_or_cumulative_and_a_delay(spans, rings):
    found = [(kind, pytest.approx(rang, abs=0.01)) for kind, rang in kinds(TYPE_ONE, *spans)]

    assert found == rings


@pytest.mark.parametrize(
    ("spans", "spells"),
    [
        pytest.param([(60, 2.0), (60, -0.1), (60, 2.0)], 1, id="an hour below"),
        pytest.param([(60, 2.0), (50, -0.1), (60, 2.0)], 0, id="less than an hour"),
        pytest.param([(60, 2.0), (600, 0.0), (60, 2.0)], 0, id="the least that it is kept at is good"),
        pytest.param([(60, 2.0), (50, -0.1), (10, 0.1), (50, -0.1)], 0, id="single, not added up"),
        pytest.param([(60, -1.0), (600, 2.0), (60, -1.0)], 1, id="again within a day is the same"),
        pytest.param([(60, -1.0), (1500, 2.0), (60, -1.0)], 2, id="again after a day is another"),
    ],
)
def test_colder_than_the_wood_likes_is_found_with_the_same_parts(spans, spells):
    assert len(find_cold(*record(*spans), 0.0)) == spells


# -- what may be set ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("own", "problem", "field"),
    [
        ({"heat_c": 277.0}, NoSuchLimit, "heat_c"),
        ({"cold_c": -61.0}, NoSuchLimit, "cold_c"),
        ({"heat_hours": 0}, NoSuchDelay, "heat_hours"),
        ({"high_hours": -1}, NoSuchDelay, "high_hours"),
        ({"heat_hours": 168.5}, NoSuchDelay, "heat_hours"),
        ({"freezing_minutes": 0}, NoSuchDelay, "freezing_minutes"),
        ({"freezing_minutes": 1441}, NoSuchDelay, "freezing_minutes"),
        ({"heat_c": 16.0}, LimitsContradict, "heat_c"),
        ({"high_c": 9.0}, LimitsContradict, "high_c"),
        ({"freezing_c": 10.0}, LimitsContradict, "freezing_c"),
        ({"heat_c": -7.0, "cold_c": -6.0}, LimitsContradict, "heat_c"),
        ({"cold_c": 10.0}, LimitsContradict, "cold_c"),
        ({"warm_c": 10.0}, LimitsContradict, "warm_c"),
        ({"warm_c": -0.1}, LimitsContradict, "warm_c"),
        ({"warm_c": 61.0}, NoSuchLimit, "warm_c"),
        ({"warm_hours": 169.0}, NoSuchDelay, "warm_hours"),
        ({"heat_c": 0.0}, LimitsContradict, "heat_c"),
        ({"cold_c": -6.4}, LimitsContradict, "cold_c"),
        ({"freezing_c": -9.5}, RingsTooLate, "freezing_c"),
    ],
)
def test_nonsense_is_refused_at_its_field(own, problem, field):
    with pytest.raises(problem) as refused:
        check_own(StoreOwn(**own), APPLE)

    assert refused.value.field == field


@pytest.mark.parametrize(
    "own",
    [
        {}, {"heat_c": 8.0, "heat_hours": 168}, {"high_c": 10.0, "high_hours": 0.5}, {"freezing_c": -9.4, "freezing_minutes": 1440},
        {"freezing_c": 0.0}, {"cold_c": -6.3}, {"heat_c": 16.0, "high_c": 16.0},
    ],
)  # fmt: skip
def test_what_makes_sense_is_taken(own):
    check_own(StoreOwn(**own), APPLE)


def test_where_no_wood_lies_any_frost_may_be_set():
    check_own(StoreOwn(freezing_c=-20.0, cold_c=-5.0), StoreLimits(0.0, 4.4, None))


# -- what holds --------------------------------------------------------------------------------------------------------


def test_what_is_empty_holds_as_it_stands():
    assert in_force(APPLE, NOTHING_OWN).rings_by == RingsBy(-6.4, 1, HeatLimits(10.0, 10, 15.0, 2))
    own = in_force(APPLE, StoreOwn(heat_c=8.0, freezing_minutes=30, cold_c=1.0))
    assert own.rings_by == RingsBy(-6.4, 0.5, HeatLimits(8.0, 10, 15.0, 2))
    assert (own.cold_c, own.low_c) == (1.0, 0.0)


def test_an_own_frost_that_is_too_late_for_wood_that_came_in_later_does_not_count():
    """-9 °C is right for apple; of wood of which nothing is known a tenth of the buds is taken to be killed at -5 °C."""
    own = StoreOwn(freezing_c=-9.0)

    assert in_force(APPLE, own).freezing_c == -9.0
    later = in_force(UNKNOWN_WOOD, own)
    assert later.freezing_c == -2.0
    assert "too late" in later.freezing_mark


def test_each_limit_tells_whose_it_is():
    told = limits_told(in_force(APPLE, StoreOwn(freezing_c=-5.0, heat_c=8.0)))

    assert [one.words for one in told] == [
        "at or below −5 °C for 1 hour", "at 8 °C for 10 hours within 7 days, or at 15 °C for 2 hours",
        "above 4.4 °C for 10 hours within 7 days; in the weekly letter, and nobody is rung",
        "below 0 °C for 1 hour; in the weekly letter, and nobody is rung",
    ]  # fmt: skip
    assert told[0].whose == "this store’s own"
    assert (
        told[1].whose
        == "this store’s own in part; the rest standing: judgement, in the four-part form of the WHO's monitors"
    )
    assert told[2].whose == "standing, the most this wood is kept at: published"
    assert told[3].whose == "standing, the least this wood is kept at: published"
