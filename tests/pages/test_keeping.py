"""The page of how one bundle keeps: what stands first, and the other stores."""

from __future__ import annotations

import html
from datetime import date, timedelta

import pytest

from service.members.rules import Role
from service.science.parameters import numbers_digest
from service.storage.actions.forecasts import record_forecasts
from tests.bad_input.desk import words_of
from tests.builders.members import make_asker, make_session
from tests.builders.storage import stop_bundles
from tests.pages.desk import read
from tests.storage.test_elsewhere import Garages
from tests.storage.test_keeping import CUT

FIRST, STEP = "as it was first reckoned", "as it was reckoned, a step from what was told before"


@pytest.fixture
def garages(database, writer, clock):
    found = Garages(database, writer, clock)
    found.until(24 * 21).hourly([4.0] * 24 * 21)
    return found


def opened(garages, browser):
    page = browser(make_session(garages.writer, garages.steward))
    answer = read(page, f"/bundles/{garages.bundle}/keeping")
    assert answer.status_code == 200
    return answer.text, words_of(answer)


def test_look_and_usual_time_stand_before_the_share_until_grafts_were_judged(garages, browser):
    _, told = opened(garages, browser)

    assert told.index("Nobody has looked at it yet") < told.index("Wood of this kind is usually kept")
    assert told.index("Wood of this kind is usually kept") < told.index("By its way so far some")


def test_each_store_stands_with_its_days_and_what_they_rest_on(garages, browser):
    garages.beside("Cold room", 1.0, "cold_room")
    garages.beside("Ice box", -3.0)

    text, told = opened(garages, browser)

    assert "It would keep longer in Cold room: " in told
    assert told.index("Cold room") < told.index("Garage fridge , where it lies") < told.index("Ice box")
    assert "Not there. It was down to −3 °C in the last week" in told
    assert "168 hours measured" in told
    assert "UUID(" not in text


def test_of_stopped_wood_no_other_store_is_proposed(garages, browser):
    garages.beside("Cold room", 1.0, "cold_room")
    stop_bundles(garages.writer, garages.ground, [garages.bundle])

    _, told = opened(garages, browser)

    assert "Stopped, do not use" in told
    assert "it stays where it lies, whatever is reckoned" in told
    assert "It would keep longer" not in told


def test_the_picture_tells_in_words_and_a_table_what_it_shows(garages, browser):
    garages.clock.at = CUT + timedelta(days=24)
    garages.hourly([4.0] * 72, CUT + timedelta(days=21))
    garages.look(buds="tight")

    text, told = opened(garages, browser)

    drawn = text.partition('<desc id="keeps-d">')[2].partition("</desc>")[0]
    assert "It lay: Garage fridge from 10 Jan 2026 to 3 Feb 2026" in drawn
    assert "Looked at on 3 February 2026" in drawn
    assert drawn.startswith("By its way so far some 97 in 100 sticks")
    table = told[told.index("The same as a table") : told.index("In another store")]
    assert [table.count(word) for word in ("so far", " now ")] == [4, 1]
    assert table.count("ahead") > 10
    assert table.index("10 January 2026 97 (97–97) Garage fridge so far") < table.index("3 February 2026 97")
    svg = text.partition('<desc id="keeps-d">')[2].partition("</svg>")[0]
    assert svg.count('stroke-dasharray="5 4"') == 3  # the line and both edges of its band, ahead only
    assert "url(#keeps-hatch)" not in svg


def test_without_a_share_nothing_is_drawn(database, writer, clock, browser):
    bare = Garages(database, writer, clock).until(24 * 21)

    text, told = opened(bare, browser)

    assert "No temperature was ever read where it lay" in told
    assert "<figure" not in text
    assert "In another store" not in told


def test_heat_that_rang_is_hatched_with_its_word(garages, browser):
    garages.clock.at = CUT + timedelta(days=23)
    garages.hourly([4.0] * 12 + [18.0] * 24 + [4.0] * 12, CUT + timedelta(days=21))

    text, told = opened(garages, browser)

    assert "url(#keeps-hatch)" in text
    assert ">heat<" in text
    assert "Heat in its store, 18.0 °C at worst." in told


def test_what_was_told_before_stands_with_what_it_went_by(garages, browser):
    kept = {
        "bundle_id": garages.bundle,
        "move_seq": None,
        "doses": None,
        "ageing_version": None,
        "digest": "",
    }
    rows = [
        {**kept, "why": "changed", "as_of": CUT + timedelta(days=9), "share": 0.97, "low": 0.9, "high": 0.99, "hazard": "mould",
         "keeps_until": date(2026, 5, 2), "keeps_from": date(2026, 4, 11), "keeps_to": date(2026, 6, 6),
         "numbers_digest": "of other numbers"},
        {**kept, "why": "changed", "as_of": CUT + timedelta(days=8), "share": 0.97, "low": 0.9, "high": 0.99, "hazard": "",
         "keeps_until": date(2026, 5, 9), "keeps_from": None, "keeps_to": None, "numbers_digest": numbers_digest()},
        {**kept, "why": "grafted", "as_of": CUT + timedelta(days=11), "share": 0.22, "low": 0.1, "high": 0.4, "hazard": "",
         "keeps_until": date(2026, 1, 21), "keeps_from": date(2026, 1, 21), "keeps_to": date(2026, 1, 22),
         "numbers_digest": numbers_digest()},
        {**kept, "why": "handed_over", "as_of": CUT + timedelta(days=12), "share": None, "low": None, "high": None, "hazard": "",
         "keeps_until": None, "keeps_from": None, "keeps_to": None, "numbers_digest": numbers_digest()},
    ]  # fmt: skip
    garages.writer.write_now(lambda session: record_forecasts(session, rows), None)

    told = opened(garages, browser)[1]

    before = told[told.index("What was told before") :]
    days = [before.index(day) for day in ("31 January 2026", "22 January 2026", "19 January 2026")]
    assert days == sorted(days)
    assert [before.count(f"Kept {why};") for why in (FIRST, STEP, "as it was handed over")] == [1, 2, 1]
    assert before.index(STEP) < before.index(FIRST)  # nothing was told before the first
    assert (
        "Too little was known for a share. Kept as it was handed over; before any take had taught us; that stands today."
        in before
    )
    assert "some 97 in 100 sticks should be fit to graft; four times in five it is 90 to 99." in before
    assert (
        "Three quarters left until 2 May 2026 (between 11 April 2026 and 6 June 2026 ), as reckoned. What took most: mould."
        in before
    )
    assert (
        "Three quarters left until about 9 May 2026 , as reckoned; how far that may be out was not kept."
        in before
    )
    assert "It was below three quarters already, as reckoned; at the late end on 22 January 2026 ." in before
    assert "Three quarters left until 21 January 2026" not in before
    assert "before any take had taught us; numbers of the models were changed since." in before


def test_a_member_reads_how_a_bundle_keeps_and_nothing_of_the_stores_it_does_not_lie_in(garages, browser):
    """What lies in stores and how cold they are is for who looks after wood; a bundle is for every member."""
    garages.beside("Cold room", 1.0, "cold_room")
    member = browser(make_session(garages.writer, make_asker(garages.writer, Role.MEMBER)))

    page = read(member, f"/bundles/{garages.bundle}/keeping")
    told = member.get(f"/api/bundles/{garages.bundle}/keeping")
    record = words_of(read(member, f"/bundles/{garages.bundle}"))

    assert page.status_code == told.status_code == 200
    assert "By its way so far some" in words_of(page)
    assert "Cold room" not in page.text
    assert "in another store" not in record.lower()
    for kept in (
        f"/store/{garages.store.id}/use-first", f"/api/bundles/{garages.bundle}/elsewhere",
    ):  # fmt: skip
        refused = member.get(kept)
        assert refused.status_code == 403
        assert "Your role does not let you see what lies in the club’s stores." in html.unescape(refused.text)
