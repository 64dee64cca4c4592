"""Freezing and heat told at once: to the host and the stewards, once an event, and only where it is of now."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from sqlmodel import select

from service.lib.errors import Problem
from service.lib.jobs import Job
from service.members import queries as member_queries
from service.members.rules import LetterKind, Role
from service.members.tables import PartyRole
from service.storage import actions, queries, schemas
from service.storage.rules import AlarmKind
from tests.builders.garage import Garage
from tests.builders.loggers import Clerk, hourly, make_logger, send, steady
from tests.builders.members import make_asker
from tests.builders.storage import ago, make_box, make_store, put

FREEZING, HEAT = AlarmKind.FREEZING, AlarmKind.HEAT


@pytest.fixture
def garage(database, writer, clock):
    return Garage(database, writer, clock)


COLD = [("host", "It froze"), ("steward", "It froze")]
WARM = [("host", "It is too warm"), ("steward", "It is too warm")]


def test_a_frost_of_this_night_is_told_to_host_and_stewards_once(garage):
    logger = garage.logger()

    garage.send(logger, steady(ago(hours=12), 6, 3.0), steady(ago(hours=6), 4, -8.0))
    assert garage.told() == COLD
    garage.send(logger, steady(ago(hours=2), 2, -11.0))

    (ring,) = garage.rings()
    assert garage.told() == COLD
    assert (ring.kind, ring.extreme_c, ring.began_at, ring.ended_at) == (FREEZING, -11.0, ago(hours=6), None)
    assert ring.told_at == garage.clock.at


def test_the_letter_says_what_was_measured_what_to_do_and_how_it_is_known(garage):
    garage.send(garage.logger(), steady(ago(hours=12), 6, 3.0), steady(ago(hours=6), 4, -8.0))

    with garage.database.reading() as session:
        letter = member_queries.last_letter(session, garage.host.party_id, LetterKind.WARNING)
    # ten in the morning UTC is eleven in Berlin, the zone of this club
    assert (
        "Lowest -8.0 °C, beyond the limit for 4 hours since 14 February 2026, 05:00, and it goes on."
        in letter.text
    )
    assert "It rings at or below −6.4 °C" in letter.text
    assert "Do not warm frozen wood" in letter.text
    assert "common practice, no source" in letter.text
    assert "Englert, Fuchigami and Chen 1993" in letter.text
    assert letter.path == f"/my-fridge?store={garage.store.id}"


def test_when_it_is_over_and_comes_again_it_rings_again(garage):
    logger = garage.logger()
    garage.send(logger, steady(ago(hours=4), 4, -8.0))
    garage.clock.move(timedelta(days=3))

    garage.send(logger, steady(ago(), 60, 3.0), steady(ago(hours=-60), 11, -8.0))

    assert [(ring.began_at, ring.ended_at) for ring in garage.rings()] == [(ago(hours=4), ago()), (ago(hours=-60), None)]  # fmt: skip
    assert garage.told() == COLD * 2


def test_last_months_cold_that_is_imported_today_rings_nobody_and_stands_for_the_weekly_letter(garage):
    clerk = Clerk(garage.writer, garage.ground, garage.database, garage.logger())

    clerk.take_all(*hourly(ago(days=30), ["3.0"] * 6 + ["-8.0"] * 5))  # the record ends in the midst of it
    garage.work()

    (ring,) = garage.rings()
    assert (ring.kind, ring.told_at, ring.recorded_at) == (FREEZING, None, garage.clock.at)
    assert garage.told() == []


def test_an_old_event_that_turns_out_to_go_on_rings_then(garage):
    logger = garage.logger()
    garage.send(logger, steady(ago(days=3), 24, -8.0))
    assert garage.told() == []

    garage.send(logger, steady(ago(days=2), 48, -8.0))

    assert len(garage.rings()) == 1
    assert garage.told() == COLD


def test_two_loggers_in_one_fridge_ring_once(garage):
    for _ in range(2):
        garage.send(garage.logger(), steady(ago(hours=4), 4, -8.0))

    assert len(garage.rings()) == 1
    assert garage.told() == COLD


def test_heat_rings_by_its_hours(garage):
    logger = garage.logger()

    garage.send(logger, steady(ago(hours=9), 9, 12.0))
    assert garage.told() == []
    garage.clock.move(timedelta(hours=2))
    garage.send(logger, steady(ago(), 2, 12.0))

    assert garage.told() == WARM


@pytest.mark.parametrize(
    "told, kind",
    [
        ({"now": "-8"}, FREEZING),
        ({"now": "3", "lowest": "-8"}, FREEZING),
        ({"now": "11"}, HEAT),
        ({"now": "3", "highest": "15"}, HEAT),
        ({"now": "52", "unit": "F"}, HEAT),
    ],
)
def test_a_dial_rings_too(garage, told, kind):
    garage.dial(**told)

    (ring,) = garage.rings()
    assert (ring.kind, ring.by_hand) == (kind, True)
    assert len(garage.told()) == 2


def test_the_same_memory_of_a_dial_rings_once(garage):
    garage.dial(now="3", lowest="-8")
    garage.clock.move(timedelta(days=3))
    garage.dial(now="3", lowest="-8")

    assert len(garage.rings()) == 1
    assert garage.told() == COLD


def test_a_reading_of_last_week_that_is_typed_today_rings_nobody(garage):
    garage.dial(now="-8", read_at=ago(days=7))

    assert [ring.told_at for ring in garage.rings()] == [None]
    assert garage.told() == []


def test_a_mistyped_dial_that_is_taken_back_withdraws_its_ring_and_a_right_one_rings_again(garage):
    made = garage.dial(now="-8")

    garage.writer.write_now(
        actions.take_dial_back, garage.ground.host, made.id, schemas.TakenBack(why="a slip of the finger")
    )
    garage.work()
    assert [ring.withdrawn_at for ring in garage.rings()] == [garage.clock.at]
    garage.dial(now="-9")

    assert len(garage.told()) == 4


def test_a_file_that_is_taken_back_withdraws_its_ring(garage):
    clerk = Clerk(garage.writer, garage.ground, garage.database, garage.logger())
    file = clerk.take_all(*hourly(ago(hours=5), ["-8.0"] * 5))
    garage.work()

    clerk.back(file)
    garage.work()

    assert [ring.withdrawn_at for ring in garage.rings()] == [garage.clock.at]


def test_a_sensor_that_was_put_right_takes_its_ring_along(garage):
    logger = garage.logger()
    garage.send(logger, steady(ago(hours=5), 5, -8.0))

    body = schemas.LoggerOffsetCreate(offset_c=Decimal(8), from_at=ago(days=1), how="in ice water")
    garage.writer.write_now(actions.set_offset, garage.ground.host, logger, body)
    garage.work()

    assert [ring.withdrawn_at for ring in garage.rings()] == [garage.clock.at]


def test_wood_of_which_nothing_is_known_is_taken_to_be_tender(garage):
    """As fig and kiwi in the storage limits: a tenth of the buds killed at -5 °C, so it rings at -2 °C (judgement)."""
    with garage.database.writing_session() as session:
        session.connection().exec_driver_sql("UPDATE taxon SET species_group = ''")
        session.commit()

    garage.dial(now="-1.9", read_at=ago(hours=3))
    assert garage.told() == []
    garage.dial(now="-2")

    assert garage.told() == COLD


def test_an_empty_fridge_calls_nobody(garage):
    put(garage.writer, garage.ground.host, {"bundle_id": garage.bundle, "out": True, "done_at": ago(hours=8)})

    garage.send(garage.logger(), steady(ago(hours=13), 13, 18.0))

    assert [ring.told_at for ring in garage.rings()] == [None]
    assert garage.told() == []


def test_a_logger_that_falls_silent_or_a_fridge_nobody_reads_rings_nobody(garage):
    garage.send(garage.logger(), steady(ago(hours=12), 12, 3.0))
    garage.dial(now="3")
    garage.clock.move(timedelta(days=30))

    garage.work()

    assert (garage.rings(), garage.told()) == ([], [])


def test_a_logger_in_a_pack_or_elsewhere_does_not_ring_for_this_store(garage):
    other = make_store(garage.writer, garage.ground, "Cellar")
    far = make_logger(garage.writer, garage.ground, store_id=other.id, from_at=ago(days=9)).id

    garage.send(far, steady(ago(hours=5), 5, 18.0))

    assert [ring.store_id for ring in garage.rings()] == [other.id]
    assert garage.told() == []  # nothing lies there


def test_many_readings_before_the_job_runs_ask_for_one_look(garage):
    logger = garage.logger()
    garage.work()
    for hours in (6, 5, 4):
        send(garage.writer, garage.ground, logger, steady(ago(hours=hours), 1, 3.0))

    with garage.database.reading() as session:
        assert len(session.exec(select(Job)).all()) == 1
    send(garage.writer, garage.ground, logger, steady(ago(hours=4), 1, 3.0))  # nothing new
    assert garage.work() == 3  # looked at, its hours put together, what lies there reckoned: each once


def test_a_frost_stands_when_the_wood_it_was_told_of_leaves(garage):
    """Somebody did as the letter said and moved the wood: the event is told on, and is not taken for mistyped."""
    logger = garage.logger()
    garage.send(logger, steady(ago(hours=6), 4, -8.0))
    put(garage.writer, garage.ground.host, {"bundle_id": garage.bundle, "out": True})

    garage.send(logger, steady(ago(hours=2), 2, 3.0))

    (ring,) = garage.rings()
    assert (ring.withdrawn_at, ring.ended_at, ring.limit_c) == (None, ago(hours=2), pytest.approx(-6.4))
    assert garage.told() == COLD


def test_readings_that_are_left_out_withdraw_a_frost_also_when_the_wood_has_left(garage):
    logger = garage.logger()
    garage.send(logger, steady(ago(hours=6), 4, -8.0))
    put(garage.writer, garage.ground.host, {"bundle_id": garage.bundle, "out": True})
    body = schemas.LeftOutCreate(from_at=ago(days=1), until_at=ago(), why="it lay in the snow")

    garage.writer.write_now(actions.leave_out, garage.ground.host, logger, body)
    garage.work()

    assert [ring.withdrawn_at for ring in garage.rings()] == [garage.clock.at]


def test_a_frost_is_judged_by_what_it_rang_by_when_hardier_wood_alone_is_left(garage):
    """Apple rings at -6.4 °C; of wood of which nothing is known the limit is another, and only new events follow that."""
    logger = garage.logger()
    garage.send(logger, steady(ago(hours=6), 4, -7.0))
    with garage.database.writing_session() as session:
        session.connection().exec_driver_sql("UPDATE storage_limit SET freeze_kill10_c = -20")
        session.commit()

    garage.send(logger, steady(ago(hours=2), 2, 3.0))

    (ring,) = garage.rings()
    assert (ring.withdrawn_at, ring.ended_at) == (None, ago(hours=2))


def test_without_a_steward_the_administrators_hear_of_it(database, writer, clock):
    garage = Garage(database, writer, clock)
    garage.steward = make_asker(writer, Role.ADMINISTRATOR)
    with database.writing_session() as session:
        session.connection().exec_driver_sql("DELETE FROM party_role WHERE role = 'steward'")
        session.commit()

    garage.dial(now="-8")

    assert garage.told() == COLD


def test_a_host_who_is_a_steward_too_gets_one_letter(garage):
    with garage.database.writing_session() as session:
        session.add(PartyRole(party_id=garage.host.party_id, role=Role.STEWARD, given_at=garage.clock.at))
        session.commit()
    garage.dial(now="-8")

    assert garage.told() == COLD


def test_what_a_store_is_seen_to_be_costs_the_same_however_much_was_read(garage, statements):
    logger = garage.logger()
    garage.send(logger, steady(ago(days=40), 24 * 30, 3.0))
    with garage.database.reading() as session, statements.at_most(11):
        seen = queries.see_store(session, garage.store.id, garage.clock.at)

    assert (seen.alarms, seen.holds_wood) == ((), True)


@pytest.mark.parametrize(
    "line",
    ["2026-02-14 09:00,400", "2026-02-14 09:00,288.2"],
    ids=["400 degrees", "kelvin"],
)
def test_what_cannot_be_a_temperature_rings_nobody(garage, line):
    clerk = Clerk(garage.writer, garage.ground, garage.database, garage.logger())
    garage.work()
    file = clerk.send("2026-02-14 08:00,3.0", line)
    clerk.form(file)

    with pytest.raises(Problem):
        clerk.take(file)
    garage.work()

    assert (garage.rings(), garage.told()) == ([], [])


def test_a_dial_in_kelvin_is_refused_and_rings_nobody(garage):
    with pytest.raises(Problem):
        garage.dial(now="265")
    garage.work()

    assert (garage.rings(), garage.told()) == ([], [])


def test_the_hour_that_happens_twice_is_one_event(garage):
    """Warm through the night of 25 October 2026 in Berlin: ten hours on the clock are eleven in truth."""
    garage.clock.at = datetime(2026, 10, 25, 7, 0, tzinfo=UTC)
    clerk = Clerk(garage.writer, garage.ground, garage.database, garage.logger())
    hours = (
        ["22:00", "23:00"],
        ["00:00", "01:00", "02:00", "02:00", "03:00", "04:00", "05:00", "06:00", "07:00"],
    )
    lines = [f"2026-10-{day} {hour},12.0" for day, part in zip((24, 25), hours, strict=True) for hour in part]
    file = clerk.send(*lines)
    clerk.form(file, schemas.FileFormSet(time="Time", temp="Temp", zone="Europe/Berlin"))

    clerk.take(file)
    garage.work()

    (ring,) = garage.rings()
    assert (ring.kind, ring.began_at, ring.hours) == (HEAT, datetime(2026, 10, 24, 20, 0, tzinfo=UTC), 11.0)
    assert len(garage.told()) == 2


def test_a_logger_moved_within_a_store_in_the_midst_of_a_frost_tells_of_it_once(garage):
    logger = garage.logger()
    garage.send(logger, steady(ago(hours=8), 4, -8.0))
    with garage.database.reading() as session:
        shelf = queries.places_of(session, [garage.store.id])[garage.store.id][0]
    body = schemas.LoggerMoveCreate(place_id=shelf.id, from_at=ago(hours=4))
    garage.writer.write_now(actions.hang_logger, garage.ground.host, logger, body)

    garage.send(logger, steady(ago(hours=4), 4, -8.0))

    (ring,) = garage.rings()
    assert (ring.withdrawn_at, ring.ended_at) == (None, None)
    assert garage.told() == COLD


def test_a_frost_of_a_logger_that_never_hung_there_is_withdrawn_and_told_no_more(garage):
    """Its place was told too late: the cold was of another fridge, in which no wood lies."""
    logger, other = garage.logger(), make_store(garage.writer, garage.ground, name="The right fridge")
    garage.send(logger, steady(ago(hours=6), 4, -8.0))
    body = schemas.LoggerMoveCreate(store_id=other.id, from_at=ago(days=1))

    garage.writer.write_now(actions.hang_logger, garage.ground.host, logger, body)
    garage.work()

    assert {ring.store_id: ring.withdrawn_at for ring in garage.rings()} == {garage.store.id: garage.clock.at}
    assert garage.told() == COLD


def test_a_frost_of_a_box_with_a_logger_stands_in_the_store_it_stood_in_when_the_box_moves_on(garage):
    box = make_box(garage.writer, garage.ground)
    logger = make_logger(garage.writer, garage.ground, box_id=box.id, from_at=ago(days=90)).id
    put(
        garage.writer,
        garage.ground.host,
        {"box_id": box.id, "store_id": garage.store.id, "done_at": ago(days=30)},
    )
    garage.send(logger, steady(ago(hours=6), 4, -8.0))
    other = make_store(garage.writer, garage.ground, name="Cellar")
    put(garage.writer, garage.ground.host, {"box_id": box.id, "store_id": other.id})
    garage.work()

    garage.send(logger, steady(ago(minutes=0), 1, 3.0))

    (ring,) = garage.rings()
    assert (ring.store_id, ring.withdrawn_at) == (garage.store.id, None)
    assert garage.told() == COLD
