"""One's own dates in one's own calendar: the address, who reads what there, and on which day it stands."""

from __future__ import annotations

import logging
import re
from datetime import UTC, date, datetime, timedelta
from types import SimpleNamespace

import pytest
from fastapi import FastAPI
from icalendar import Calendar

from service.cli import serving
from service.lib.clock import day_words
from service.members import actions as member_actions
from service.members.rules import Role
from service.members.schemas import RolesUpdate
from service.members.tables import Account, CalendarAddress, Party
from service.provenance.actions import forget_member
from service.storage import actions, schemas
from tests.bad_input.desk import words_of
from tests.builders.garage import Garage
from tests.builders.members import calendar_secret, make_asker, make_session, party_version
from tests.builders.storage import ago, make_bundles, make_store, put, stop_bundles
from tests.infra.ical import check_rules, events_of
from tests.pages.desk import opened, read, send

UNKNOWN = "there-is-no-such-secret"


@pytest.fixture
def garage(database, writer, clock):
    return Garage(database, writer, clock)


@pytest.fixture
def calendar(writer, browser):
    """What somebody's calendar reads: without a cookie, checked against the rules, each event by its title."""

    def of(asker):
        answer = browser().get(f"/calendar/{calendar_secret(writer, asker)}.ics")
        assert answer.status_code == 200, answer.text
        check_rules(answer.content)
        again = Calendar.from_ical(answer.content).walk("VEVENT")
        found = events_of(answer.content)
        assert [str(event["summary"]) for event in again] == [event["SUMMARY"] for event in found]
        return {event["SUMMARY"]: event for event in found}

    return of


def on(event):
    return datetime.strptime(event["DTSTART"], "%Y%m%d").date()  # noqa: DTZ007 - a day has no zone


def address_in(page):
    return re.search(r'id="address"[^>]* value="([^"]+)"', page.text)[1]


# -- the address ---------------------------------------------------------------------------------------------------


def test_an_address_is_made_shown_once_made_anew_and_taken_back(database, writer, browser):
    page = browser(make_session(writer, make_asker(writer, Role.MEMBER)))
    stranger = browser()
    before = words_of(read(page, "/account"))
    first = address_in(send(page, "/account/calendar", opened(page, "/account")))
    kept = read(page, "/account").text
    worked = stranger.get(first).status_code
    second = address_in(send(page, "/account/calendar", opened(page, "/account")))

    assert "Make an address" in before
    assert "Dates in your own calendar" in before
    assert worked == 200
    assert first not in kept
    assert "Make the address anew" in kept
    assert [stranger.get(one).status_code for one in (first, second)] == [404, 200]
    send(page, "/account/calendar/take-back", opened(page, "/account"))
    assert stranger.get(second).status_code == 404
    assert "Make an address" in words_of(read(page, "/account"))


def test_the_same_form_sent_twice_makes_one_address_and_tells_it_once(writer, browser):
    page = browser(make_session(writer, make_asker(writer, Role.MEMBER)))
    form = opened(page, "/account")
    first = send(page, "/account/calendar", form)
    again = send(page, "/account/calendar", form)

    assert again.status_code == 409
    assert browser().get(address_in(first)).status_code == 200


def test_only_its_digest_is_kept(database, writer):
    secret = calendar_secret(writer, make_asker(writer, Role.MEMBER))

    with database.reading() as session:
        run = session.connection().exec_driver_sql
        kept = [str(run(f"SELECT * FROM {table}").all()) for table in ("calendar_address", "kept_answer")]
    assert secret not in "".join(kept)
    assert len(secret) >= 43, "32 bytes, as the tokens of programs"


def test_the_feed_is_a_calendar_of_its_own_sets_no_cookie_and_looks_at_none(garage, browser, writer):
    path = f"/calendar/{calendar_secret(writer, garage.host)}.ics"
    answer = browser().get(path)
    as_another = browser(make_session(writer, garage.steward)).get(path)

    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    assert "set-cookie" not in answer.headers
    assert "private" in answer.headers["cache-control"]
    assert as_another.content == answer.content


def test_who_has_it_already_hears_304_until_something_changes(garage, browser, writer, clock):
    path = f"/calendar/{calendar_secret(writer, garage.host)}.ics"
    reader = browser()
    first = reader.get(path)
    clock.move(timedelta(hours=5))
    known = reader.get(path, headers={"If-None-Match": first.headers["etag"]})
    (more,) = make_bundles(writer, garage.ground)
    put(writer, garage.ground.host, {"bundle_id": more, "store_id": garage.store.id, "done_at": ago(days=1)})
    changed = reader.get(path, headers={"If-None-Match": first.headers["etag"]})

    assert (known.status_code, known.content) == (304, b"")
    assert known.headers["etag"] == first.headers["etag"]
    assert changed.status_code == 200
    uids = [{event["UID"] for event in events_of(answer.content)} for answer in (first, changed)]
    assert uids[0] and uids[0] <= uids[1], "what stood there before has the same UID still"


def test_an_unknown_address_is_told_in_plain_words_and_never_named(browser, caplog, capfd):
    caplog.set_level(logging.DEBUG)
    page = browser().get(f"/calendar/{UNKNOWN}.ics")
    program = browser()
    program.headers["Accept"] = "text/calendar"
    told = program.get(f"/calendar/{UNKNOWN}.ics")

    assert (page.status_code, told.status_code) == (404, 404)
    assert "There is no calendar at this address, or it was taken back." in page.text
    assert told.json()["detail"] == "There is no calendar at this address, or it was taken back."
    assert UNKNOWN not in told.text
    written = capfd.readouterr()
    ours = [
        one.getMessage() for one in caplog.records if not one.name.startswith("httpx")
    ]  # that is the test's asker
    assert UNKNOWN not in "".join(ours) + written.out + written.err


def test_guesses_run_dry_as_with_signing_in_and_so_does_reading_without_end(writer, browser):
    path = f"/calendar/{calendar_secret(writer, make_asker(writer, Role.MEMBER))}.ics"
    reader = browser()
    read_often = [reader.get(path).status_code for _ in range(40)]
    guessed = [browser().get(f"/calendar/{UNKNOWN}{n}.ics").status_code for n in range(60)]

    assert (read_often[0], read_often[-1]) == (200, 429)
    assert (guessed[0], guessed[-1]) == (404, 429)


def test_who_is_forgotten_or_has_no_account_any_more_loses_it(database, garage, writer, browser):
    leaver = make_asker(writer, Role.MEMBER)
    path = f"/calendar/{calendar_secret(writer, leaver)}.ics"
    before = browser().get(path).status_code
    administrator = make_asker(writer, Role.ADMINISTRATOR)
    writer.write_now(forget_member, administrator, leaver.party_id)

    assert (before, browser().get(path).status_code) == (200, 404)
    with database.reading() as session:
        assert session.get(CalendarAddress, leaver.account_id) is None


@pytest.mark.parametrize("table, column", [(Account, "disabled_at"), (Party, "forgotten_at")])
def test_of_an_account_that_is_closed_an_address_that_still_stands_leads_nowhere(
    database, writer, browser, clock, table, column
):
    leaver = make_asker(writer, Role.MEMBER)
    path = f"/calendar/{calendar_secret(writer, leaver)}.ics"
    before = browser().get(path).status_code
    with database.writing_session() as session:
        setattr(
            session.get(table, {Account: leaver.account_id, Party: leaver.party_id}[table]),
            column,
            clock.now(),
        )
        session.commit()

    assert (before, browser().get(path).status_code) == (200, 404)


def test_who_has_no_role_left_is_told_nothing(garage, writer, calendar):
    assert calendar(garage.host)
    administrator = make_asker(writer, Role.ADMINISTRATOR)
    version = party_version(writer, garage.host.party_id)
    writer.write_now(
        member_actions.set_roles, administrator, garage.host.party_id, RolesUpdate(roles=[]), version
    )

    assert calendar(garage.host) == {}


# -- stores --------------------------------------------------------------------------------------------------------


def test_looks_stand_on_the_day_from_which_they_are_due_one_event_a_store_and_day(garage, writer, calendar):
    """Cut on 10 January, never looked at: due four weeks on (common practice, no source)."""
    (second,) = make_bundles(writer, garage.ground)
    put(
        writer, garage.ground.host, {"bundle_id": second, "store_id": garage.store.id, "done_at": ago(days=9)}
    )

    found = calendar(garage.host)

    event = found["Garage fridge: 2 looks due"]
    assert on(event) == date(2026, 2, 7)
    assert event["DESCRIPTION"].count("not looked at since it was cut") == 2
    assert event["URL"].endswith(f"/store/{garage.store.id}/due")


def test_a_look_moves_its_day(garage, writer, calendar, clock):
    body = [schemas.BundleCheckCreate(bundle_id=garage.bundle, buds="tight", mould=False, wrinkled=False)]
    writer.write_now(actions.record_bundle_checks, garage.ground.host, body)

    event = calendar(garage.host)["Garage fridge: 1 look due"]

    assert on(event) == clock.now().date() + timedelta(days=28)
    assert "four weeks after the last look" in event["DESCRIPTION"]


def test_a_host_is_told_of_their_own_stores_and_a_steward_of_all(garage, writer, calendar):
    other = make_store(writer, garage.ground, name="Cellar, under the mill")
    (apart,) = make_bundles(writer, garage.ground)
    put(writer, garage.ground.host, {"bundle_id": apart, "store_id": other.id, "done_at": ago(days=9)})

    of_host, of_steward = calendar(garage.host), calendar(garage.steward)
    of_member = calendar(make_asker(writer, Role.MEMBER))
    of_other_host = calendar(make_asker(writer, Role.MEMBER, Role.HOST))

    assert set(of_host) == {"Garage fridge: 1 look due"}
    assert set(of_steward) == {"Garage fridge: 1 look due", "Cellar, under the mill: 1 look due"}
    assert of_member == of_other_host == {}


def test_stopped_wood_is_told_as_stopped_and_the_stop_to_stewards_alone(garage, writer, calendar):
    stop = stop_bundles(writer, garage.ground, [garage.bundle], ago(days=3))

    of_host, of_steward = calendar(garage.host), calendar(garage.steward)

    assert of_host["Garage fridge: 1 look due"]["DESCRIPTION"].split("\n")[0].endswith(", stopped")
    (open_stop,) = [event for title, event in of_steward.items() if title.startswith("Stopped: ")]
    assert on(open_stop) == (ago(days=3)).date()
    assert open_stop["URL"].endswith(f"/stops/{stop}")
    assert not any(title.startswith("Stopped: ") for title in of_host)


def test_what_somebody_noted_beside_a_stop_stays_out_of_the_calendar(garage, writer, calendar):
    """A calendar's address needs no sign-in, and the calendars that read it keep what it says."""
    stop = stop_bundles(
        writer, garage.ground, [garage.bundle], ago(days=3), "Ask Wilma; her neighbour sprayed"
    )

    of_steward = calendar(garage.steward)

    (told,) = [event for title, event in of_steward.items() if title.startswith("Stopped: ")]
    first, address = told["DESCRIPTION"].split("\n")
    assert first == f"Suspected, open since {day_words(ago(days=3).date())}."
    assert address.endswith(f"/stops/{stop}")
    assert not any("Wilma" in str(event) for event in of_steward.values())


def test_a_frost_stands_on_its_day_and_says_what_to_do(garage, calendar, clock):
    frost = garage.dial(now="-8", unit="C")
    going_on = calendar(garage.host)
    day = clock.now().date()
    clock.move(timedelta(hours=6))
    garage.dial(now="3", unit="C", reset_done=True)
    over = calendar(garage.host)
    body = schemas.TakenBack(why="a slip of the finger")
    garage.writer.write_now(actions.take_dial_back, garage.ground.host, frost.id, body)
    garage.work()

    event = going_on["It froze in Garage fridge: look now"]
    assert on(event) == day
    assert "-8.0 °C at worst" in event["DESCRIPTION"]
    assert "Do not warm frozen wood" in event["DESCRIPTION"]
    assert "Move the wood to a place of 0 to 4.4 °C" in event["DESCRIPTION"]
    assert "Of apple half an hour at -9.4 °C kills a tenth of the buds" in event["DESCRIPTION"]
    assert event["URL"].endswith(f"/store/{garage.store.id}/temperature")
    assert over["It froze in Garage fridge"]["UID"] == event["UID"]
    assert not any(title.startswith("It froze") for title in calendar(garage.host))


def test_a_day_is_the_clubs_and_not_that_of_greenwich(garage, calendar, clock):
    """Half past midnight of 29 March in Berlin, as its summer time begins, is 23:30 UTC of the 28th."""
    clock.at = datetime(2026, 3, 28, 23, 30, tzinfo=UTC)
    garage.dial(now="-8", unit="C")
    before = calendar(garage.host)["It froze in Garage fridge: look now"]

    assert on(before) == date(2026, 3, 29)
    assert "from 29 March 2026, 00:30" in before["DESCRIPTION"]


def test_an_hour_after_the_change_is_told_in_summer_time(garage, calendar, clock):
    clock.at = datetime(2026, 3, 29, 1, 30, tzinfo=UTC)  # 03:30 in Berlin: 02:30 does not exist on that day
    garage.dial(now="-8", unit="C")

    event = calendar(garage.host)["It froze in Garage fridge: look now"]

    assert on(event) == date(2026, 3, 29)
    assert "from 29 March 2026, 03:30" in event["DESCRIPTION"]


def test_what_lies_more_than_a_year_back_is_left_out(garage, calendar, clock):
    garage.dial(now="-8", unit="C")
    clock.move(timedelta(days=364))
    last_day = calendar(garage.host)
    clock.move(timedelta(days=3))
    later = calendar(garage.host)

    assert any(title.startswith("It froze") for title in last_day)
    assert not any(title.startswith("It froze") for title in later)


def test_the_server_keeps_no_log_of_who_asked_for_what(monkeypatch):
    """A path of a calendar holds its secret."""
    kept = []
    monkeypatch.setattr(
        serving.uvicorn, "Server", lambda config: SimpleNamespace(run=lambda sockets: kept.append(config))
    )

    serving.run(FastAPI(), None)

    assert kept[0].access_log is False
