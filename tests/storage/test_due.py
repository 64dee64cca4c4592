"""Looks that are due: mould beside, something found, long ago; on both databases."""

from __future__ import annotations

from datetime import date, timedelta
from uuid import uuid4

import pytest

from service.lib.database import Database
from service.lib.write import Writer
from service.storage import actions, queries, schemas
from service.storage.rules import (
    LOOK_AGAIN_DAYS,
    LOOK_EVERY_DAYS,
    Call,
    DueWhy,
    LookedAfter,
    NoSuchStore,
    due_of,
    is_due,
    plan_due,
)
from tests.builders.storage import Ground, ago, make_box, make_bundles, make_ground, make_store, put
from tests.conftest import TODAY
from tests.infra.statements import Statements

DAY, B = date(2026, 2, 14), uuid4()


def before(days: int) -> date:
    return DAY - timedelta(days=days)


# The two numbers themselves are common practice, no source; that is said with each row of the list.
@pytest.mark.parametrize(
    "wood, why",
    [
        (LookedAfter(B, before(LOOK_EVERY_DAYS - 1)), None),
        (LookedAfter(B, before(LOOK_EVERY_DAYS)), DueWhy.NEVER),
        (LookedAfter(B, before(90), before(LOOK_EVERY_DAYS - 1)), None),
        (LookedAfter(B, before(90), before(LOOK_EVERY_DAYS)), DueWhy.LONG_AGO),
        (LookedAfter(B, before(90), before(LOOK_AGAIN_DAYS - 1), Call.USE_FIRST), None),
        (LookedAfter(B, before(90), before(LOOK_AGAIN_DAYS), Call.USE_FIRST), DueWhy.LOOK_AGAIN),
        (LookedAfter(B, before(3), before(2), Call.FINE, before(1), "7K3P"), DueWhy.MOULD_BESIDE),
    ],
)
def test_when_a_look_is_due(wood: LookedAfter, why: DueWhy | None):
    due = due_of(wood, DAY)

    assert is_due(wood, DAY) is (why is not None)
    assert (due.why if due else None) is why
    if due:
        assert due.mark == "common practice, no source"
        assert due.due_on <= DAY


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_ground(writer)


def look(writer: Writer, ground: Ground, **told) -> None:
    body = [schemas.BundleCheckCreate(**told)]
    writer.write_now(actions.record_bundle_checks, ground.host, body)


def due_in(database: Database, store: schemas.StoreRead) -> list[schemas.CheckDueRead]:
    with database.reading() as session:
        return queries.checks_due(session, store.id, TODAY)


def test_what_lay_beside_mould_is_due_until_it_is_looked_at_itself(
    database: Database, writer: Writer, ground: Ground, statements: Statements
):
    store = make_store(writer, ground)
    box, other = (
        make_box(writer, ground, store_id=store.id),
        make_box(writer, ground, "Red crate", store_id=store.id),
    )
    sick, mate, moved, apart = make_bundles(writer, ground, 4)
    put(
        writer,
        ground.host,
        *({"bundle_id": b, "into_box_id": box.id, "done_at": ago(days=9)} for b in (sick, mate, moved)),
    )
    put(writer, ground.host, {"bundle_id": apart, "into_box_id": other.id, "done_at": ago(days=9)})
    for bundle in (sick, mate, moved, apart):
        look(writer, ground, bundle_id=bundle, buds="tight", mould=False, seen_at=ago(days=8))
    look(writer, ground, bundle_id=sick, mould=True, seen_at=ago(days=2))
    put(writer, ground.host, {"bundle_id": moved, "into_box_id": other.id, "done_at": ago(days=1)})

    with database.reading() as session, statements.at_most(6):
        found = queries.checks_due(session, store.id, TODAY)
    # What was moved away after the mould was found lay beside it all the same.
    assert {(one.bundle_id, one.why) for one in found} == {
        (mate, DueWhy.MOULD_BESIDE),
        (moved, DueWhy.MOULD_BESIDE),
    }

    look(writer, ground, bundle_id=sick, mould=True)  # both on one round, told with one time
    look(writer, ground, bundle_id=mate, buds="tight", mould=False)
    assert [one.bundle_id for one in due_in(database, store)] == [moved]


def test_only_what_lies_in_the_store_is_due_there_and_an_empty_one_has_nothing(
    database: Database, writer: Writer, ground: Ground
):
    store, cellar = make_store(writer, ground), make_store(writer, ground, "Cellar")
    here, there = make_bundles(writer, ground, 2)
    put(
        writer,
        ground.host,
        {"bundle_id": here, "store_id": store.id},
        {"bundle_id": there, "store_id": cellar.id},
    )
    look(writer, ground, bundle_id=here, buds="tight", seen_at=ago(days=LOOK_EVERY_DAYS))
    look(writer, ground, bundle_id=there, buds="tight")

    assert [(one.bundle_id, one.why) for one in due_in(database, store)] == [(here, DueWhy.LONG_AGO)]
    assert due_in(database, cellar) == []
    with database.reading() as session, pytest.raises(NoSuchStore):
        queries.checks_due(session, uuid4(), TODAY)


def test_one_bundle_stands_for_its_box_and_what_was_found_or_lay_beside_mould_is_due_itself():
    box, other = uuid4(), uuid4()
    ids = [uuid4() for _ in range(6)]
    old = LookedAfter(ids[0], before(90), before(40), box=box)
    older = LookedAfter(ids[1], before(90), before(50), box=box)
    found = LookedAfter(ids[2], before(90), before(35), Call.USE_FIRST, box=box)
    lately = LookedAfter(ids[3], before(90), before(3), box=other)
    never = LookedAfter(ids[4], before(90), box=other)
    loose = LookedAfter(ids[5], before(90), before(40))

    planned = plan_due([old, older, found, lately, never, loose], DAY)

    assert [(one.bundle_id, one.why) for one in planned] == [
        (ids[2], DueWhy.LOOK_AGAIN), (ids[1], DueWhy.LONG_AGO), (ids[5], DueWhy.LONG_AGO),
    ]  # fmt: skip
    assert planned[1].words == "last looked at 50 days ago; it stands for the 3 in its box"
    assert plan_due([never], DAY)[0].words == "not looked at since it was cut, 90 days ago"
