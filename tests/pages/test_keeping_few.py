"""How a bundle keeps where little is left: nobody may read a nought as dead, and few grafts tell nothing of far ahead."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from service.pages.pictures.keeping import keeping_picture, weeks_of
from service.storage.rules import keeping_words as words
from service.storage.schemas.keeping import KeepingCurve, KeepingRead, KeepingShare, WayRead, WaySpan

CUT = datetime(2026, 1, 10, tzinfo=UTC)
NOW = CUT + timedelta(days=8)
EXPECTED = [97, 90, 60, 25, 24, 7, 4, 0]
LOW, HIGH = [96, 70, 20, 3, 0, 0, 0, 0], [98, 95, 80, 50, 45, 26, 12, 3]


def told(*, share_first=False, expected=EXPECTED, now=(0.88, 0.68, 0.94)):
    share = KeepingShare(expected=now[0], low=now[1], high=now[2])
    curve = KeepingCurve(begins_at=CUT, past=2, expected=expected, low=LOW, high=HIGH)
    return KeepingRead.model_construct(
        as_of=NOW, share=share, curve=curve, share_first=share_first, keeps_words="",
        share_words=words.share_words(*now),
    )  # fmt: skip


WAY = WayRead(spans=[WaySpan(store_name="Fridge", from_at=CUT, until_at=NOW)], marks=[])


def rows(found):
    return [week.words for week in weeks_of(found, WAY)]


def test_below_five_of_a_hundred_the_table_says_a_few():
    assert rows(told(share_first=True)) == [
        "97 (96–98)", "90 (70–95)", "88 (68–94)", "60 (20–80)", "25 (a few–50)", "24 (a few–45)", "7 (a few–26)",
        "a few (a few–12)", "a few",
    ]  # fmt: skip


@pytest.mark.parametrize("now", [(0.07, 0.0, 0.26), (0.03, 0.0, 0.1), (0.0, 0.0, 0.02)])
def test_the_words_beside_the_picture_name_no_number_below_five(now):
    said = words.share_words(*now)
    drawn = keeping_picture(told(now=now), WAY, "Cox", zone="UTC")

    described = drawn.partition("<desc")[2].partition("</desc>")[0]
    assert said in described
    numbers = [
        int(each) for each in said.partition("100 sticks")[2].replace(".", " ").split() if each.isdigit()
    ]
    assert all(each >= words.FEW for each in numbers)
    assert "a few" in said


def test_of_few_judged_grafts_the_curve_ahead_ends_where_it_falls_under_a_quarter():
    sparse, many = told(), told(share_first=True)

    assert rows(sparse)[-1] == "25 (a few–50)"
    assert len(rows(many)) == 9
    ends = [keeping_picture(each, WAY, "Cox", zone="UTC").count("L") for each in (sparse, many)]
    assert ends[0] < ends[1]


def test_what_lies_behind_us_stays_whole_and_today_is_told_however_little_is_left():
    gone = told(expected=[97, 20, 10, 5, 2, 0, 0, 0], now=(0.15, 0.05, 0.4))

    assert [week.when for week in weeks_of(gone, WAY)] == ["so far", "so far", "now"]
    assert keeping_picture(gone, WAY, "Cox", zone="UTC")


def spans(*stays):
    at, found = CUT, []
    for name, days in stays:
        found.append(WaySpan(store_name=name, from_at=at, until_at=at + timedelta(days=days)))
        at = found[-1].until_at
    return WayRead(spans=found, marks=[])


def test_where_a_stores_name_has_no_room_all_are_numbers_told_whole_below():
    way = spans(("Bram’s garage fridge", 5), ("Vauchelin cellar", 0.5), ("Bram’s garage fridge", 2.5))

    for width in (360, 720):
        drawn = keeping_picture(told(share_first=True), way, "Cox", zone="UTC", width=width)

        assert ">1 Bram’s garage fridge<" in drawn
        assert ">2 Vauchelin cellar<" in drawn
        assert "…" not in drawn
        assert ">1</tspan>" in drawn and ">2</tspan>" in drawn


def test_what_lies_ahead_leaves_what_was_lived_through_a_third_of_the_picture_or_twelve_weeks():
    long = told(share_first=True, expected=[97, 96, *range(95, 60, -1)])
    curve = KeepingCurve(begins_at=CUT, past=2, expected=long.curve.expected, low=[50] * 37, high=[98] * 37)
    drawn = keeping_picture(long.model_copy(update={"curve": curve}), WAY, "Cox", zone="UTC")

    months = [month for month in "Jan Feb Mar Apr May Jun Jul Aug Sep".split() if f">{month}<" in drawn]
    assert months[-1] == "Apr"  # 18 January and twelve weeks
    assert len(weeks_of(long.model_copy(update={"curve": curve}), WAY)) == 38
