"""A store's own limits, set and used: what rings by them, and what is only told."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import update

from service.catalogue.tables import Taxon
from service.lib.errors import Stale
from service.members.rules import Role
from service.storage import actions, queries
from service.storage.rules.own_limits import (
    OnlyItsHost,
    RingsTooLate,
)
from service.storage.schemas.limits import OwnLimitsSet
from tests.builders.garage import Garage
from tests.builders.loggers import steady
from tests.builders.members import make_asker
from tests.builders.storage import ago, put


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
