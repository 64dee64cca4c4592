"""The page of what to use first: what it says at its top, and of each bundle."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from service.members.rules import Role
from service.storage.queries.use_first import use_first
from tests.bad_input.desk import words_of
from tests.builders.members import make_asker, make_session
from tests.builders.storage import make_bundles, put, stop_bundles
from tests.pages.desk import opened, read, send, told_next
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


def test_wood_that_hardly_keeps_until_a_day_of_the_club_is_told_of_on_top_and_at_its_row(shelf, browser):
    """The day is typed on the club's page, and taken out again there."""
    shelf.until(24 * 60).hourly([4.0] * 24 * 60)
    office = browser(make_session(shelf.writer, make_asker(shelf.writer, Role.ADMINISTRATOR)))
    page = browser(make_session(shelf.writer, shelf.steward))

    def fixed(day):
        typed = {"name": "Hillside Graft Club", "short_name": "Hillside", "zone": "Europe/Berlin"}
        told = opened(office, "/club", **typed, recall_look_back_winters="3", exchange_on=day, grafting_on="")
        told_next(office, send(office, "/club", told))
        return words_of(read(page, "/use-first"))

    late = fixed("2027-01-15")
    never = fixed("")

    assert (
        "2 bundles hardly keep until the exchange on 15 January 2027 : fewer than three quarters are likely left by then."
        in late
    )
    assert late.count("hardly until the exchange") == 2
    assert "hardly" not in never
