"""Files as clubs really send them, and files that are broken; the whole record is compared before and after."""

from __future__ import annotations

import io
from typing import Any

import openpyxl
import pytest
import xlsxwriter
from sqlalchemy import select

from service.catalogue.rules import fold_name
from service.catalogue.tables import CultivarName
from service.lists.routes import router
from service.trees.tables import SourceTree
from tests.builders.trees import _add, make_orchard
from tests.lists.moving import OF_A_LIST, as_csv, every_row, look_at, put, send, take
from tests.storage.desk import Desk

HEADER = ["Variety", "Kind", "Site", "Owner", "Planted", "Notes"]


@pytest.fixture
def desk(database, writer, clock) -> Desk:
    desk = Desk(database, writer, clock, router)
    desk.orchard = make_orchard(writer, desk.askers["steward"])  # type: ignore[attr-defined]
    return desk


def trees(database) -> list[SourceTree]:
    with database.reading() as session:
        return list(session.execute(select(SourceTree).order_by(SourceTree.number)).scalars())


def workbook(rows: list[list[Any]], *, merged: str = "") -> bytes:
    book, made = openpyxl.Workbook(), io.BytesIO()
    for row in rows:
        book.active.append(row)
    if merged:
        book.active.merge_cells(merged)
    book.save(made)
    return made.getvalue()


def written_by_xlsxwriter(rows: list[list[Any]], *, merged: tuple[Any, ...] = ()) -> bytes:
    made = io.BytesIO()
    book = xlsxwriter.Workbook(made, {"in_memory": True})
    sheet = book.add_worksheet()
    for place, row in enumerate(rows):
        for column, cell in enumerate(row):
            if isinstance(cell, tuple):
                sheet.write_formula(place, column, cell[0], value=cell[1])
            elif cell is not None:
                sheet.write(place, column, cell)
    if merged:
        sheet.merge_range(*merged)
    book.close()
    return made.getvalue()


def refused(desk: Desk, raw: bytes, *, sort: str = "trees") -> Any:
    path = f"/api/lists?list_id=7d1f7f0e-6a0e-4f43-9a3b-0f4f4f6f1a11&sort={sort}&name=old.xlsx"
    return desk.ask("steward", "POST", path, content=raw, headers={"Idempotency-Key": "send-it-now"})


def test_a_formula_gives_what_its_program_worked_out_and_is_refused_where_it_has_nothing(desk, database):
    worked_out = written_by_xlsxwriter(
        [HEADER, ["Gala", "Apple", "Long Meadow", "", ("=1990+8", 1998), "sound"]]
    )
    never = workbook([HEADER, ["Gala", "Apple", "Long Meadow", None, "=1990+8", "never worked out"]])

    assert take(desk, send(desk, worked_out)).json()["brought"] == 1
    bare = look_at(desk, send(desk, never))

    assert [tree.planted_year for tree in trees(database)] == [1998]
    assert [(one["line"], one["column"]) for one in bare["report"]] == [(2, "Planted")]
    assert "=1990+8" in bare["report"][0]["words"]


@pytest.mark.parametrize("library", ["openpyxl", "xlsxwriter"])
def test_merged_cells_count_once_and_the_rows_below_are_told_what_they_lack(desk, database, library):
    rows = [
        HEADER,
        ["Gala", "Apple", "Long Meadow", "", "", "first"],
        ["Bramley", "Apple", "", "", "", "second"],
    ]
    raw = (
        workbook(rows, merged="C2:C3")
        if library == "openpyxl"
        else written_by_xlsxwriter(rows, merged=("C2:C3", "Long Meadow"))
    )
    list_id = send(desk, raw)
    report = look_at(desk, list_id)["report"]
    assert [(one["line"], one["state"]) for one in report] == [(3, "refused")]
    assert "site" in report[0]["words"]

    put(desk, list_id, "form", site_id=str(desk.orchard.site_id))

    assert take(desk, list_id).json()["brought"] == 2
    assert {tree.site_id for tree in trees(database)} == {desk.orchard.site_id}


def test_a_quarter_of_a_million_rows_and_one_are_refused_before_anything_is_kept(desk, database):
    raw = b"Variety,Kind\n" + b"Gala,Apple\n" * 250_001
    before = every_row(database)

    answer = refused(desk, raw)

    assert answer.status_code == 413, answer.text
    assert answer.json()["type"].endswith("too-many-rows")
    assert every_row(database) == before


def test_a_workbook_of_a_quarter_of_a_million_rows_and_one_is_refused(desk, database):
    made = io.BytesIO()
    book = xlsxwriter.Workbook(made, {"constant_memory": True})
    sheet = book.add_worksheet()
    sheet.write_row(0, 0, ["Variety", "Kind"])
    for place in range(1, 250_002):
        sheet.write_string(place, 0, "Gala")
    book.close()
    before = every_row(database)

    answer = refused(desk, made.getvalue())

    assert answer.status_code == 413, answer.text
    assert every_row(database) == before


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b" \n ",
        b"PK\x03\x04 no book",
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 old",
        b"\xff\xfe\x00",
        b"\x00" * 40,
    ],
    ids=["empty", "blank", "no book", "an old Office file", "half a letter", "noughts"],
)
def test_what_is_no_table_is_refused_and_nothing_is_kept(desk, database, raw):
    before = every_row(database)

    answer = refused(desk, raw)

    assert answer.status_code in (400, 413, 415, 422), answer.text
    assert answer.json()["todo"]
    assert every_row(database) == before


NINE = [
    "Bramley",
    "bramley",
    "BRAMLEY",
    " Bramley ",
    "Brámley",
    "Bramleys",
    "Bramley Seedling",
    "Bramly",
    "Bramley's Seedling",
]


def test_one_variety_spelt_nine_ways_is_asked_once_for_each_spelling_that_is_not_sure(desk, database, writer):

    spelling, cultivar_id = "Bramley's Seedling", desk.orchard.bramley_id
    names = [CultivarName(cultivar_id=cultivar_id, name=spelling, kind="synonym", folded=fold_name(spelling))]
    writer.write_now(_add, None, names)
    list_id = send(
        desk,
        as_csv([HEADER, *([spelt, "Apple", "Long Meadow", "", "", ""] for spelt in NINE for _ in range(2))]),
    )
    seen = look_at(desk, list_id)
    asked = {one["spelling"]: one["rows"] for one in seen["questions"]}
    assert asked == {"Bramleys": 2, "Bramley Seedling": 2, "Bramly": 2}
    last = [[option["value"] for option in one["options"][-2:]] for one in seen["questions"]]
    assert last == [["as_told", "leave_out"]] * 3

    replies = {one["key"]: str(desk.orchard.bramley_id) for one in seen["questions"]}
    put(desk, list_id, "answers", answers=replies)
    taken = take(desk, list_id)

    assert taken.json()["brought"] == 18, taken.text
    assert {tree.cultivar_id for tree in trees(database)} == {desk.orchard.bramley_id}
    told = [tree.name_as_told for tree in trees(database)]
    assert told.count("") == 10 and "Bramly" in told  # another spelling stays as it was told


def test_a_tree_twice_is_told_by_its_first_line_and_two_trees_alike_are_not_one(desk):
    twice = ["Gala", "Apple", "Long Meadow", "Tilde Ashgrove", "1998", "by the gate"]
    rows = [[*twice, "17"], [*twice, "17"], [*twice, "18"], [*twice, ""], [*twice, ""]]
    list_id = send(desk, as_csv([[*HEADER, "No"], *rows]))

    seen = look_at(desk, list_id)

    assert [(one["line"], one["state"]) for one in seen["report"]] == [(3, "known")]
    assert seen["report"][0]["words"] == "it tells the very same as line 2"
    assert seen["counts"]["taken"] == 4


LETTERS = "Gänsekeule, Crème d’été – Œil «doux» 5 €"  # all in Windows-1252, most of them not in ISO 8859-1


def test_letters_of_windows_1252_come_in_as_they_were_written(desk, database):
    row = ["Gala", "Apple", "Long Meadow", "Zoë Müller", "", LETTERS]
    list_id = send(desk, as_csv([HEADER, row], delimiter=";", encoding="cp1252"))
    assert look_at(desk, list_id)["encoding"] == "cp1252"

    assert take(desk, list_id).status_code == 201

    assert trees(database)[0].note == LETTERS


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("more", [0, 2, 6])
def test_a_disk_that_is_full_in_mid_import_leaves_the_record_as_it_was(desk, database, more):
    """A real SQLITE_FULL: the database may not grow by more than a few pages (SQLite, PRAGMA max_page_count)."""
    rows = [
        ["Gala", "Apple", "Withy Bank", f"Owner {number:05}x{number * 7919:09}", "", "n" * 400]
        for number in range(1500)
    ]
    list_id = send(desk, as_csv([HEADER, *rows]))
    put(desk, list_id, "form", area_id=str(desk.orchard.area_id))
    seen = look_at(desk, list_id)
    put(desk, list_id, "answers", answers={one["key"]: "new" for one in seen["questions"]})
    before = every_row(database)
    _let_grow(database, more)

    answer = take(desk, list_id)

    assert answer.status_code == 503, answer.text
    assert "nothing of it was written" in answer.json()["detail"].lower()
    assert every_row(database) == before
    assert look_at(desk, list_id)["state"] == "waiting"

    _let_grow(database, 100_000)
    again = take(desk, list_id)

    assert again.status_code == 201, again.text
    assert len(trees(database)) == 1500


def _let_grow(database, pages: int) -> None:
    """On every connection that writes: the limit is a connection's own."""
    held = [database.writer.raw_connection() for _ in range(2)]
    for connection in held:
        (now,) = connection.driver_connection.execute("PRAGMA page_count").fetchone()
        connection.driver_connection.execute(f"PRAGMA max_page_count = {now + pages}")
    for connection in held:
        connection.close()


def test_a_list_that_is_taken_twice_at_once_comes_in_once(desk, database):
    list_id = send(desk, as_csv([HEADER, ["Gala", "Apple", "Long Meadow", "", "", ""]]))

    first, second = take(desk, list_id), take(desk, list_id)

    assert (first.status_code, second.status_code) == (201, 409)
    assert len(trees(database)) == 1
    assert every_row(database, but=OF_A_LIST)["source_tree"]
