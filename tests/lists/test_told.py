"""What a list tells of itself before it is taken. The club, its people and its places are invented."""

from __future__ import annotations

import io
from typing import Any

import openpyxl
import pytest
from sqlalchemy import select

from service.catalogue.rules import fold_name
from service.catalogue.tables import CultivarName
from service.lists.routes import router
from service.lists.rules import ListSort, guess_columns
from service.trees.tables import Site, SourceTree
from tests.builders.trees import _add, make_orchard
from tests.lists.moving import as_csv, look_at, put, send, take
from tests.storage.desk import Desk


@pytest.fixture
def desk(database, writer, clock) -> Desk:
    desk = Desk(database, writer, clock, router)
    desk.orchard = make_orchard(writer, desk.askers["steward"])  # type: ignore[attr-defined]
    return desk


def workbook(rows: list[list[Any]], merged: str = "") -> bytes:
    book, made = openpyxl.Workbook(), io.BytesIO()
    for row in rows:
        book.active.append(row)
    if merged:
        book.active.merge_cells(merged)
    book.save(made)
    return made.getvalue()


@pytest.mark.parametrize(("merged", "told"), [("B2:B3", 1), ("", 0)])
def test_merged_cells_are_told_for_only_the_first_of_them_holds_a_value(desk, merged, told):
    rows = [
        ["Variety", "Kind", "Site"],
        ["Gala", "Apple", "Long Meadow"],
        ["Bramley", "Apple", "Long Meadow"],
    ]

    notices = look_at(desk, send(desk, workbook(rows, merged), name="old.xlsx"))["notices"]

    assert [one["words"].partition(":")[0] for one in notices] == ["Cells are merged in it"] * told


@pytest.mark.parametrize("header", [["Fruit", "Kind", "Sticks"], ["Kind", "Fruit", "Sticks"]])
def test_a_column_by_the_very_word_comes_before_one_by_another_word_for_it(header):
    assert guess_columns(ListSort.WOOD, header)["kind"] == "Kind"


GRAFTS = [
    ["Date", "Scion variety", "Kind", "Rootstock", "Amount", "Took"],
    ["5.4.2025", "Gala", "Apple", "M.9", "3", "2 of 3"],
]


def test_grafts_whose_number_no_column_tells_say_which_column_is_missing(desk):
    list_id = send(desk, as_csv(GRAFTS), sort="grafts")
    seen = look_at(desk, list_id)
    put(
        desk,
        list_id,
        "form",
        columns={
            **{one["name"]: one["heading"] for one in seen["columns"] if one["heading"]},
            "grafts": "Amount",
        },
    )

    (row,) = seen["report"]
    assert (
        row["words"]
        == "2 of 3 cannot have taken of one graft: no column tells how many were made, so one is meant"
    )
    assert row["todo"] == "Choose the column “How many”, or fill this row’s cell of it."
    assert look_at(desk, list_id)["report"] == []


def test_a_number_below_nought_is_said_to_be_too_few(desk):
    list_id = send(desk, as_csv([["Variety", "Kind", "Sticks"], ["Gala", "Apple", "-4"]]), sort="wood")

    assert [one["words"] for one in look_at(desk, list_id)["report"]] == [
        "“-4” is too few: a whole number, 0 or more"
    ]


def test_a_formula_without_a_value_in_a_note_stays_there_as_it_shows_and_costs_no_row(desk, database):
    rows = [
        ["Variety", "Kind", "Site", "Planted", "Notes"],
        ["Gala", "Apple", "Long Meadow", 1998, "=1+1"],
        ["Gala", "Apple", "Long Meadow", "=2+2", ""],
    ]
    list_id = send(desk, workbook(rows), name="old.xlsx")

    assert [(one["line"], one["column"]) for one in look_at(desk, list_id)["report"]] == [(3, "Planted")]
    assert take(desk, list_id, leave_refused=True).json()["brought"] == 1
    with database.reading() as session:
        assert [tree.note for tree in session.execute(select(SourceTree)).scalars()] == ["=1+1"]


def test_the_area_of_a_new_site_is_asked_once_and_what_is_matched_made_new_or_not_read_is_told(desk, writer):
    name = CultivarName(
        cultivar_id=desk.orchard.bramley_id, name="Bramley’s", kind="synonym", folded=fold_name("Bramley’s")
    )
    writer.write_now(_add, None, [name])
    rows = [
        ["Variety", "Kind", "Site", "Owner", "Weather"],
        *([["Bramley’s", "Apple", "Hollow Orchard", "Bo Fenwick", "wet"]] * 26),
    ]
    list_id = send(desk, as_csv(rows))

    (asked,) = look_at(desk, list_id)["questions"]
    put(desk, list_id, "answers", answers={asked["key"]: str(desk.orchard.area_id)})
    seen = look_at(desk, list_id)

    assert (asked["what"], asked["spelling"], asked["rows"]) == ("site_area", "Hollow Orchard", 26)
    assert [one["words"] for one in asked["options"]] == ["North Vale", "South Shore", "leave these rows out"]
    assert seen["counts"]["taken"] == 26
    assert list(seen["read_as"]) == ["Bramley’s"] and "Bramley" in seen["preview"][0]["variety.is"]
    assert (seen["made_new"], seen["unread"]) == (["Hollow Orchard", "Bo Fenwick"], ["Weather"])


def test_a_new_name_that_is_near_another_new_one_is_asked_about_and_both_can_be_one(desk, database):
    head = ["Variety", "Kind", "Site", "Area"]
    rows = [["Gala", "Apple", one, "North Vale"] for one in ("Hollow Orchard", "Hollow orchrd", "Far Bank")]
    list_id = send(desk, as_csv([head, *rows]))

    (asked,) = look_at(desk, list_id)["questions"]
    put(desk, list_id, "answers", answers={asked["key"]: asked["options"][0]["value"]})
    taken = take(desk, list_id)

    assert (asked["what"], asked["spelling"]) == ("site", "Hollow orchrd")
    assert asked["options"][0]["words"] == "Hollow Orchard, new in line 2"
    assert (taken.status_code, taken.json().get("brought")) == (201, 3), taken.text
    with database.reading() as session:
        new = set(session.execute(select(Site.name)).scalars()) - {"Long Meadow"}
    assert new == {"Hollow Orchard", "Far Bank"}


def book_of(**sheets: list[list[Any]]) -> bytes:
    book, made = openpyxl.Workbook(), io.BytesIO()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(made)
    return made.getvalue()


def test_a_file_is_read_as_one_before_it_was_only_where_it_can_be(desk):
    cover, head = [["Year", "Weather"], ["2025", "wet"]], ["Variety", "Kind", "Site"]
    trees = [head, *([["Gala", "Apple", "Long Meadow"]] * 3)]
    first = send(desk, book_of(Cover=cover, Trees=trees), name="a.xlsx")
    columns = {"variety": "Variety", "kind": "Kind", "site": "Site"}
    put(desk, first, "form", sheet="Trees", columns=columns)

    like = look_at(desk, send(desk, book_of(Cover=cover, Trees=trees[:3]), name="b.xlsx"))
    unlike = look_at(desk, send(desk, book_of(Cover=cover, Bushes=trees), name="c.xlsx"))

    assert (like["sheet"], like["rows"], like["counts"]["taken"]) == ("Trees", 2, 2)
    assert like["told"][0].startswith("Read as the list a.xlsx of ")
    assert (unlike["sheet"], unlike["rows"], unlike["told"], unlike["problem"]) == ("Cover", 1, [], "")
