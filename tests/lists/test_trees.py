"""A club's own table of trees, moved in as one act. The club, its people and its places are invented."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime
from typing import Any
from uuid import uuid4

import openpyxl
import pytest
import xlsxwriter
from sqlalchemy import func, select

from service.lib.database import Database
from service.lists.routes import router
from service.lists.rules import LIST_STEPS, ListSort, ListState, can_step, check_can_step, guess_columns
from service.lists.rules.values import CannotRead, DayOrder, count_of, day_of, flag_of, order_of, year_of
from service.lists.rules.words import ListSettled
from service.members.tables import Party
from service.trees.tables import Site, SourceTree
from tests.builders.trees import make_orchard
from tests.storage.desk import Desk

HEADER = ["Cultivar", "Species", "Orchard", "Owner", "May be cut", "Planted", "Rootstock", "Notes"]
ROWS = [
    ["Gala", "Apple", "Long Meadow", "Tilde Ashgrove", "yes", "1998", "M.9", "=1+1"],
    ["Galla", "Apple", "Mill Lane", "Tilde Ashgrove", "ask", "2001", "a wild one", ""],
    ["Victoria", "Plum", "Mill Lane", "Bo Fenwick", "no", "", "", ""],
]


@pytest.fixture
def desk(database, writer, clock) -> Desk:
    desk = Desk(database, writer, clock, router)
    steward = desk.askers["steward"]
    assert steward is not None
    desk.orchard = make_orchard(writer, steward)  # type: ignore[attr-defined]
    return desk


def as_csv(rows: list[list[str]], *, delimiter: str = ",", encoding: str = "utf-8") -> bytes:
    told = io.StringIO(newline="")
    csv.writer(told, delimiter=delimiter).writerows([HEADER, *rows])
    return told.getvalue().encode(encoding)


def by_openpyxl(rows: list[list[str]]) -> bytes:
    book, made = openpyxl.Workbook(), io.BytesIO()
    for row in [HEADER, *rows]:
        book.active.append(row)
        for cell in book.active[book.active.max_row]:
            cell.data_type = "s" if cell.value else "n"
    book.save(made)
    return made.getvalue()


def by_xlsxwriter(rows: list[list[str]]) -> bytes:
    made = io.BytesIO()
    book = xlsxwriter.Workbook(made, {"in_memory": True, "strings_to_formulas": False})
    sheet = book.add_worksheet("trees")
    for place, row in enumerate([HEADER, *rows]):
        sheet.write_row(place, 0, row)
    book.close()
    return made.getvalue()


FORMS = {
    "utf-8": as_csv(ROWS),
    "utf-8 with its mark, semicolons": as_csv(ROWS, delimiter=";", encoding="utf-8-sig"),
    "windows-1252": as_csv(ROWS, encoding="cp1252"),
    "xlsx by openpyxl": by_openpyxl(ROWS),
    "xlsx by xlsxwriter": by_xlsxwriter(ROWS),
}


def send(desk: Desk, raw: bytes, who: str = "steward") -> str:
    list_id = str(uuid4())
    answer = desk.ask(
        who,
        "POST",
        f"/api/lists?list_id={list_id}&sort=trees&name=old.csv",
        content=raw,
        headers={"Idempotency-Key": str(uuid4())},
    )
    assert answer.status_code == 201, answer.text
    return list_id


def look(desk: Desk, list_id: str) -> Any:
    return desk.get("steward", f"/api/lists/{list_id}").json()


def answer_all(desk: Desk, list_id: str, **replies: str) -> None:
    told = {one["key"]: replies[one["what"]] for one in look(desk, list_id)["questions"]}
    assert (
        desk.ask("steward", "PUT", f"/api/lists/{list_id}/answers", json={"answers": told}).status_code == 200
    )


def count(database: Database, table: Any) -> int:
    with database.reading() as session:
        return session.execute(select(func.count()).select_from(table)).scalar_one()


@pytest.mark.parametrize("form", FORMS)
def test_a_list_of_any_form_is_looked_at_answered_and_taken_whole(desk, database, form):
    list_id = send(desk, FORMS[form])
    waits = [(one["line"], one["state"], one["column"]) for one in look(desk, list_id)["report"]]
    assert waits == [(3, "asked", "Cultivar"), (4, "asked", "Orchard")]  # a name, and the area of a new site
    assert (
        desk.ask(
            "steward", "PUT", f"/api/lists/{list_id}/form", json={"area_id": site_area(desk)}
        ).status_code
        == 200
    )
    seen = look(desk, list_id)

    assert {one["name"]: one["heading"] for one in seen["columns"] if one["heading"]} == {
        "variety": "Cultivar", "kind": "Species", "site": "Orchard", "owner": "Owner", "may_cut": "May be cut",
        "planted_year": "Planted", "rootstock": "Rootstock", "note": "Notes",
    }  # fmt: skip
    assert seen["preview"][0]["note"] == "=1+1"
    assert [(one["what"], one["spelling"]) for one in seen["questions"]] == [("variety", "Galla")]
    assert [(one["line"], one["state"], one["column"]) for one in seen["report"]] == [
        (3, "asked", "Cultivar")
    ]
    assert desk.post("steward", f"/api/lists/{list_id}/take", {}).status_code == 422
    assert count(database, SourceTree) == 0

    answer_all(desk, list_id, variety="as_told")
    taken = desk.post("steward", f"/api/lists/{list_id}/take", {})

    assert taken.status_code == 201, taken.text
    assert (taken.json()["brought"], taken.json()["state"]) == (3, "taken")
    with database.reading() as session:
        trees = session.execute(select(SourceTree).order_by(SourceTree.number)).scalars().all()
        sites = {site.id: site.name for site in session.execute(select(Site)).scalars()}
        people = {party.id: party.name for party in session.execute(select(Party)).scalars()}
    orchard = desk.orchard
    assert [tree.cultivar_id for tree in trees] == [orchard.gala_id, None, orchard.victoria_id]
    assert [tree.name_as_told for tree in trees] == ["", "Galla", ""]
    assert [sites[tree.site_id] for tree in trees] == ["Long Meadow", "Mill Lane", "Mill Lane"]
    assert [people[tree.owner_id] for tree in trees] == ["Tilde Ashgrove", "Tilde Ashgrove", "Bo Fenwick"]
    assert [tree.may_cut for tree in trees] == ["yes", "ask", "no"]
    assert [tree.planted_year for tree in trees] == [1998, 2001, None]
    assert [(tree.rootstock_id, tree.stands_on) for tree in trees] == [
        (orchard.m9_id, ""),
        (None, "a wild one"),
        (None, ""),
    ]
    assert trees[0].note == "=1+1"
    assert list(sites.values()).count("Mill Lane") == 1


def site_area(desk: Desk) -> str:
    return str(desk.orchard.area_id)  # type: ignore[attr-defined]


def test_a_row_that_cannot_be_used_stays_out_only_where_that_is_said(desk, database):
    rows = [
        ROWS[0],
        ["Gala", "Apple", "Long Meadow", "", "sometimes", "", "", ""],
        ["Gala", "Apple", "Long Meadow", "", "", "soon", "", ""],
    ]
    list_id = send(desk, as_csv(rows))
    report = look(desk, list_id)["report"]

    assert [(one["line"], one["column"]) for one in report] == [(3, "May be cut"), (4, "Planted")]
    assert all(one["state"] == "refused" and one["words"] and one["todo"] for one in report)
    assert desk.post("steward", f"/api/lists/{list_id}/take", {}).status_code == 422
    assert count(database, SourceTree) == 0

    taken = desk.post("steward", f"/api/lists/{list_id}/take", {"leave_refused": True})

    assert (taken.json()["brought"], taken.json()["left_out"]) == (1, 2)
    assert count(database, SourceTree) == 1


def test_the_same_file_twice_is_told_and_a_settled_list_is_not_taken_again(desk, database):
    raw = as_csv(ROWS[:1])
    first = send(desk, raw)
    assert desk.post("steward", f"/api/lists/{first}/take", {}).status_code == 201

    assert desk.post("steward", f"/api/lists/{first}/take", {}).status_code == 409
    assert "very same file was taken" in look(desk, send(desk, raw))["told"][0]
    assert count(database, SourceTree) == 1


def test_columns_are_chosen_otherwise_and_a_wrong_choice_is_refused(desk):
    list_id = send(desk, as_csv(ROWS[:1]))
    address = f"/api/lists/{list_id}/form"

    wrong = desk.ask("steward", "PUT", address, json={"columns": {"variety": "Colour"}})
    twice = desk.ask("steward", "PUT", address, json={"columns": {"variety": "Notes", "note": "Notes"}})
    right = desk.ask("steward", "PUT", address, json={"columns": {"variety": "Cultivar", "site": "Orchard"}})

    assert (wrong.status_code, twice.status_code, right.status_code) == (422, 422, 200)
    assert [one["name"] for one in look(desk, list_id)["columns"] if one["heading"]] == ["variety", "site"]


def test_a_dropped_list_brings_nothing(desk, database):
    list_id = send(desk, as_csv(ROWS[:1]))

    assert desk.post("steward", f"/api/lists/{list_id}/drop", None).json()["state"] == "dropped"
    assert desk.post("steward", f"/api/lists/{list_id}/take", {}).status_code == 409
    assert count(database, SourceTree) == 0


@pytest.mark.parametrize("who", ["member", "collector", "host", "health_steward", "stranger"])
def test_only_who_looks_after_people_moves_lists_in(desk, who):
    assert desk.get(who, "/api/lists").status_code in (401, 403)


def test_headings_of_clubs_are_known_and_unknown_ones_left():
    found = guess_columns(ListSort.TREES, ["Nr", "Sorte", "Standort", "Unterlage", "Bees nearby"])

    assert found == {"their_number": "Nr", "variety": "Sorte", "site": "Standort", "rootstock": "Unterlage"}


@pytest.mark.parametrize(
    ("cell", "order", "day"),
    [
        ("2025-01-31", None, "2025-01-31"),  # ISO 8601
        ("31.1.2025", None, "2025-01-31"),
        ("3.4.2025", DayOrder.MONTH_FIRST, "2025-04-03"),
        ("3/4/2025", DayOrder.MONTH_FIRST, "2025-03-04"),
        ("3/4/2025", DayOrder.DAY_FIRST, "2025-04-03"),
        (datetime(2025, 1, 31, 9, tzinfo=UTC), None, "2025-01-31"),
    ],
)
def test_days_are_read_as_they_are_written(cell, order, day):
    found = day_of(cell, order)

    assert found is not None and found.isoformat() == day


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        (["3/4/2025", "31/1/2025"], (DayOrder.DAY_FIRST, False)),
        (["3/4/2025", "1/31/2025"], (DayOrder.MONTH_FIRST, False)),
        (["3/4/2025"], (None, True)),
        (["3.4.2025", "4/4/2025"], (None, False)),
    ],
)
def test_a_column_of_days_tells_its_order_or_must_be_asked(cells, told):
    assert order_of(cells) == told


def test_numbers_and_words_of_yes_and_no():
    assert [count_of(one) for one in (12, "12", "12,0", "12.0", None)] == [12, 12, 12, 12, None]
    assert [year_of(one) for one in (1998, "ca. 1998", "31.1.1998", "1998-01-31")] == [1998] * 4
    assert [flag_of(one) for one in ("x", "Ja", "no", "", True)] == [True, True, False, None, True]
    for read, cell in ((count_of, "a few"), (year_of, "soon"), (flag_of, "perhaps"), (count_of, "-3")):
        with pytest.raises(CannotRead):
            read(cell)


@pytest.mark.parametrize("state", ListState)
@pytest.mark.parametrize("to", ListState)
def test_a_list_goes_only_where_its_life_allows(state, to):
    assert can_step(state, to) == (to in LIST_STEPS[state])
    if not can_step(state, to):
        with pytest.raises(ListSettled):
            check_can_step(state, to)
