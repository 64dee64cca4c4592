"""Looks at bundles on both databases."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest

from service.lib.clock import InTheFuture
from service.lib.database import Database
from service.lib.paging import Paging
from service.lib.write import Writer
from service.storage import actions, queries
from service.storage.rules import Buds, Call, NoSuchBundle, NothingSeen
from service.storage.schemas import BundleCheckCreate, BundleCheckRead
from tests.builders.storage import Ground, make_box, make_bundles, make_ground, put, stop_bundles
from tests.conftest import TODAY
from tests.infra.statements import Statements


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_ground(writer)


def look(writer: Writer, ground: Ground, *entries: dict) -> list[BundleCheckRead]:
    return writer.write_now(
        actions.record_bundle_checks, ground.host, [BundleCheckCreate(**entry) for entry in entries]
    )


def test_mould_names_what_lies_in_the_same_box(writer: Writer, ground: Ground):
    box, other = make_box(writer, ground), make_box(writer, ground, "Red crate")
    mouldy, mate, moved_away, elsewhere = make_bundles(writer, ground, 4)
    put(
        writer,
        ground.host,
        *(
            {"bundle_id": b, "into_box_id": box.id, "done_at": TODAY - timedelta(days=2)}
            for b in (mouldy, mate, moved_away)
        ),
    )
    put(
        writer,
        ground.host,
        {"bundle_id": moved_away, "out": True},
        {"bundle_id": elsewhere, "into_box_id": other.id},
    )

    first, second = look(
        writer, ground, {"bundle_id": mouldy, "mould": True}, {"bundle_id": mate, "mould": False}
    )

    assert [(n.bundle_id, n.box_name) for n in first.look_at] == [(mate, "Blue crate")]
    assert second.look_at == []


def test_the_latest_look_counts_by_when_it_was_seen(
    database: Database, writer: Writer, ground: Ground, statements: Statements
):
    bundles = make_bundles(writer, ground, 3)
    look(
        writer,
        ground,
        *({"bundle_id": b, "buds": "swelling", "seen_at": TODAY - timedelta(days=1)} for b in bundles[:2]),
    )
    look(writer, ground, {"bundle_id": bundles[0], "buds": "tight", "seen_at": TODAY - timedelta(days=5)})

    with database.reading() as session, statements.exactly(1):
        last = queries.last_checks(session, bundles)

    assert {b: last[b].buds for b in last} == {bundles[0]: Buds.SWELLING, bundles[1]: Buds.SWELLING}
    assert [f.call for f in last[bundles[0]].findings] == [Call.USE_FIRST]


def test_twenty_looks_cost_no_more_statements_than_one(
    writer: Writer, ground: Ground, statements: Statements
):
    bundles = make_bundles(writer, ground, 21)
    statements.clear()
    look(writer, ground, {"bundle_id": bundles[0], "mould": True})
    for_one = len(statements)
    statements.clear()

    look(writer, ground, *({"bundle_id": b, "mould": True} for b in bundles[1:]))

    assert len(statements) <= for_one <= 4


def test_looks_are_listed_the_latest_first(database: Database, writer: Writer, ground: Ground):
    (bundle,) = make_bundles(writer, ground)
    for days in (3, 9, 1):
        look(
            writer,
            ground,
            {"bundle_id": bundle, "bag_grams": 100.0 + days, "seen_at": TODAY - timedelta(days=days)},
        )

    with database.reading() as session:
        page = queries.list_checks(session, bundle, Paging(limit=2))
        rest = queries.list_checks(session, bundle, Paging(page.next, 2))

    assert [check.bag_grams for check in page.items + rest.items] == [101.0, 103.0, 109.0]


def test_stopped_wood_may_be_looked_at(writer: Writer, ground: Ground):
    (bundle,) = make_bundles(writer, ground)
    stop_bundles(writer, ground, [bundle])

    (seen,) = look(writer, ground, {"bundle_id": bundle, "green_under_scratch": True})

    assert [f.call for f in seen.findings] == [Call.FINE]


def test_an_empty_look_an_unknown_bundle_and_a_future_one_are_refused(writer: Writer, ground: Ground):
    (bundle,) = make_bundles(writer, ground)
    for entry, problem in (
        ({"bundle_id": bundle, "note": "hm"}, NothingSeen),
        ({"bundle_id": uuid4(), "mould": True}, NoSuchBundle),
        ({"bundle_id": bundle, "mould": True, "seen_at": TODAY + timedelta(hours=1)}, InTheFuture),
    ):
        with pytest.raises(problem):
            look(writer, ground, entry)
