"""A club's table of a thousand trees taken into the record, against the bare insert of the same rows."""

from __future__ import annotations

import csv
import io
import time
from typing import Any
from uuid import UUID, uuid4

from sqlalchemy import func, insert, select
from sqlmodel import col

from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.write import Writer
from service.lists import actions, queries
from service.lists.rules import ListSort
from service.lists.schemas import ListFormSet, ListTake
from service.lists.tables import ListThing
from service.members.rules import Role
from service.trees.tables import SourceTree
from tests.bench.figures import Figures, by_turns, ms
from tests.builders.members import make_asker
from tests.builders.trees import make_orchard

TREES, MOST_OVER_BARE = 1000, 5.0
FIRST = ("Tilde", "Bo", "Wren", "Odo", "Pia")
HEADER = [
    "Variety",
    "Kind",
    "Site",
    "Row",
    "Owner",
    "May be cut",
    "Sticks at most",
    "Planted",
    "Rootstock",
    "No",
    "Notes",
]


def a_table() -> bytes:
    """Twenty new sites and fifty new owners, every column that such lists have."""
    told = io.StringIO(newline="")
    sites = [f"{uuid4().hex[:24]} orchard" for _ in range(20)]
    owners = [f"{FIRST[place % 5]} {uuid4().hex[:20]}" for place in range(50)]  # near to none of those before
    rows = [
        ["Gala" if number % 3 else "Bramley", "Apple", sites[number % 20], f"Row {number % 40}", owners[number % 50],
         "yes", str(number % 9 + 1), str(1950 + number % 70), "M.9", str(number), f"the tree by post {number}"]
        for number in range(TREES)
    ]  # fmt: skip
    csv.writer(told).writerows([HEADER, *rows])
    return told.getvalue().encode()


def test_taking_a_thousand_trees_costs_little_more_than_writing_their_rows(
    database: Database, writer: Writer, clock: FixedClock, figures: Figures, database_kind: str
) -> None:
    """Read from the stored bytes, matched, planned, checked and written, through `write`; nothing is left out of the time.

    Ceiling: the rows of the trees and of what each came from, built beforehand and inserted in one transaction of the same
    database, with the same durability.
    """
    steward = make_asker(writer, Role.STEWARD)
    orchard = make_orchard(writer, steward)

    def take() -> float:
        list_id, raw = uuid4(), a_table()
        with database.reading() as session:
            sent = actions.read_sent(session, ListSort.TREES, "old.csv", raw)
        writer.write_now(actions.send_list, steward, list_id, ListSort.TREES, sent)
        form = ListFormSet(area_id=orchard.area_id)
        with database.reading() as session:
            read = queries.read_form(session, list_id, form)
        writer.write_now(actions.set_list_form, steward, list_id, form, read)
        began = time.perf_counter()
        with database.reading() as session:
            prepared = queries.prepare_list(session, list_id, clock.now())
        made = writer.write_now(actions.take_list, steward, list_id, ListTake(), prepared)
        took = time.perf_counter() - began
        assert made.brought == TREES
        return took

    def bare() -> float:
        trees, things = _rows_again(database)
        began = time.perf_counter()
        with database.writing_session() as session:
            session.connection().execute(insert(SourceTree), trees)
            session.connection().execute(insert(ListThing), things)
            session.commit()
        return time.perf_counter() - began

    took = by_turns(7, {"take": take, "bare": bare})
    ratio = took["take"] / took["bare"]
    figures.add(
        f"{TREES} trees of a list, {database_kind}",
        ms(took["take"]),
        ms(took["bare"]),
        ratio,
        f"<= {MOST_OVER_BARE}",
    )

    assert ratio <= MOST_OVER_BARE


def _rows_again(database: Database) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """The rows that the last taking wrote, under identities and numbers of their own."""
    with database.reading() as session:
        highest = session.execute(select(func.max(col(SourceTree.number)))).scalar_one()
        found = session.execute(
            select(SourceTree).order_by(col(SourceTree.number).desc()).limit(TREES)
        ).scalars()
        trees = [tree.model_dump() for tree in found]
        list_id: UUID = session.execute(
            select(col(ListThing.list_id)).where(col(ListThing.thing_id) == trees[0]["id"])
        ).scalar_one()
    trees = [
        {**tree, "id": uuid4(), "number": highest + 1_000_000 + place} for place, tree in enumerate(trees)
    ]
    things = [
        {"list_id": list_id, "kind": "tree", "thing_id": tree["id"], "line": place}
        for place, tree in enumerate(trees)
    ]
    return trees, things
