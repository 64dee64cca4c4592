"""A share as programs are told it: a word, and a number with its band; below five of a hundred none, as on the pages."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from service.storage.rules.keeping_words import ShareWord, outward, share_word, until_told_then
from service.storage.schemas.keeping import KeepingCurve, KeepingRead, KeepingShare
from service.storage.schemas.learned import CameTrue
from tests.storage.test_keeping import Shelf


@pytest.fixture
def shelf(database, writer, clock):
    return Shelf(database, writer, clock)


@pytest.mark.parametrize(
    "share, word, told",
    [
        (0.0003, "few", None), (0.0449, "few", None), (0.0451, "less_than_half", 0.05), (0.4949, "less_than_half", 0.49),
        (0.4951, "half", 0.5), (0.7449, "half", 0.74), (0.7451, "three_quarters", 0.75), (0.962847, "three_quarters", 0.96),
    ],
)  # fmt: skip
def test_each_share_has_its_word_and_a_number_from_five_of_a_hundred_on(share, word, told):
    assert (share_word(share), outward(share)) == (word, told)


def test_a_share_below_five_of_a_hundred_is_told_by_its_word_alone():
    told = KeepingShare(expected=0.031, low=0.0002, high=0.26).model_dump(mode="json")

    assert told == {"expected": None, "low": None, "high": 0.26, "word": "few"}


def test_a_curve_is_told_so_week_by_week():
    begins = datetime(2026, 1, 1, tzinfo=UTC)
    curve = KeepingCurve(begins_at=begins, past=1, expected=[97, 50, 4], low=[90, 3, 0], high=[97, 80, 30])

    told = curve.model_dump(mode="json")

    assert (told["expected"], told["low"], told["high"]) == ([97, 50, None], [90, None, None], [97, 80, 30])
    assert told["words"] == ["three_quarters", "half", "few"]


def test_what_was_told_of_grafts_that_were_judged_is_told_so_too():
    told = CameTrue(species_group="apple", tenth=0, grafts=3, taken=0, told=0.012).model_dump(mode="json")

    assert (told["told"], told["word"]) == (None, "few")


def test_what_is_stored_keeps_every_digit_and_is_read_again(shelf):
    shelf.until(24 * 60).hourly([4.0] * 24 * 60)
    read = shelf.told()
    poor = read.model_copy(update={"share": KeepingShare(expected=0.0123, low=0.0004, high=0.2)})

    assert KeepingRead.model_validate(poor.as_kept()) == poor
    assert poor.as_kept()["share"] == {"expected": 0.0123, "low": 0.0004, "high": 0.2}
    assert KeepingRead.model_validate(read.as_kept()) == read


def test_no_answer_of_the_api_tells_so_few_as_a_number(shelf, client):
    """Wood that was warm for months: reckoned, listed, and in another store."""
    shelf.until(24 * 120).hourly([10.0] * 24 * 120)
    shelf.work()
    api = client("steward")

    answers = [
        api.get(f"/api/bundles/{shelf.bundle}/{what}").json()
        for what in ("keeping", "elsewhere", "forecasts")
    ]
    answers.append(api.get("/api/use-first").json())

    shares = [one for answer in answers for one in shares_in(answer)]
    assert len(shares) >= 3
    assert ShareWord.FEW in {one["word"] for one in shares}
    for one in shares:
        assert (one["expected"] is None) is (one["word"] == ShareWord.FEW)
        assert all(one[end] is None or one[end] >= 0.05 for end in ("expected", "low", "high"))


def shares_in(told):
    if isinstance(told, dict):
        found = [told["share"]] if isinstance(told.get("share"), dict) else []
        return found + [each for one in told.values() for each in shares_in(one)]
    return [each for one in told for each in shares_in(one)] if isinstance(told, list) else []


@pytest.mark.parametrize(
    "until, first, last, told",
    [
        (16, 15, 17, "three quarters left until 16 February 2026 (between 15 February 2026 and 17 February 2026), as reckoned"),
        (15, 15, 16, "it was below three quarters already, as reckoned; at the late end on 16 February 2026"),
        (15, 15, None, "it was below three quarters already, as reckoned; at the late end over two years later"),
        (15, 15, 15, "it was below three quarters already, as reckoned"),
        (14, None, None, "it was below three quarters already, as reckoned; how far that may be out was not kept"),
    ],
)  # fmt: skip
def test_what_was_past_three_quarters_as_it_was_told_is_told_so(until, first, last, told):
    day = date(2026, 2, 15)
    ends = [None if each is None else day.replace(day=each) for each in (until, first, last)]

    assert until_told_then(*ends, day) == told
