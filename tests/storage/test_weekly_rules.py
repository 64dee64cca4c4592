"""When the weekly letter is due, what it says of a week, and when it asks for something."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from service.storage.rules import (
    ANY_SCIONS,
    AlarmKind,
    Call,
    FruitHere,
    Gap,
    KeptWood,
    Rang,
    StoreWeek,
    UseFirst,
    WeekTemps,
    is_letter_due,
    last_moment,
    plan_late,
    plan_use_first,
    week_begins,
    week_temps,
    weekly_text,
    weekly_title,
)
from service.storage.rules.reaching import club_days, late_words, not_reached
from service.storage.rules.weekly import _keeps, next_moment

LONDON, SUNDAY = "Europe/London", 6
NOW = datetime(2026, 2, 18, 9, 0, tzinfo=UTC)  # a Wednesday
LAST_SUNDAY = datetime(2026, 2, 15, 18, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    "now, weekday, hour, zone, moment",
    [
        (NOW, SUNDAY, 18, LONDON, LAST_SUNDAY),
        (LAST_SUNDAY, SUNDAY, 18, LONDON, LAST_SUNDAY),
        (LAST_SUNDAY - timedelta(seconds=1), SUNDAY, 18, LONDON, LAST_SUNDAY - timedelta(days=7)),
        (NOW, 2, 9, LONDON, NOW),
        (NOW, SUNDAY, 18, "Pacific/Auckland", datetime(2026, 2, 15, 5, 0, tzinfo=UTC)),
        # the last Sunday of March lacks 01:00, that of October has it twice (European Union, directive 2000/84/EC)
        (datetime(2026, 3, 30, 12, tzinfo=UTC), SUNDAY, 1, LONDON, datetime(2026, 3, 29, 1, 0, tzinfo=UTC)),
        (datetime(2026, 10, 26, 12, tzinfo=UTC), SUNDAY, 1, LONDON, datetime(2026, 10, 25, 0, 0, tzinfo=UTC)),
    ],
)
def test_the_moment_is_of_the_clubs_own_clock(now, weekday, hour, zone, moment):
    assert last_moment(now, weekday, hour, zone) == moment


@pytest.mark.parametrize("zone", [LONDON, "Pacific/Auckland", "Europe/Berlin"])
@pytest.mark.parametrize(
    "begin", [date(2026, 3, 20), date(2026, 10, 16), date(2026, 4, 1)]
)  # the clocks change, or not
def test_the_next_moment_is_the_first_that_is_not_past(zone, begin):
    at = datetime(begin.year, begin.month, begin.day, tzinfo=UTC)
    hours = [at + timedelta(minutes=30 * n) for n in range(2 * 24 * 20)]

    moments = {last_moment(each, SUNDAY, 1, zone) for each in hours}
    for now in hours[: -2 * 24 * 8]:
        assert next_moment(now, SUNDAY, 1, zone) == min(one for one in moments if one >= now)


@pytest.mark.parametrize(
    "last, due",
    [
        (None, True),
        (LAST_SUNDAY, False),
        (LAST_SUNDAY + timedelta(minutes=3), False),
        (LAST_SUNDAY - timedelta(days=7), True),
        (LAST_SUNDAY - timedelta(days=60), True),  # written late where the service was off
        (LAST_SUNDAY - timedelta(days=3), False),  # where the club changed its day there are not two at once
    ],
)
def test_a_letter_is_due_once_for_each_moment(last, due):
    assert is_letter_due(NOW, last, SUNDAY, 18, LONDON) is due


def test_a_letter_tells_from_the_one_before_on_and_of_two_weeks_at_most():
    assert week_begins(NOW, None) == NOW - timedelta(days=7)
    assert week_begins(NOW, NOW - timedelta(days=9)) == NOW - timedelta(days=9)
    assert week_begins(NOW, NOW - timedelta(days=30)) == NOW - timedelta(days=7)


def test_lowest_mean_highest_and_hours_count_each_reading_for_as_long_as_it_stood():
    hours = np.arange(10, dtype=np.int64) * 3600
    temps = np.array([3.0] * 4 + [-1.0] * 2 + [5.0] * 4)

    told = week_temps(hours, temps, ANY_SCIONS)

    assert told == WeekTemps(-1.0, pytest.approx(3.0), 5.0, 10.0, 4.0, 2.0)
    assert week_temps(hours[:0], temps[:0], ANY_SCIONS) is None


def test_a_reading_before_a_gap_counts_for_three_hours_at_most():
    at = np.array([0, 1, 41], dtype=np.int64) * 3600

    told = week_temps(at, np.array([2.0, 2.0, 2.0]), ANY_SCIONS)

    assert told is not None
    assert told.hours <= 1 + 3 + 3


def test_what_to_use_first_is_what_a_look_found_then_what_lies_longest_for_its_kind():
    today = date(2026, 3, 20)
    wood = [
        KeptWood("young", date(2026, 2, 20), keep_weeks=(8, 24)),
        KeptWood("cherry", date(2025, 12, 20), keep_weeks=(4, 13), keep_mark="from memory, unverified"),
        KeptWood(
            "apricot",
            date(2026, 1, 20),
            keep_weeks=(4, 10),
            keep_mark="published",
            keep_source="Hartmann and Kester",
        ),
        KeptWood("unknown", date(2025, 11, 1)),
        KeptWood("swelling", date(2026, 1, 2), Call.USE_FIRST, "The buds swell."),
        KeptWood("green", date(2026, 1, 3), Call.WARNING, "The buds show green."),
    ]

    told = plan_use_first(wood, today)

    assert [one.name for one in told] == ["green", "swelling", "cherry", "apricot"]
    # what is reckoned goes before what is usual, also where no end was found
    young, late = date(2026, 1, 20), today + timedelta(days=5)
    told_of = {
        "soon": {"keeps_until": late, "keeps_from": today + timedelta(days=2), "keeps_to": today + timedelta(days=15)},
        "now": {"keeps_until": today, "keeps_from": today - timedelta(days=2), "keeps_to": late},
        "far": {"keeps_until": today + timedelta(days=15)}, "endless": {},
    }  # fmt: skip
    reckoned = [
        KeptWood(name, young, keep_weeks=(1, 2), reckoned=True, **more) for name, more in told_of.items()
    ]
    assert [(one.name, one.why) for one in plan_use_first(reckoned, today)] == [
        (
            "now",
            "use it now, and look at it first: fewer than three quarters may be left (reckoned between 18 March 2026 and 25 March 2026)",
        ),
        (
            "soon",
            "three quarters left until 25 March 2026 (between 22 March 2026 and 4 April 2026), as reckoned",
        ),
    ]
    assert _keeps(reckoned[-1], today) == (None, "")
    assert told[2].why == (
        "such wood is usually kept for 4 to 13 weeks, until between 17 January 2026 and 21 March 2026 (from memory, unverified)"
    )
    assert told[3].why.endswith("and 31 March 2026 (published: Hartmann and Kester)")


# -- the letter -------------------------------------------------------------------------------------------------------

ZONE = ZoneInfo(LONDON)
BEGINS, ENDS = datetime(2026, 2, 8, 18, 0, tzinfo=ZONE), datetime(2026, 2, 15, 18, 0, tzinfo=ZONE)
QUIET = StoreWeek("Fridge", ANY_SCIONS, 4, WeekTemps(1.9, 2.6, 3.8, 168, 0, 0))


@pytest.mark.parametrize(
    "more, asks",
    [
        ({}, False),
        ({"logged": WeekTemps(1.9, 2.6, 4.6, 168, 0.9, 0)}, False),
        ({"logged": WeekTemps(1.9, 2.6, 4.6, 168, 1.0, 0)}, True),
        ({"logged": WeekTemps(-1.9, 2.6, 4.0, 168, 0, 2)}, True),
        ({"rang": [Rang(AlarmKind.HEAT, BEGINS, None, 12.0, True)]}, True),
        ({"due": ["Cox: not looked at"]}, True),
        ({"first": [UseFirst("Cox", "the buds swell")]}, True),
        ({"fruit": [FruitHere("apples", BEGINS.date(), None)]}, True),
        ({"fruit": [FruitHere("apples", BEGINS.date(), ENDS.date())]}, False),
        ({"gaps": [Gap("Grey", BEGINS, ENDS)]}, False),
        ({"bundles": 0, "rang": [Rang(AlarmKind.HEAT, BEGINS, None, 12.0, False)]}, False),
    ],
)
def test_what_asks_for_something(more, asks):
    assert StoreWeek(**{**vars(QUIET), **more}).asks is asks


def test_a_quiet_week_is_told_in_a_few_lines():
    assert weekly_title([QUIET]) == "A quiet week in the cold"
    assert weekly_text([QUIET], BEGINS, ENDS).splitlines() == [
        "From 8 February 2026, 18:00 to 15 February 2026, 18:00.",
        "",
        "Fridge",
        "Logged: from 1.9 to 3.8 °C, on average 2.6 °C, over 168 hours.",
        "0 hours too warm and 0 hours too cold: between 0 and 4.4 °C suits the wood here (published).",
        "Nothing is to be done.",
    ]


def test_a_full_week_tells_all_of_it():
    rang = [
        Rang(AlarmKind.HEAT, BEGINS, ENDS - timedelta(days=5), 11.4, True),
        Rang(AlarmKind.FREEZING, BEGINS, None, -8.0, False),
    ]
    week = StoreWeek(
        "Fridge", ANY_SCIONS, 9, WeekTemps(-8.0, 2.6, 11.4, 160, 30, 4), None, rang, [Gap("Grey", BEGINS, BEGINS + timedelta(hours=8))],
        [f"Cox {n}: not looked at" for n in range(7)], [FruitHere("apples", date(2026, 2, 3), None)],
        [UseFirst("Kordia", "the buds swell")],
    )  # fmt: skip

    text = weekly_text([week, StoreWeek("Cellar", ANY_SCIONS, 0, None, (1.0, 5.0))], BEGINS, ENDS)

    assert weekly_title([week]) == "Your week in the cold: what rang, 7 looks due, 1 bundle to use first"
    for line in (
        "30 hours too warm and 4 hours too cold: between 0 and 4.4 °C suits the wood here (published).",
        "It was too warm from 8 February 2026, 18:00 until 10 February 2026, 18:00: 11.4 °C at worst. You were told at once.",
        "It froze from 8 February 2026, 18:00 and no end was measured: -8.0 °C at worst. The readings came too late to tell you at once.",
        "The logger Grey wrote nothing from 8 February 2026, 18:00 to 9 February 2026, 02:00 (8 hours).",
        "To look at:",
        "- Cox 4: not looked at",
        "- and 2 more",
        "- Kordia: the buds swell",
        "Read by hand: from 1.0 to 5.0 °C.",
        "No wood lies in it.",
        (
            "How long wood keeps is reckoned, or usual for its kind, and was not seen: look before you graft. "
            "By which numbers, and from whom, stands on the club’s pages under /science."
        ),
    ):
        assert line in text.splitlines()
    assert "- Cox 5" not in text
    assert "Ripening fruit (apples) lay in it from 3 February 2026 and still lies there: take it out." in text


# -- the days of the club ----------------------------------------------------------------------------------------------


def test_wood_falls_short_of_a_day_that_comes_after_its_end_and_not_of_that_day_itself():
    days = club_days(date(2026, 2, 14), date(2026, 3, 21))
    exchange, grafting = days

    assert not_reached(date(2026, 2, 13), days, date(2026, 2, 1)) == [exchange, grafting]
    assert not_reached(date(2026, 2, 14), days, date(2026, 2, 1)) == [grafting]
    assert not_reached(date(2026, 3, 21), days, date(2026, 2, 1)) == []
    assert not_reached(None, days, date(2026, 2, 1)) == []  # no end was found
    assert not_reached(date(2026, 1, 1), days, date(2026, 2, 15)) == [grafting]  # the exchange is over
    assert club_days(None, None) == []


def test_a_letter_names_what_hardly_keeps_until_a_day_of_the_next_eight_weeks():
    today, spring = date(2026, 2, 20), date(2026, 3, 21)
    wood = [
        KeptWood("plum", date(2026, 1, 10), reckoned=True, keeps_until=date(2026, 3, 20)),
        KeptWood("pear", date(2026, 1, 10), reckoned=True, keeps_until=spring),
        KeptWood("apple", date(2025, 12, 1), keep_weeks=(8, 15)),  # until 16 March, by its age
        KeptWood("fig", date(2025, 12, 1)),
    ]

    (late,) = plan_late(wood, club_days(None, spring), today)

    assert (late.day.words, late.names) == ("grafting day on 21 March 2026", ["apple", "plum"])
    assert plan_late(wood, club_days(None, today + timedelta(weeks=8, days=1)), today) == []
    text = weekly_text([StoreWeek("Cellar", ANY_SCIONS, 4, late=[late])], NOW, NOW)
    assert (
        "Hardly keeps until grafting day on 21 March 2026: fewer than three quarters are likely left" in text
    )
    assert "- apple\n- plum" in text
    assert "Nothing is to be done." not in text


def test_how_many_fall_short_is_told_of_each_day_and_as_the_least_where_the_list_was_cut_off():
    exchange, grafting = club_days(date(2026, 2, 14), date(2026, 3, 21))
    missed = [[exchange, grafting], [grafting], []]

    assert late_words(missed).startswith(
        "1 bundle hardly keeps until the exchange on 14 February 2026 and 2 until grafting day on 21 March 2026: fewer"
    )
    assert late_words(missed, date(2026, 3, 1)).startswith("1 bundle hardly keeps until the exchange")
    assert " and at least 2 until grafting day" in late_words(missed, date(2026, 3, 1))
    assert late_words([[grafting]], date(2026, 2, 1)).startswith(
        "At least 1 bundle hardly keeps until grafting"
    )
    assert late_words([[], []]) == ""


def test_of_wood_that_hardly_keeps_no_colder_store_is_advised():
    """Citrus, avocado and olive are kept above 4 °C (Scientia Agricola 2008, 65(4): citrus budsticks at 5 ± 1 °C): colder harms them."""
    days = club_days(None, date(2026, 3, 21))
    wood = [
        KeptWood("lemon", date(2026, 1, 10), reckoned=True, keeps_until=date(2026, 3, 1)),
    ]
    late = plan_late(wood, days, date(2026, 2, 20))
    letter = weekly_text([StoreWeek("Cellar", ANY_SCIONS, 1, late=late)], NOW, NOW)

    for told in (late_words([days]), letter):
        assert "or see on its page whether it would keep longer in another store" in told
        assert "colder store" not in told
