"""The one line that tells how wood keeps wherever a bundle is shown."""

from __future__ import annotations

from datetime import date, timedelta
from types import SimpleNamespace

import pytest

from service.storage.rules.keeping_short import looked_words, one_line, short_words
from service.storage.rules.keeping_words import NO_SUMMER, inputs_told, known_for, usual_words

TODAY = date(2026, 2, 1)
LOOK = "Looked at on 20 January 2026: Nothing wrong was seen."
SHARE = "some 80 (61–88) of 100 fit so far (partly measured temperatures; mould), "
LEFT = f"{SHARE}below three quarters 21 February 2026 – 21 March 2026: the buds come on"


def kept(**changes):
    """Wood cut on 6 December 2025, of a kind that is usually kept for 12 to some 15 weeks."""
    told = {
        "cut_on": date(2025, 12, 6), "usual_weeks": (12, 15), "look_words": LOOK, "found_on": None, "found_words": "",
        "share": SimpleNamespace(expected=0.802, low=0.61, high=0.883), "share_words": "", "share_first": False, "hazard": "mould",
        "inputs": [SimpleNamespace(what="temperature", how="measured for 95 % of its hours, else assumed")],
        "store_id": "a fridge", "keeps_until": date(2026, 3, 1), "keeps_from": date(2026, 2, 21), "keeps_to": date(2026, 3, 21),
        "limits_then": "the buds come on",
    }  # fmt: skip
    return SimpleNamespace(**{**told, **changes})


def short(today=TODAY, **changes):
    return list(short_words(kept(**changes), today))


def test_the_look_and_the_usual_time_stand_first_until_grafts_were_judged():
    usual = "usually kept until 28 February 2026 – 21 March 2026"

    assert short() == [LOOK, usual, LEFT]
    assert short(share_first=True) == [LEFT, usual, LOOK]
    assert short(share_first=True, found_on=TODAY) == [
        LOOK,
        usual,
        LEFT,
    ]  # a look that asks for its use stands first


def test_of_stopped_wood_and_of_none_nothing_is_told():
    assert short_words(kept(), TODAY, stopped=True) == ()
    assert short_words(kept(), TODAY, on_hand=0) == ()


def test_what_was_never_reckoned_says_so():
    assert short_words(None, TODAY) == ("how it keeps is not reckoned yet",)


@pytest.mark.parametrize(
    "changes, words",
    [
        ({"keeps_from": date(2026, 1, 20)}, "below three quarters now – 21 March 2026: the buds come on"),
        ({"keeps_to": None}, "below three quarters 21 February 2026 – over two years: the buds come on"),
        ({"limits_then": ""}, "below three quarters 21 February 2026 – 21 March 2026"),
        ({"keeps_until": TODAY, "keeps_from": date(2026, 1, 20)},
         ("use it now, and look at it first: fewer than three quarters may be left (reckoned between 20 January 2026 and "
          "21 March 2026: the buds come on)")),
        ({"keeps_until": None, "keeps_to": None},
         "three quarters are left until 21 February 2026 at the earliest, likely for over two years"),
        ({"keeps_until": None, "keeps_from": None, "keeps_to": None}, "keeps for over two years as its store is now"),
        ({"store_id": None, "keeps_until": None, "keeps_from": None, "keeps_to": None},
         "it lies in no store, so how long it keeps is not reckoned"),
        ({"share": None, "keeps_until": None}, "too little is known of its way to reckon how long it keeps"),
    ],
)  # fmt: skip
def test_never_a_date_alone(changes, words):
    assert short(**changes)[2] == ("" if "share" in changes else SHARE) + words


@pytest.mark.parametrize(
    "changes, words",
    [
        ({"share": SimpleNamespace(expected=0.02, low=0.0, high=0.04)}, "a few of 100 fit so far (partly measured"),
        ({"share": SimpleNamespace(expected=0.07, low=0.01, high=0.26)}, "some 7 (a few–26) of 100 fit"),
        ({"inputs": [SimpleNamespace(what="temperature", how="by hand")]}, "so far (hand-read temperatures; mould), "),
        ({"inputs": [SimpleNamespace(what="temperature", how="measured")], "hazard": ""}, "so far (measured temperatures), "),
        ({"share": SimpleNamespace(expected=0.97, low=0.968, high=0.974)}, "some 97 (within one) of 100 fit so far"),
        ({"inputs": []}, "so far (assumed temperatures; mould), "),
    ],
)  # fmt: skip
def test_a_share_in_a_list_has_its_band_and_what_it_rests_on(changes, words):
    assert words in short(**changes)[2]


def test_an_end_that_is_past_is_called_so():
    assert short(date(2026, 4, 1))[1] == "usually kept until 28 February 2026 – 21 March 2026, which is past"


def test_a_kind_of_which_no_usual_time_is_known_says_so():
    assert short(usual_weeks=None)[1] == "how long its kind is usually kept is not known here"


def test_summer_budwood_has_no_winter_ahead():
    assert short(share=None, share_words=NO_SUMMER) == [LOOK, NO_SUMMER]


@pytest.mark.parametrize(
    "changes, words",
    [
        ({}, ("week 8 of 12–15", "21 February 2026 – 21 March 2026")),
        ({"share_first": True}, ("21 February 2026 – 21 March 2026", "week 8 of 12–15")),
        ({"keeps_from": date(2026, 1, 20)}, ("week 8 of 12–15", "now – 21 March 2026")),
        ({"keeps_to": None}, ("week 8 of 12–15", "21 February 2026 – over two years")),
        ({"keeps_until": TODAY}, ("week 8 of 12–15", "use now, look first")),
        ({"keeps_until": None, "keeps_from": None, "keeps_to": None}, ("week 8 of 12–15", "over two years")),
        ({"keeps_until": None, "keeps_to": None}, ("week 8 of 12–15", "21 February 2026 – over two years")),
        ({"keeps_until": None, "store_id": None}, ("week 8 of 12–15", "in no store")),
        ({"share": None}, ("week 8 of 12–15",)),
        ({"usual_weeks": None}, ("week 8, usual time not known", "21 February 2026 – 21 March 2026")),
        ({"share_words": NO_SUMMER}, ("summer budwood: use within days",)),
        ({"found_on": TODAY, "found_words": "The buds swell: it was kept too warm. Use it first."},
         ("The buds swell, seen 1 February 2026",)),
    ],
)  # fmt: skip
def test_one_line_of_a_long_list_tells_what_decides(changes, words):
    assert one_line(kept(**changes), TODAY) == words


def test_when_it_was_looked_at_is_told_in_two_words():
    assert looked_words(kept()) == "looked 20 January 2026"
    assert looked_words(kept(look_words="Nobody has looked at it yet.")) == "no look yet"


@pytest.mark.parametrize(
    "known, hours, how",
    [
        ((953, 0), 1007, "measured for 95 % of its hours, else assumed"), ((953, 0), 953, "measured"), ((0, 0), 54, "assumed"),
        ((0, 54), 54, "by hand"), ((30, 60), 100, "measured for 30 % of its hours, by hand for 60 %, else assumed"),
        ((30, 70), 100, "measured for 30 % of its hours, else by hand"),
        ((1, 0), 954, "measured for less than 1 % of its hours, else assumed"),
        ((953, 0), 954, "measured for 99 % of its hours, else assumed"), ((0, 90), 100, "by hand for 90 % of its hours, else assumed"),
    ],
)  # fmt: skip
def test_how_hours_are_known_is_told_by_their_part_and_never_all_or_none_where_it_is_neither(
    known, hours, how
):
    assert known_for(dict(zip(("measured", "by hand"), known, strict=True)), hours) == how


def test_one_measured_hour_does_not_make_a_humidity_measured():
    hours = {"measured": 900, "assumed": 100, "damp": 1}
    told = {
        what: (how, words)
        for what, how, words in inputs_told(
            hours, None, weighed=False, looks=0, at_cut=None, chill=None, fruit=False
        )
    }

    assert told["temperature"][0] == "measured for 90 % of its hours, else assumed"
    assert told["humidity"] == (
        "measured for less than 1 % of its hours, else assumed",
        "1 hour; 80 % in 999 other hours",
    )


@pytest.mark.parametrize(
    "weeks, told",
    [(4, "well within that time"), (8, "well within that time"), (9, "late in that time"), (24, "late in"), (25, "longer than that")],
)  # fmt: skip
def test_without_any_temperature_only_age_speaks(weeks, told):
    cut_on = date(2026, 1, 10)

    said = usual_words(cut_on, cut_on + timedelta(weeks=weeks), (8, 24), "common practice, no source")

    assert f"It was cut {weeks} weeks ago, {told}" in said
