"""What labels say, and what they never say."""

from datetime import date

import pytest

from service.tags.rules.labels import (
    box_words,
    bundle_words,
    day_in_words,
    plant_words,
    rights_mark,
    store_words,
    tree_words,
    wood_name,
)
from tests.builders.tags import CUT_ON, TODAY, make_wood_name


def test_a_day_cannot_be_read_the_wrong_way_round() -> None:
    assert day_in_words(date(2026, 3, 4)) == "4 Mar 2026"


def test_the_epithet_stands_in_single_quotation_marks_and_the_trade_designation_apart_without() -> None:
    # ICNCP, 9th edition (2016), as given in public summaries: epithet in single quotation marks, trade designation without.
    name = wood_name(
        "Apple",
        epithet="Cripps Pink",
        trade_designation="Pink Lady",
        as_told="",
        protection="free",
        protected_until=None,
    )

    assert (name.variety, name.trade_designation) == ("‘Cripps Pink’", "PINK LADY")


def test_a_name_nobody_is_sure_of_says_so() -> None:
    def told(as_told: str) -> str:
        return wood_name(
            "Pear", epithet="", trade_designation="", as_told=as_told, protection=None, protected_until=None
        ).variety

    assert told("Grandfather's pear") == "Grandfather's pear (as told)"
    assert told("") == "variety not known"


def test_a_bundle_says_kind_variety_cut_date_sticks_and_tree() -> None:
    words = bundle_words(make_wood_name(), cut_on=CUT_ON, sticks=12, tree="tree 7", today=TODAY)

    assert words.heading == "Apple · scionwood"
    assert (words.lead, words.large) == ("cut", "14 Jan 2026")
    assert words.details == ("12 sticks when cut", "tree 7")
    assert words.rights == ""


@pytest.mark.parametrize(("changes", "said"), [
    ({"sticks": 1}, "1 stick when cut"),
    ({"received": True}, "12 sticks when received"),
    ({"shared": True, "received": True}, "12 sticks when shared out"),
])  # fmt: skip
def test_the_sticks_are_those_of_the_day_they_were_counted(changes: dict, said: str) -> None:
    words = bundle_words(
        make_wood_name(), **{"cut_on": CUT_ON, "sticks": 12, "tree": "tree 7", "today": TODAY, **changes}
    )

    assert words.details[0] == said


def test_summer_budwood_is_named_as_such() -> None:
    assert (
        bundle_words(make_wood_name(), cut_on=CUT_ON, sticks=3, tree="", today=TODAY, summer=True).heading
        == "Apple · summer budwood"
    )


@pytest.mark.parametrize(("protection", "until", "contract", "mark"), [
    ("free", None, False, ""),
    ("unknown", None, False, ""),
    ("protected", None, False, "Protected"),
    ("protected", date(2031, 3, 1), False, "Protected until 1 Mar 2031"),
    ("protected", TODAY, False, "Protected until 14 Feb 2026"),
    ("protected", date(2026, 2, 13), False, ""),
    ("applied", None, False, "Protection applied for"),
    ("permission", date(2031, 3, 1), False, "Protected until 1 Mar 2031: club has permission"),
    ("permission", date(2020, 3, 1), False, ""),
    ("free", None, True, "No propagation: contract"),
    ("protected", None, True, "No propagation: contract · Protected"),
])  # fmt: skip
def test_a_rights_mark_is_printed_where_rights_rest(
    protection: str, until: date | None, contract: bool, mark: str
) -> None:
    name = make_wood_name(protection=protection, protected_until=until)

    assert rights_mark(name, today=TODAY, no_propagation=contract) == mark


def test_a_plant_says_scion_stock_and_date() -> None:
    words = plant_words(make_wood_name(), stock="M.26", grafted_on=date(2026, 4, 12), number=23, today=TODAY)

    assert (words.name, words.second, words.lead, words.large) == (
        "‘Ashmead’s Kernel’",
        "on M.26",
        "grafted",
        "12 Apr 2026",
    )


def test_a_plant_of_a_trade_designation_says_that_too() -> None:
    name = make_wood_name(variety="‘Cripps Pink’", trade_designation="PINK LADY")

    assert (
        plant_words(name, stock="M.9", grafted_on=CUT_ON, number=1, today=TODAY).second == "PINK LADY on M.9"
    )


def test_tree_box_and_store_say_what_they_are() -> None:
    tree = tree_words(make_wood_name(), number=117, planted_year=1998, today=TODAY, stands_on="M.26")

    assert (tree.heading, tree.lead, tree.large) == ("Apple · source tree", "tree", "117")
    assert tree.details == ("planted about 1998", "on M.26")
    assert (box_words("Blue crate").heading, box_words("Blue crate").name) == ("Box", "Blue crate")
    assert store_words("Garage fridge", kind="fridge").heading == "Store · fridge"
