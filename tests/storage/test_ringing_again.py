"""A frost that was told calls again: for wood that came in since, and for what is left and bears more."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.builders.garage import Garage
from tests.builders.loggers import steady
from tests.builders.storage import ago, make_box, make_bundles, put

COLD = [("host", "It froze"), ("steward", "It froze")]


@pytest.fixture
def garage(database, writer, clock):
    return Garage(database, writer, clock)


def wood_in(garage, **told):
    (bundle,) = make_bundles(garage.writer, garage.ground)
    put(garage.writer, garage.ground.host, {"bundle_id": bundle, "store_id": garage.store.id, **told})
    return bundle


@pytest.mark.parametrize("same", [True, False], ids=["the same wood", "other wood"])
def test_wood_put_into_a_fridge_that_still_freezes_is_called_for_anew(garage, same):
    logger = garage.logger()
    garage.send(logger, steady(ago(hours=4), 4, -8.0))
    assert garage.told() == COLD
    garage.clock.move(timedelta(hours=1))
    put(garage.writer, garage.ground.host, {"bundle_id": garage.bundle, "out": True})
    garage.send(logger, steady(ago(), 1, -8.0))
    assert garage.told() == COLD

    garage.clock.move(timedelta(hours=2))
    if same:
        put(garage.writer, garage.ground.host, {"bundle_id": garage.bundle, "store_id": garage.store.id})
    else:
        wood_in(garage)
    garage.clock.move(timedelta(hours=1))
    garage.send(logger, steady(ago(hours=-1), 3, -9.0))

    (ring,) = garage.rings()
    assert garage.told() == COLD * 2
    assert (ring.began_at, ring.ended_at, ring.told_at) == (ago(hours=4), None, garage.clock.at)
    garage.clock.move(timedelta(hours=1))
    garage.send(logger, steady(ago(hours=-4), 1, -9.0))
    assert garage.told() == COLD * 2


def test_wood_that_came_to_other_wood_in_a_fridge_that_still_freezes_is_called_for_too(garage):
    logger = garage.logger()
    garage.send(logger, steady(ago(hours=4), 4, -8.0))
    garage.clock.move(timedelta(hours=2))
    wood_in(garage, done_at=ago(hours=-1))

    garage.send(logger, steady(ago(), 2, -8.0))

    assert garage.told() == COLD * 2


def test_wood_put_in_when_the_frost_was_over_calls_nobody(garage):
    logger = garage.logger()
    garage.send(logger, steady(ago(hours=4), 4, -8.0))
    put(garage.writer, garage.ground.host, {"bundle_id": garage.bundle, "out": True})
    garage.clock.move(timedelta(hours=3))
    wood_in(garage)

    garage.send(logger, steady(ago(), 3, 3.0))

    assert garage.told() == COLD


def test_wood_moved_within_a_fridge_that_freezes_did_not_come_in(garage):
    logger = garage.logger()
    garage.send(logger, steady(ago(hours=4), 4, -8.0))
    box = make_box(garage.writer, garage.ground)
    garage.clock.move(timedelta(hours=1))
    for told in (
        {"box_id": box.id, "store_id": garage.store.id},
        {"bundle_id": garage.bundle, "into_box_id": box.id},
    ):
        put(garage.writer, garage.ground.host, told)
    garage.clock.move(timedelta(hours=2))

    garage.send(logger, steady(ago(), 3, -8.0))

    assert garage.told() == COLD


def hardier(garage, kill10_c):
    """As if only wood were left that bears more."""
    with garage.database.writing_session() as session:
        session.connection().exec_driver_sql(f"UPDATE storage_limit SET freeze_kill10_c = {kill10_c}")
        session.commit()


def test_a_frost_that_falls_below_what_the_hardier_wood_bears_that_is_left_rings_again(garage):
    logger = garage.logger()
    garage.send(logger, steady(ago(hours=4), 4, -8.0))
    hardier(garage, -20)
    garage.clock.move(timedelta(hours=5))
    garage.send(logger, steady(ago(), 2, -8.0))
    assert garage.told() == COLD

    garage.send(logger, steady(ago(hours=-2), 3, -30.0))

    (ring,) = garage.rings()
    assert garage.told() == COLD * 2
    assert (ring.extreme_c, ring.limit_c, ring.ended_at) == (-30.0, -17.0, None)
    garage.clock.move(timedelta(hours=1))
    garage.send(logger, steady(ago(hours=-5), 1, -31.0))
    assert garage.told() == COLD * 2


def test_wood_that_bears_the_frost_it_is_put_into_calls_nobody(garage):
    logger = garage.logger()
    garage.send(logger, steady(ago(hours=4), 4, -8.0))
    hardier(garage, -20)
    garage.clock.move(timedelta(hours=1))
    wood_in(garage)
    garage.clock.move(timedelta(hours=2))

    garage.send(logger, steady(ago(), 3, -9.0))

    assert [ring.withdrawn_at for ring in garage.rings()] == [None]
    assert garage.told() == COLD
