"""The page of what to use first: what it says at its top, and of each bundle."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
from sqlmodel import select, update

from service.bundles.tables import Bundle
from service.lib.jobs import Worker, enqueue
from service.members.queries import find_calendar_reader
from service.members.rules import LetterKind, Role, digest_of
from service.members.tables import Letter
from service.pages.calendar_days import days_of
from service.storage import actions, schemas
from service.storage.queries.use_first import use_first, use_first_of
from service.storage.tables import BundleKeeping
from tests.bad_input.desk import words_of
from tests.builders.members import calendar_secret, make_asker, make_session
from tests.builders.storage import make_bundles, put, run, stop_bundles
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


def test_what_the_last_look_found_is_first_in_the_list_the_letter_and_the_calendar(shelf, browser, clock):
    """Other wood keeps shorter as reckoned, and cut on the same day by its age; the look is what counts."""
    host, page = shelf.host, browser(make_session(shelf.writer, shelf.steward))
    shelf.until(720).hourly([4.0] * 720)
    (late,) = make_bundles(shelf.writer, shelf.ground)
    put(shelf.writer, host, {"bundle_id": late, "store_id": shelf.store.id, "done_at": clock.now()})
    shelf.work()
    before = listed(shelf)[0].bundle_id
    assert before == shelf.bundle

    body = [schemas.BundleCheckCreate(bundle_id=late, wrinkled=True)]
    shelf.writer.write_now(actions.record_bundle_checks, host, body)
    shelf.work()

    first = listed(shelf)[0]
    assert (first.bundle_id, first.keeping.found_on) == (late, clock.now().date())
    (row,) = re.findall(
        rf'<li class="row[^>]*>\s*<a[^>]*href="/bundles/{late}".*?</li>',
        read(page, "/use-first").text,
        re.DOTALL,
    )
    assert f'The bark is wrinkled, seen <time datetime="{clock.now().date()}">' in row
    days = [one for one in calendar(shelf, host) if one.about.startswith("use-first/")]
    assert min(days, key=lambda one: one.on).on == clock.now().date()
    assert "The bark is wrinkled" in min(days, key=lambda one: one.on).text
    (letter,) = letters(shelf)
    assert "The bark is wrinkled" in letter.partition("Use first:")[2].splitlines()[1]


def test_a_clean_look_later_puts_wood_back_where_it_keeps(shelf, clock):
    shelf.until(720).hourly([4.0] * 720)
    shelf.look(buds="swelling")
    found = listed(shelf)[0].keeping
    clock.move(timedelta(hours=1))

    shelf.look(buds="tight", mould=False, wrinkled=False)

    after = next(one.keeping for one in listed(shelf) if one.bundle_id == shelf.bundle)
    assert (found.found, found.first_on) == ("use_first", found.found_on)
    assert (after.found_on, after.found, after.first_on) == (None, "", after.until)


def test_what_is_past_its_time_does_not_go_down_the_list_for_a_finding(shelf):
    """By the reckoning it should have been used before the day of the look."""
    shelf.until(24 * 60).hourly([15.0] * 24 * 60)
    shelf.look(wrinkled=True)

    (row,) = (one for one in rows(shelf) if one.bundle_id == shelf.bundle)

    assert row.sort_on == min(shelf.told().found_on, shelf.told().until)


def listed(shelf):
    with shelf.database.reading() as session:
        return use_first(session)


def rows(shelf):
    with shelf.database.reading() as session:
        return session.exec(select(BundleKeeping)).all()


def calendar(shelf, asker):
    secret = calendar_secret(shelf.writer, asker)
    with shelf.database.reading() as session:
        return days_of(session, find_calendar_reader(session, digest_of(secret)), shelf.clock.now())


def letters(shelf):
    ask = lambda session: enqueue(session, "weekly", {"host": str(shelf.host.party_id)})  # noqa: E731
    shelf.writer.write_now(ask, None)
    Worker(shelf.database, shelf.writer, [actions.weekly_letters()]).run_due()
    with shelf.database.reading() as session:
        return session.exec(select(Letter.text).where(Letter.kind == LetterKind.WEEKLY)).all()


def test_today_is_the_readers_and_not_that_of_the_last_reckoning(shelf, browser, clock):
    """What was reckoned yesterday to keep until today is to be used now."""
    page = browser(make_session(shelf.writer, shelf.steward))
    shelf.until(24 * 60).hourly([4.0] * 24 * 60)
    with shelf.database.reading() as session:
        until = min(one.keeping.keeps_until for one in use_first(session) if one.keeping.keeps_until)
    before = words_of(read(page, "/use-first"))
    clock.at = datetime(until.year, until.month, until.day, 12, tzinfo=UTC)

    after = words_of(read(browser(make_session(shelf.writer, shelf.steward)), "/use-first"))

    assert "use now" not in before.lower()
    assert "use now, look first" in after


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
    stop_bundles(shelf.writer, shelf.ground, [shelf.bundle])
    one_stopped = fixed("2027-01-15")

    assert (
        "2 bundles hardly keep until the exchange on 15 January 2027 : fewer than three quarters are likely left by then."
        in late
    )
    assert late.count("hardly until the exchange") == 2
    assert "hardly" not in never
    assert "1 bundle hardly keeps until the exchange" in one_stopped  # what may not be used is not counted


# -- whose wood it tells of ---------------------------------------------------------------------------------------------


def given_to(shelf, holder):
    """Wood handed over, at home with its holder: it lies in no store, and no job reckons it."""
    (bundle,) = make_bundles(shelf.writer, shelf.ground)
    run(
        shelf.writer,
        lambda session: session.execute(
            update(Bundle).where(Bundle.id == bundle).values(holder_id=holder.party_id)
        ),
    )
    return bundle


def test_a_member_sees_what_they_hold_and_nothing_else(shelf, browser):
    member = make_asker(shelf.writer, Role.MEMBER)
    page = browser(make_session(shelf.writer, member))
    shelf.until(720).hourly([4.0] * 720)
    shelf.work()
    none_yet = words_of(read(page, "/use-first"))
    mine = given_to(shelf, member)

    told = page.get("/api/use-first").json()
    shown = read(page, "/use-first")

    assert "You hold no wood" in none_yet
    assert [(one["bundle_id"], one["store_id"], one["store_name"]) for one in told] == [(str(mine), None, "")]
    assert re.findall(r'href="/bundles/([^"/]+)"', shown.text) == [str(mine)]
    assert "with you" in words_of(shown)
    assert str(shelf.bundle) not in shown.text and shelf.store.name not in shown.text


def test_a_host_sees_what_lies_with_them_and_a_steward_all(shelf, browser):
    """Another host's store is theirs to look at on its own page."""
    other = make_asker(shelf.writer, Role.HOST)
    shelf.until(720).hourly([4.0] * 720)
    shelf.work()
    kept = {str(one.bundle_id) for one in listed(shelf)}
    mine = given_to(shelf, other)

    def of(asker, **asked):
        found = browser(make_session(shelf.writer, asker)).get("/api/use-first", params=asked).json()
        return {one["bundle_id"] for one in found}

    assert kept and of(shelf.host) == kept
    assert of(other) == {str(mine)}
    assert of(other, store_id=shelf.store.id) == kept
    assert of(shelf.steward) == kept
    assert of(make_asker(shelf.writer, Role.MEMBER), store_id=shelf.store.id) == set()


def test_what_somebody_holds_stands_in_order_wherever_it_lies(shelf, clock):
    """A bundle in the club's fridge as it was last reckoned, one at home as reckoned now."""
    shelf.until(720).hourly([4.0] * 720)
    shelf.work()
    home = given_to(shelf, shelf.host)

    with shelf.database.reading() as session:
        found = use_first_of(session, shelf.host.party_id, clock.now())

    assert {shelf.bundle, home} <= {one.bundle_id for one in found}
    assert [one.keeping.sort_on for one in found] == sorted(one.keeping.sort_on for one in found)


def test_a_row_of_the_list_is_three_lines(shelf, browser):
    page = browser(make_session(shelf.writer, shelf.steward))
    shelf.until(720).hourly([4.0] * 720)
    shelf.work()

    shown = read(page, "/use-first").text

    (row,) = re.findall(
        rf'<li class="row[^>]*>\s*<a[^>]*href="/bundles/{shelf.bundle}".*?</li>', shown, re.DOTALL
    )
    assert row.count('class="row-more') == 2
    told = next(one.keeping for one in listed(shelf) if one.bundle_id == shelf.bundle)
    weeks = (shelf.clock.now().date() - told.cut_on).days // 7
    assert f"week {weeks} of {told.usual_weeks[0]}–{told.usual_weeks[1]}" in row
    assert f'<time datetime="{told.keeps_from}">' in row and f'<time datetime="{told.keeps_to}">' in row
    assert "no look yet" in row
