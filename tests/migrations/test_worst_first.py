"""Wood that an earlier version reckoned has its place by its last look as soon as jobs run, and not by the next day's round."""

from __future__ import annotations

import pytest
from alembic import command
from sqlalchemy import delete, update
from sqlmodel import col, select

from service.lib.jobs import Job
from service.migrations.running import config_for, migrate
from service.storage.tables import BundleKeeping
from tests.builders.storage import make_bundles, put
from tests.storage.test_keeping import CUT, Shelf

HOURS = 72
BEFORE = "20261128_1440_tokens_bound"


@pytest.fixture
def shelf(database, writer, clock):
    """Of two bundles in a store one was looked at: its buds swell."""
    found = Shelf(database, writer, clock).until(HOURS)
    (other,) = make_bundles(writer, found.ground)
    put(writer, found.ground.host, {"bundle_id": other, "store_id": found.store.id, "done_at": CUT})
    found.hourly([4.0] * HOURS)
    found.look(buds="swelling", seen_at=found.clock.at)
    return found


def rows(shelf):
    with shelf.database.reading() as session:
        found = session.exec(select(BundleKeeping)).all()
    return {one.bundle_id: (one.sort_on, one.sort_rank, one.sort_end, one.told) for one in found}


def jobs(shelf):
    with shelf.database.reading() as session:
        return [(one.once, one.what, one.tries, one.given_up_at) for one in session.exec(select(Job)).all()]


def as_before(shelf, database_url, *waiting):
    """At the revision before, with words as they stood then."""
    command.downgrade(config_for(database_url), BEFORE)

    def do(session):
        session.execute(delete(Job))
        session.add_all(waiting)
        old = update(BundleKeeping).where(col(BundleKeeping.store_id).is_not(None))
        session.execute(old.values(told={"words": "as an earlier version told it"}))

    shelf.writer.write_now(do, None)
    migrate(database_url)


def wanted(shelf):
    return (f"keeping:{shelf.store.id}", {"store": str(shelf.store.id)}, 0, None)


def test_swelling_buds_stand_first_once_jobs_ran(shelf, database_url):
    right = rows(shelf)
    assert right[shelf.bundle][1] < 9

    as_before(shelf, database_url)

    assert {one[1] for one in rows(shelf).values()} == {9}
    assert jobs(shelf) == [wanted(shelf)]
    shelf.work()
    assert rows(shelf) == right
    assert jobs(shelf) == []


def test_what_waits_already_is_asked_for_once_and_what_was_given_up_begins_anew(shelf, database_url):
    once, what, _, _ = wanted(shelf)
    as_before(
        shelf, database_url,
        Job(kind="keeping", what=what, once=once, made_at=CUT, due_at=CUT, tries=9, given_up_at=shelf.clock.at),
    )  # fmt: skip

    assert jobs(shelf) == [wanted(shelf)]


def test_wood_of_which_no_stick_is_left_asks_for_nothing(shelf, database_url):
    shelf.writer.write_now(
        lambda session: session.execute(update(BundleKeeping).values(store_id=None)) and None, None
    )

    as_before(shelf, database_url)

    assert jobs(shelf) == []
