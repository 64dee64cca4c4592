"""Traces in a record of 100,000 bundles, against the plainest way to ask the same of the database."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing
from pathlib import Path
from typing import Any
from uuid import UUID

import orjson
import psycopg
import pytest
from sqlalchemy.engine import make_url

from service.lib.clock import SystemClock
from service.lib.database import Database
from service.lib.write import Writer
from tests.bench.asking import Connection, serving
from tests.bench.figures import Figures, by_turns, ms
from tests.builders.big_club import BigClub, fill_club
from tests.builders.catalogue import load_catalogue
from tests.infra.cast import put_cast

BUNDLES = 100_000
BOUND = 1.5
ROUNDS = 15

# By hand, one recursive statement: every step from a thing to the next, then what an answer says of each thing.
HANDS = {
    "forward": """
        WITH RECURSIVE walk (kind, id, from_id) AS (
            SELECT 'tree', {start}, {nothing}
            UNION {each}
                SELECT 'collection', c.id, {walk}.id FROM {from_walk} collection c WHERE {walk}.kind = 'tree' AND c.tree_id = {walk}.id
                {also} SELECT 'bundle', b.id, {walk}.id FROM {from_walk} bundle b
                    WHERE {walk}.kind = 'collection' AND b.collection_id = {walk}.id AND b.parent_id IS NULL
                {also} SELECT 'bundle', b.id, {walk}.id FROM {from_walk} bundle b WHERE {walk}.kind = 'bundle' AND b.parent_id = {walk}.id
                {also} SELECT 'graft', g.graft_id, {walk}.id FROM {from_walk} graft_wood g
                    WHERE {walk}.kind = 'bundle' AND g.bundle_id = {walk}.id
                {also} SELECT 'plant', p.id, {walk}.id FROM {from_walk} plant p WHERE {walk}.kind = 'graft' AND p.graft_id = {walk}.id
                {also} SELECT 'tree', p.source_tree_id, {walk}.id FROM {from_walk} plant p
                    WHERE {walk}.kind = 'plant' AND p.id = {walk}.id AND p.source_tree_id IS NOT NULL
            {end}
        ) {details}""",
    "back": """
        WITH RECURSIVE walk (kind, id, from_id) AS (
            SELECT 'bundle', {start}, {nothing}
            UNION {each}
                SELECT 'bundle', b.parent_id, {walk}.id FROM {from_walk} bundle b
                    WHERE {walk}.kind = 'bundle' AND b.id = {walk}.id AND b.parent_id IS NOT NULL
                {also} SELECT 'collection', b.collection_id, {walk}.id FROM {from_walk} bundle b
                    WHERE {walk}.kind = 'bundle' AND b.id = {walk}.id AND b.parent_id IS NULL
                {also} SELECT 'tree', c.tree_id, {walk}.id FROM {from_walk} collection c
                    WHERE {walk}.kind = 'collection' AND c.id = {walk}.id AND c.tree_id IS NOT NULL
                {also} SELECT 'plant', p.id, {walk}.id FROM {from_walk} plant p WHERE {walk}.kind = 'tree' AND p.source_tree_id = {walk}.id
                {also} SELECT 'graft', p.graft_id, {walk}.id FROM {from_walk} plant p WHERE {walk}.kind = 'plant' AND p.id = {walk}.id
                {also} SELECT 'bundle', g.bundle_id, {walk}.id FROM {from_walk} graft_wood g
                    WHERE {walk}.kind = 'graft' AND g.graft_id = {walk}.id
            {end}
        ) {details}""",
}  # fmt: skip
DETAILS = """
    SELECT w.kind, w.id, w.from_id, coalesce(t.number, c.number, g.number, p.number), coalesce(b.code, t.code, p.code),
        coalesce(t.name_as_told, c.name_as_told), b.came_in - b.passed_on - b.grafted - b.discarded, coalesce(b.open_stops, t.open_stops),
        coalesce(b.made_at, t.created_at, c.done_at, g.done_at, p.made_at), v.epithet, a.id, a.name
    FROM walk w
    LEFT JOIN bundle b ON w.kind = 'bundle' AND b.id = w.id
    LEFT JOIN source_tree t ON w.kind = 'tree' AND t.id = w.id
    LEFT JOIN collection c ON w.kind = 'collection' AND c.id = w.id
    LEFT JOIN graft g ON w.kind = 'graft' AND g.id = w.id
    LEFT JOIN plant p ON w.kind = 'plant' AND p.id = w.id
    LEFT JOIN cultivar v ON v.id = coalesce(t.cultivar_id, c.cultivar_id)
    LEFT JOIN party a ON a.id = coalesce(b.holder_id, t.owner_id, g.for_party_id, p.holder_id)"""
DIALECT = {
    "sqlite": {"start": "?", "nothing": "NULL", "each": "", "also": "UNION", "end": "", "walk": "walk", "from_walk": "walk,"},
    # PostgreSQL takes one recursive term only: the steps stand together beside the walk.
    "postgres": {
        "start": "%s::uuid", "nothing": "NULL::uuid", "each": "SELECT s.* FROM walk w, LATERAL (", "also": "UNION ALL", "end": ") s",
        "walk": "w", "from_walk": "",
    },
}  # fmt: skip


class ByHand:
    """The statement on a connection of the plainest kind."""

    def __init__(self, database: Database) -> None:
        self.kind = "sqlite" if database.is_sqlite else "postgres"
        parsed = make_url(database.url)
        if database.is_sqlite:
            self.connection: Any = sqlite3.connect(str(parsed.database))
            self.connection.execute("PRAGMA cache_size=-16000")
        else:
            plain = parsed.set(drivername="postgresql").render_as_string(hide_password=False)
            self.connection = psycopg.connect(
                plain, autocommit=True, options="-c jit=off -c random_page_cost=1.1"
            )

    def close(self) -> None:
        self.connection.close()

    def ask(self, direction: str, start: UUID) -> list[Any]:
        statement = HANDS[direction].format(**DIALECT[self.kind], details=DETAILS)
        given = start.hex if self.kind == "sqlite" else start
        return list(self.connection.execute(statement, (given,)).fetchall())

    def seconds(self, direction: str, start: UUID) -> float:
        began = time.perf_counter()
        self.ask(direction, start)
        return time.perf_counter() - began


@pytest.fixture
def big_club(database: Database) -> BigClub:
    load_catalogue(Writer(database, SystemClock()))
    return fill_club(database, BUNDLES)


@pytest.mark.heavy
def test_a_trace_costs_little_more_than_the_plainest_statement_and_an_empty_route(
    database: Database, big_club: BigClub, data_dir: Path, figures: Figures
) -> None:
    """Through HTTP, on a server process of its own: forward from a tree with 5,000 descendants, and back from its deepest bundle.

    Ceiling: a recursive statement written by hand that fetches the same things and steps with what an answer says of each, through
    the bare driver, plus a route of the same service that asks for the same sign-in and answers nothing.
    """
    cast, kind = put_cast(database), "SQLite" if database.is_sqlite else "PostgreSQL"
    starts = {"forward": ("tree", big_club.mother_tree), "back": ("bundle", big_club.deepest_bundle)}
    ratios = {}
    with (
        closing(ByHand(database)) as hand,
        serving(database.url, data_dir) as server,
        Connection(server.port) as connection,
    ):
        empty = server.get(cast, "/bench/empty-for-readers")
        bare = server.get(None, "/bench/empty")
        for direction, (thing, start) in starts.items():
            request = server.get(cast, f"/api/trace/{thing}/{start}?direction={direction}")
            check_same(orjson.loads(connection.ask(request)), hand.ask(direction, start))
            found = by_turns(
                ROUNDS,
                {
                    "trace": lambda request=request: connection.seconds(request),
                    "by hand": lambda direction=direction, start=start: hand.seconds(direction, start),
                    "empty": lambda: connection.seconds(empty),
                    "bare": lambda: connection.seconds(bare),
                },
                warm_up=8,
            )
            ceiling = found["by hand"] + found["empty"]
            ratios[direction] = found["trace"] / ceiling
            figures.add(
                f"trace {direction}, {kind}",
                ms(found["trace"]),
                ms(ceiling),
                ratios[direction],
                f"<= {BOUND}",
            )
            strict = found["by hand"] + found["bare"]
            figures.add(
                "  against an empty route without sign-in",
                ms(found["trace"]),
                ms(strict),
                found["trace"] / strict,
            )

    assert max(ratios.values()) <= BOUND, ratios


def check_same(answer: Any, rows: list[Any]) -> None:
    """Both found the same things and the same steps."""
    assert {node["id"] for node in answer["nodes"]} == {str(UUID(str(row[1]))) for row in rows}
    steps = {frozenset((edge["from_id"], edge["to_id"])) for edge in answer["edges"]}
    assert steps == {frozenset((str(UUID(str(row[1]))), str(UUID(str(row[2]))))) for row in rows if row[2]}
