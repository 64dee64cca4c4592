"""Hours of stores that an earlier version put together with the air of a pack as their own are put together anew."""

from __future__ import annotations

import numpy as np
import pytest
from alembic import command
from sqlalchemy import delete
from sqlmodel import col, select

from service.lib.jobs import Job
from service.migrations.running import config_for, migrate
from service.storage.rules.doses import DayHours, pack_hours, unpack_hours
from service.storage.tables import StoreDay
from tests.builders.loggers import make_logger
from tests.builders.storage import make_box, make_store, put
from tests.storage.test_keeping import CUT, Shelf

HOURS = 72
BEFORE = "20261128_1400_packing"


@pytest.fixture
def shelf(database, writer, clock):
    found = Shelf(database, writer, clock).until(HOURS)
    found.hourly([4.0] * HOURS)
    return found


def days(shelf):
    with shelf.database.reading() as session:
        rows = session.exec(select(StoreDay).where(StoreDay.store_id == shelf.store.id)).all()
    return {row.day: row.data for row in rows}


def jobs(shelf):
    with shelf.database.reading() as session:
        return list(session.exec(select(Job.once).where(Job.kind == "doses")).all())


def spoil(shelf):
    """Days as they stood before, the humidity of a pack among them; nothing waits to be done."""

    def do(session):
        for row in session.exec(select(StoreDay)).all():
            was = unpack_hours(row.data)
            row.data = pack_hours(DayHours(was.temp_c, np.full(24, 97.0), was.known))
        session.execute(delete(Job))

    shelf.writer.write_now(do, None)


def as_before(shelf, database_url):
    command.downgrade(config_for(database_url), BEFORE)
    spoil(shelf)
    migrate(database_url)


@pytest.mark.parametrize("where", ["loose", "in a box that stood there once"])
def test_hours_that_held_the_air_of_a_pack_are_put_together_anew(shelf, database_url, where):
    box = make_box(shelf.writer, shelf.ground)
    put(shelf.writer, shelf.ground.host, {"box_id": box.id, "store_id": shelf.store.id, "done_at": CUT})
    spot = {"store_id": shelf.store.id} if where == "loose" else {"box_id": box.id}
    make_logger(shelf.writer, shelf.ground, name="In a pack", sensor="pack", from_at=CUT, **spot)
    if where != "loose":
        elsewhere = make_store(shelf.writer, shelf.ground, name="Another fridge")
        put(shelf.writer, shelf.ground.host, {"box_id": box.id, "store_id": elsewhere.id})
    shelf.work()
    right = days(shelf)

    as_before(shelf, database_url)

    spoiled = days(shelf)
    assert spoiled.keys() == right.keys()
    assert all(spoiled[day] != right[day] for day in right)  # they stand until they are put together
    assert jobs(shelf) == [f"doses:{shelf.store.id}"]
    shelf.work()
    assert days(shelf) == right


def test_stores_without_a_logger_in_a_pack_are_left_alone(shelf, database_url):
    as_before(shelf, database_url)

    assert jobs(shelf) == []


def test_what_waits_already_is_asked_for_once_and_what_was_given_up_begins_anew(shelf, database_url, clock):
    make_logger(
        shelf.writer, shelf.ground, name="In a pack", store_id=shelf.store.id, sensor="pack", from_at=CUT
    )
    shelf.work()
    command.downgrade(config_for(database_url), BEFORE)
    spoil(shelf)
    given_up = Job(
        kind="doses", what={"store": str(shelf.store.id)}, once=f"doses:{shelf.store.id}", made_at=CUT, due_at=CUT, tries=9,
        given_up_at=clock.at,
    )  # fmt: skip
    shelf.writer.write_now(lambda session: session.add(given_up), None)

    migrate(database_url)

    with shelf.database.reading() as session:
        (job,) = session.exec(select(Job).where(col(Job.kind) == "doses")).all()
    assert (job.tries, job.given_up_at) == (0, None)
