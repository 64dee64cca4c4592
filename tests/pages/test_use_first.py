"""The page of what to use first: what it says at its top, and of each bundle."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from service.storage.queries.use_first import use_first
from tests.bad_input.desk import words_of
from tests.builders.members import make_session
from tests.builders.storage import make_bundles, put, stop_bundles
from tests.pages.desk import read
from tests.storage.test_keeping import CUT, Shelf


@pytest.fixture
def shelf(database, writer, clock):
    return Shelf(database, writer, clock)


def test_stopped_wood_is_never_what_the_page_says_to_use_first(shelf, browser):
    page = browser(make_session(shelf.writer, shelf.steward))
    shelf.until(720).hourly([4.0] * 720)
    (pear,) = make_bundles(shelf.writer, shelf.ground)
    put(shelf.writer, shelf.ground.host, {"bundle_id": pear, "store_id": shelf.store.id, "done_at": CUT})
    shelf.work()
    with shelf.database.reading() as session:
        everything = [one.bundle_id for one in use_first(session)]
    stop_bundles(shelf.writer, shelf.ground, everything[:1])
    one_free = words_of(read(page, "/use-first"))
    stop_bundles(shelf.writer, shelf.ground, everything)
    none_free = words_of(read(page, "/use-first"))

    assert " first" in one_free.split("Reckoned from")[0]
    assert "all of it is stopped" not in one_free
    assert "Nothing may be used: all of it is stopped" in none_free


def test_today_is_the_readers_and_not_that_of_the_last_reckoning(shelf, browser, clock):
    """What was reckoned yesterday to keep until today is to be used now."""
    page = browser(make_session(shelf.writer, shelf.steward))
    shelf.until(24 * 60).hourly([4.0] * 24 * 60)
    with shelf.database.reading() as session:
        until = min(one.keeping.keeps_until for one in use_first(session) if one.keeping.keeps_until)
    before = words_of(read(page, "/use-first"))
    clock.at = datetime(until.year, until.month, until.day, 12, tzinfo=UTC)

    after = words_of(read(browser(make_session(shelf.writer, shelf.steward)), "/use-first"))

    assert "use it now" not in before
    assert "use it now, and look at it first" in after
