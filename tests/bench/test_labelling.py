"""Labelling costs the same statements, however many bundles."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fastapi import FastAPI

from tests.bench.figures import Figures
from tests.builders.trees import make_orchard, make_tree
from tests.infra.cast import Cast
from tests.infra.statements import Statements
from tests.infra.web import Client


def test_labelling_twenty_bundles_sends_no_more_statements_than_one(
    app: FastAPI, client: Callable[[str], Client], cast: Cast, statements: Statements, figures: Figures
) -> None:
    """Cuts recorded, tied and tagged by one call through HTTP, sign-in, key and answer cards included.

    Ceiling: the statements of the same call for one bundle. Counted exactly, on both databases: twenty bundles of one cut,
    and twenty cuts of one bundle each.
    """
    orchard = make_orchard(app.state.writer, cast.steward)
    trees = [str(make_tree(app.state.writer, cast.steward, orchard).id) for _ in range(20)]
    collector = client("collector")

    def sent(body: list[dict[str, Any]]) -> int:
        statements.clear()
        answer = collector.post("/api/labelled-cuts", json=body)
        assert answer.status_code == 201, answer.text
        assert sum(len(one["bundles"]) for one in answer.json()) == sum(len(one["bundles"]) for one in body)
        return len(statements)

    sent([cut(trees[0], 1)])  # the day's cutting round begins with its first cut

    one, twenty = sent([cut(trees[0], 1)]), sent([cut(trees[0], 20)])
    of_twenty_trees = sent([cut(tree, 1) for tree in trees])
    kind = "SQLite" if app.state.database.is_sqlite else "PostgreSQL"
    figures.add(f"statements for 20 bundles, {kind}", str(twenty), str(one), twenty / one, "<= 1")
    figures.add(
        f"statements for 20 cuts with a bundle, {kind}",
        str(of_twenty_trees),
        str(one),
        of_twenty_trees / one,
        "<= 1",
    )

    assert twenty <= one
    assert of_twenty_trees <= one


def cut(tree_id: str, bundles: int) -> dict[str, Any]:
    told = {
        "tree_id": tree_id,
        "sticks": 3 * bundles,
        "stage": "00",
        "leaves_down": True,
        "disinfected": True,
    }
    return {"cut": told, "bundles": [{"sticks": 3} for _ in range(bundles)]}
