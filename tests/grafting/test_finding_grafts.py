"""Grafts and plants found by what they are made of and stand on, on both databases."""

from __future__ import annotations

import pytest
from sqlmodel import Session

from service.grafting import actions, queries
from service.grafting.queries.labels import words_of_plants
from service.grafting.rules import (
    PlantState,
)
from service.grafting.tables import Plant
from service.lib.database import Database
from service.lib.write import Writer
from tests.builders.grafting import (
    APPLE,
    BA29,
    COMICE,
    GALA,
    M9,
    PEAR,
    graft,
    make_bench,
    make_tree,
    make_wood,
    of,
    rows,
)
from tests.builders.storage import Ground
from tests.conftest import TODAY
from tests.infra.statements import Statements


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_bench(writer)


def test_grafts_are_found_by_their_bundles_trees_and_plants(
    database: Database, writer: Writer, ground: Ground, statements: Statements
):
    tree = make_tree(writer, ground, APPLE, GALA)
    woods = [make_wood(writer, ground, APPLE, GALA) for _ in range(3)]
    first, second, third = graft(
        writer, ground.host, {"woods": of(woods[0]), "rootstock_id": M9, "plants": 1},
        {"woods": of(woods[0], woods[1]), "stock_tree_id": tree},
        {"woods": of(woods[1]), "stock_as_told": "crab"},
    )  # fmt: skip

    with database.reading() as session:
        with statements.at_most(4):
            by_bundle = queries.grafts_of_bundles(session, woods)
        with statements.at_most(4):
            by_tree = queries.grafts_on_trees(session, [tree])
        with statements.at_most(1):
            plants = queries.facts_for_plants(session, [p.id for p in first.plants])
        with statements.at_most(1):
            of_grafts = queries.plants_of_grafts(session, [first.id, second.id])

    assert {b: {g.id for g in grafts} for b, grafts in by_bundle.items()} == {
        woods[0]: {first.id, second.id}, woods[1]: {second.id, third.id},
    }  # fmt: skip
    assert [g.id for g in by_tree[tree]] == [second.id]
    facts = plants[first.plants[0].id]
    assert (facts.kind, facts.variety, facts.stock, facts.state) == (
        "Apple",
        "‘Gala’",
        "M.9",
        PlantState.WAITING,
    )
    assert list(of_grafts) == [first.id]


def test_a_plants_label_says_what_stays_true(database: Database, writer: Writer, ground: Ground):
    (made,) = graft(
        writer,
        ground.host,
        {"woods": of(make_wood(writer, ground, PEAR, COMICE)), "rootstock_id": BA29, "plants": 1},
    )

    with database.reading() as session:
        words = words_of_plants(session, [made.plants[0].id], TODAY.date())[made.plants[0].id]

    assert (words.name, words.second, words.large) == ("‘Doyenné du Comice’", "on BA 29", "14 Feb 2026")


def test_codes_of_plants_are_told(database: Database, writer: Writer, ground: Ground):
    (made,) = graft(
        writer,
        ground.host,
        {"woods": of(make_wood(writer, ground, APPLE, GALA)), "rootstock_id": M9, "plants": 1},
    )

    writer.write_now(_set_codes, None, {made.plants[0].id: "NEWC0DE1"})

    assert rows(database, Plant)[0].code == "NEWC0DE1"


def _set_codes(session: Session, codes: dict) -> None:
    actions.set_codes(session, codes)
