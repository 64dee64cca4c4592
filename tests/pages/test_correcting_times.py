"""The page that puts the time of a cut right, and the page of the cut that tells it."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta

import pytest

from service.collection.queries import list_time_corrections
from tests.bad_input.desk import check_page, typed_in, words_of
from tests.builders.collection import read_collection
from tests.builders.provenance import Yard, make_yard
from tests.builders.trees import make_tree
from tests.pages.desk import fresh, opened, read, send, told_next


@pytest.fixture
def yard(writer, cast) -> Yard:
    return make_yard(writer, cast)


@pytest.fixture
def cut(yard):
    (bundle,) = yard.cut(8, done_at=datetime(2026, 1, 9, 10, 0, 27, tzinfo=UTC))
    return read_collection(yard.database, bundle.collection_id)


def time_of(cut) -> str:
    return f"/collections/{cut.id}/time"


def corrections(yard, cut) -> list:
    with yard.database.reading() as session:
        return list_time_corrections(session, cut.id)


def test_a_pencilled_time_is_taken_by_the_clubs_clock_and_the_old_one_stays_written(yard, client, cut):
    steward = client("steward")
    page = read(steward, time_of(cut))
    assert "The record says 9 January 2026, 10:00 ." in words_of(page)
    assert typed_in(page.text)["done_at"] == ["2026-01-09T10:00"]

    form = opened(steward, time_of(cut), done_at="2025-07-03T10:00", reason="a summer look, the wrong year")
    after = told_next(steward, send(steward, time_of(cut), form))

    # Europe/London keeps summer time in July: one hour ahead of UTC (IANA time zone database).
    assert read_collection(yard.database, cut.id).done_at == datetime(2025, 7, 3, 9, tzinfo=UTC)
    assert "The time is put right." in after
    assert "The time was 9 January 2026, 10:00 , put right to 3 July 2025, 10:00 : a summer look" in after
    bundle = re.search(r'href="(/bundles/[^"]+)"', read(steward, f"/collections/{cut.id}").text)[1]
    assert "corrected from 9 January 2026 , 10:00 to 3 July 2025 , 10:00" in words_of(read(steward, bundle))


def test_a_time_before_the_tree_was_planted_is_taken_and_warned_of(yard, client, writer):
    tree = make_tree(writer, yard.cast.steward, yard.orchard, planted_year=2026)
    (bundle,) = yard.cut(4, tree_id=tree.id)
    path, steward = f"/collections/{bundle.collection_id}/time", client("steward")
    assert f"Tree {tree.number} is said to be planted in 2026." in words_of(read(steward, path))

    form = opened(steward, path, done_at="2025-12-20T11:00", reason="last winter's")
    after = told_next(steward, send(steward, path, form))

    assert "Mind: The record says that this tree was planted in 2026; one of the two is wrong." in after


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("2026-02-15T09:00", "15 February 2026, 09:00"),
        ("2025-03-30T01:30", "This hour was left out that day"),  # clocks went from 01:00 to 02:00 in London
        ("yesterday", "A date and time, like 14 January 2026"),
        ("2026-01-08", "A date and time, like 14 January 2026"),
        ("0001-01-01T00:00", "A time between the years 1900 and 2200"),
        ("", "This is needed"),
        ("2026-01-09T10:00", "That is the time that stands."),
    ],
    ids=["future", "no-such-hour", "words", "day-alone", "year-one", "blank", "unchanged"],
)  # fmt: skip
def test_a_time_that_cannot_be_is_told_at_its_field_with_all_that_was_typed(yard, client, cut, typed, says):
    steward = client("steward")

    answer = send(
        steward, time_of(cut), opened(steward, time_of(cut), done_at=typed, reason="the wrong week")
    )

    told = check_page(answer, 422, "Nothing was written.", at="done_at", keeps={"done_at": typed, "reason": "the wrong week"})  # fmt: skip
    assert says in told
    assert "UTC" not in told
    assert corrections(yard, cut) == []


def test_no_cut_lies_after_its_wood_was_handled_and_that_time_is_told_first(yard, client, cut):
    steward, bundles = client("steward"), read(client("steward"), f"/collections/{cut.id}").text
    bundle_id = re.search(r"/bundles/([0-9a-f-]{36})", bundles)[1]
    yard.hand_over(bundle_id, 2, yard.cast.guest_id)
    yard.writer.clock.move(timedelta(days=3))

    page = words_of(read(steward, time_of(cut)))
    form = opened(steward, time_of(cut), done_at="2026-02-16T09:00", reason="the wrong week")
    refused = send(steward, time_of(cut), form)

    assert "Not after 14 February 2026, 10:00 : then bundle" in page
    assert "was handed over in part" in page
    told = check_page(refused, 409, "The wood was handled before that time", at="done_at")
    assert "was handed over in part at 10:00 on 14 February 2026" in told


def test_a_cut_finished_by_somebody_else_meanwhile_is_refused_then_sent_again(yard, client, cut):
    steward = client("steward")
    form = opened(steward, time_of(cut), done_at="2026-01-08T15:00", reason="the day before")
    other = opened(steward, f"/collections/{cut.id}", note="cut in the rain")
    assert send(steward, f"/collections/{cut.id}", other).status_code == 303

    refused = send(steward, time_of(cut), form)

    check_page(refused, 412, "send it again if it still holds", keeps={"done_at": "2026-01-08T15:00"})
    told_next(steward, send(steward, time_of(cut), {**form, **fresh(refused)}))
    again = send(steward, time_of(cut), {**form, **fresh(refused)})
    assert again.status_code == 303
    assert len(corrections(yard, cut)) == 1
    assert read_collection(yard.database, cut.id).cut_on == date(2026, 1, 8)


def test_a_cut_page_refused_as_stale_shows_what_stands_now(yard, client, cut):
    steward, path = client("steward"), f"/collections/{cut.id}"
    form = opened(steward, path, note="thin wood", owner_agreed="at the gate")
    send(steward, path, opened(steward, path, note="cut in the rain"))

    refused = send(steward, path, form)

    check_page(refused, 412, "What stands now", "Note cut in the rain", keeps={"note": "thin wood"})
    told_next(steward, send(steward, path, {**form, **fresh(refused)}))
    assert read_collection(yard.database, cut.id).note == "thin wood"


def test_a_member_reads_what_was_told_of_a_cut_and_finds_its_bundles(yard, client, cut):
    page = words_of(read(client("member"), f"/collections/{cut.id}"))

    assert "When 9 January 2026, 10:00 Sticks 8" in page
    assert "Tools disinfected yes" in page
    assert "Its bundles ‘Gala’" in page
    assert "Written by" not in page
