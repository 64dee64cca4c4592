"""A store's own limits: what may be set, what holds, and what rings by them.

The form of a limit - a threshold, a direction, single or cumulative, a delay, the threshold itself beyond - is that of the
WHO, Step-by-step interpretation of 10-day electronic temperature monitoring devices (2007-2009): its settings for type I are
>= 45 °C single 1 h, >= 30 °C cumulative 10 h, <= -0.5 °C single 1 h. The standing values are judgement; what kills a tenth
of the buds of apple, -9.4 °C, is of Penn State Extension.
"""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from sqlalchemy import update

from service.catalogue.tables import Taxon
from service.lib.errors import Stale
from service.members.rules import Role
from service.storage import actions, queries
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
    OnlyItsHost,
    RingsTooLate,
    check_own,
    in_force,
    limits_told,
)
from service.storage.schemas.limits import OwnLimitsSet
from tests.builders.garage import Garage
from tests.builders.loggers import steady
from tests.builders.members import make_asker
from tests.builders.storage import ago, put

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
        "at or below -5 °C for 1 hour", "at 8 °C for 10 hours within 7 days, or at 15 °C for 2 hours",
        "below 0 °C for 1 hour; in the weekly letter, and nobody is rung",
    ]  # fmt: skip
    assert told[0].whose == "this store’s own"
    assert (
        told[1].whose
        == "this store’s own in part; the rest standing: judgement, in the four-part form of the WHO's monitors"
    )
    assert told[2].whose == "standing, the least this wood is kept at: published"


# -- set, and used everywhere ------------------------------------------------------------------------------------------


@pytest.fixture
def garage(database, writer, clock):
    return Garage(database, writer, clock)


def set_own(garage, member=None, version=None, **own):
    if version is None:
        with garage.database.reading() as session:
            version = queries.store_limits(session, garage.store.id).version
    told = garage.writer.write_now(
        actions.set_limits, member or garage.host, garage.store.id, version, OwnLimitsSet(**own)
    )
    garage.work()
    return told


def temps(garage):
    with garage.database.reading() as session:
        return queries.store_temps(session, garage.store.id, garage.clock.at, 42)


def test_the_host_and_a_steward_set_them_and_nobody_else(garage):
    told = set_own(garage, heat_c=8.0)
    assert (told.version, told.own.heat_c, told.holds.heat_c, told.standing.heat_c) == (1, 8.0, 8.0, 10.0)
    assert (told.holds.freezing_c, told.holds.freezing_minutes) == (pytest.approx(-6.4), 60)

    cleared = set_own(garage, member=garage.steward)
    assert (cleared.version, cleared.own.heat_c, cleared.holds.heat_c) == (2, None, 10.0)
    other = make_asker(garage.writer, Role.HOST, name="Somebody else")
    with pytest.raises(OnlyItsHost):
        set_own(garage, member=other, heat_c=9.0)


def test_limits_set_on_an_older_reading_are_refused(garage):
    set_own(garage, heat_c=8.0)

    with pytest.raises(Stale):
        set_own(garage, version=0, heat_c=9.0)


def test_a_frost_too_late_for_the_wood_that_lies_there_is_refused(garage):
    with pytest.raises(RingsTooLate, match=r"-9\.4 °C a tenth of the buds of apple"):
        set_own(garage, freezing_c=-9.5)


def test_a_logger_rings_by_the_stores_own_heat(garage):
    set_own(garage, heat_c=8.0, heat_hours=3, high_c=12.0)
    garage.send(garage.logger(), steady(ago(hours=4), 4, 8.0))

    (ring,) = garage.rings()

    assert (ring.kind, ring.limit_c, ring.told_at) == ("heat", 8.0, garage.clock.at)
    (alarm,) = temps(garage).alarms
    assert (alarm.kind, alarm.rings) == ("heat", True)


def test_a_dial_rings_by_the_stores_own_frost(garage):
    set_own(garage, freezing_c=-3.0)

    garage.dial(now=-3)

    (ring,) = garage.rings()
    assert (ring.kind, ring.by_hand, ring.limit_c) == ("freezing", True, -3.0)
    with garage.database.reading() as session:
        (told,) = queries.list_rings(session, ago(days=1), [garage.store.id])
    assert told.limit_c == -3.0


def test_a_stricter_limit_rings_for_what_goes_on_and_not_for_what_is_over(garage):
    logger = garage.logger()
    garage.send(
        logger, steady(ago(days=9), 48, 8.5), steady(ago(days=7), 144, 3.0), steady(ago(hours=20), 20, 8.5)
    )
    assert garage.rings() == []

    set_own(garage, heat_c=8.0)

    (ring,) = garage.rings()
    assert (ring.began_at, ring.rang_at, ring.told_at) == (ago(hours=20), garage.clock.at, garage.clock.at)
    assert {who for who, _ in garage.told()} == {"host", "steward"}
    assert [one.began_at for one in temps(garage).alarms] == [ago(hours=20)]


def test_what_rang_by_the_limit_before_stays_and_is_over_where_the_new_one_allows_it(garage):
    logger = garage.logger()
    garage.send(logger, steady(ago(hours=12), 12, 11.0))
    (rang,) = garage.rings()
    assert (rang.kind, rang.ended_at, rang.limit_c) == ("heat", None, 10.0)
    letters = garage.told()

    set_own(garage, heat_c=13.0)
    set_at = garage.clock.at
    garage.clock.move(timedelta(hours=6))
    garage.send(logger, steady(ago(), 6, 11.0))

    (ring,) = garage.rings()
    assert (ring.id, ring.withdrawn_at, ring.ended_at, ring.limit_c) == (rang.id, None, set_at, 10.0)
    assert garage.told() == letters
    (alarm,) = temps(garage).alarms
    assert (alarm.ended_at, alarm.rings) == (set_at, True)


def test_what_rang_and_was_over_stays_when_the_limit_is_changed(garage):
    garage.send(garage.logger(), steady(ago(days=4), 24, 12.0), steady(ago(days=3), 72, 3.0))
    (rang,) = garage.rings()

    set_own(garage, heat_c=14.0, high_c=20.0)

    (ring,) = garage.rings()
    assert (ring.id, ring.withdrawn_at, ring.ended_at) == (rang.id, None, rang.ended_at)


def test_readings_sent_late_ring_by_the_limits_that_held_then(garage):
    logger = garage.logger()
    set_own(garage, heat_c=14.0, high_c=20.0)
    garage.clock.move(timedelta(days=1))

    garage.send(
        logger, steady(ago(days=5), 24, 12.0), steady(ago(days=4), 24, 3.0), steady(ago(days=-1), 1, 3.0)
    )

    (ring,) = garage.rings()
    assert (ring.kind, ring.began_at) == ("heat", ago(days=5))


def test_a_limit_set_colder_by_hand_calls_nobody_anew(garage):
    logger = garage.logger()
    garage.send(logger, steady(ago(hours=4), 4, -9.0))
    letters = garage.told()
    set_own(garage, freezing_c=-8.0)

    garage.clock.move(timedelta(hours=2))
    garage.send(logger, steady(ago(), 2, -9.0))

    (ring,) = garage.rings()
    assert (ring.ended_at, garage.told()) == (None, letters)


def test_a_frost_goes_on_by_its_own_limit_when_the_wood_leaves(garage):
    set_own(garage, freezing_c=-5.0)
    logger = garage.logger()
    garage.send(logger, steady(ago(hours=4), 4, -5.5))
    put(garage.writer, garage.ground.host, {"bundle_id": garage.bundle, "out": True})

    garage.clock.move(timedelta(hours=2))
    garage.send(logger, steady(ago(), 2, -5.5))

    (ring,) = garage.rings()
    assert (ring.withdrawn_at, ring.ended_at, ring.limit_c) == (None, None, -5.0)


def test_tenderer_wood_that_came_in_later_has_the_standing_frost_again(garage):
    """Wood of no known group is taken as fig and kiwi: a tenth of the buds killed at -5 °C, so it rings at -2 °C."""
    set_own(garage, freezing_c=-9.0)
    garage.dial(now=-4)
    assert garage.rings() == []
    put(garage.writer, garage.ground.host, {"bundle_id": garage.bundle, "out": True})
    garage.writer.write_now(
        lambda session: session.execute(update(Taxon).values(species_group="")) and None, None
    )
    put(garage.writer, garage.ground.host, {"bundle_id": garage.bundle, "store_id": garage.store.id})

    garage.dial(now=-4)

    (ring,) = garage.rings()
    assert (ring.kind, ring.limit_c) == ("freezing", -2.0)
    with garage.database.reading() as session:
        told = queries.store_limits(session, garage.store.id)
    assert (told.own.freezing_c, told.holds.freezing_c) == (-9.0, -2.0)
    assert "too late for it and does not count" in told.told[0].whose


# -- colder than it likes ----------------------------------------------------------------------------------------------


def test_colder_than_the_wood_likes_stands_on_the_page_and_rings_nobody(garage):
    logger = garage.logger()
    garage.send(
        logger, steady(ago(days=3), 24, 3.0), steady(ago(days=2), 10, -2.0), steady(ago(hours=38), 38, 3.0)
    )

    told = temps(garage)

    (spell,) = told.too_cold
    assert (spell.began_at, spell.ended_at, spell.extreme_c, spell.hours) == (
        ago(days=2),
        ago(hours=38),
        -2.0,
        10.0,
    )
    assert (told.alarms, garage.rings(), garage.told()) == ([], [], [])
    assert spell.cost_words.startswith("Reckoned for wood that lay there: it cost apple ")


def test_the_low_warning_of_a_store_is_its_own(garage):
    garage.send(garage.logger(), steady(ago(days=2), 48, 1.0))
    assert temps(garage).too_cold == []

    set_own(garage, cold_c=2.0)

    (spell,) = temps(garage).too_cold
    assert (spell.extreme_c, temps(garage).cold_c) == (1.0, 2.0)


def test_a_frost_that_rang_is_not_told_again_as_cold(garage):
    garage.send(
        garage.logger(),
        steady(ago(days=2), 24, 3.0),
        steady(ago(days=1), 6, -8.0),
        steady(ago(hours=18), 18, 3.0),
    )

    told = temps(garage)

    assert [one.kind for one in told.alarms] == ["freezing"]
    assert told.too_cold == []


def test_a_dial_tells_of_cold_too(garage):
    garage.dial(now=2, lowest=-1)

    (spell,) = temps(garage).too_cold

    assert (spell.by_hand, spell.extreme_c) == (True, -1.0)
