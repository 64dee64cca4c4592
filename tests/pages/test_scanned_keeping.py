"""What a scanned bundle tells of how it keeps: everybody what takes most of it, members how that is known."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.bad_input.desk import words_of
from tests.builders.members import make_session
from tests.pages.desk import read
from tests.provenance.test_cards_tell_how_wood_keeps import Tagged
from tests.storage.test_keeping import CUT


@pytest.fixture
def tagged(database, writer, clock):
    found = Tagged(database, writer, clock)
    found.until(24 * 60).hourly([4.0] * 24 * 60)
    return found


def test_what_counts_most_is_told_to_everybody_and_how_it_is_known_to_members(tagged, browser):
    kept, path = tagged.kept(), f"/T/{tagged.code}"
    pages = [read(browser(), path), read(browser(make_session(tagged.writer, tagged.steward)), path)]
    scanned, member = (words_of(page) for page in pages)

    assert kept.limits_now and kept.limits_then
    assert tagged.scan().keeping.limits in scanned and tagged.scan().keeping.limits in member
    assert tagged.scan().keeping.limits.startswith(f"What counts most by now: {kept.limits_now}")
    assert tagged.scan().keeping.rests_on == []
    assert "temperature measured" not in scanned
    assert "It rests on: temperature measured, humidity assumed, packing assumed" in member
    assert all('href="/science"' in page.text for page in pages)


def test_a_members_scan_is_the_same_all_day(tagged, browser):
    member, path = browser(make_session(tagged.writer, tagged.steward)), f"/T/{tagged.code}"
    tagged.clock.at = CUT.replace(hour=0, minute=5) + timedelta(days=75)
    first = read(member, path).headers["ETag"]
    tagged.clock.move(timedelta(hours=9))

    assert read(member, path).headers["ETag"] == first
