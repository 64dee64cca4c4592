"""The page of how one bundle keeps: what stands first, and the other stores."""

from __future__ import annotations

import pytest

from tests.bad_input.desk import words_of
from tests.builders.members import make_session
from tests.builders.storage import stop_bundles
from tests.pages.desk import read
from tests.storage.test_elsewhere import Garages


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
