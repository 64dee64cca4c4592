"""Putting away on both databases: rows, stays, late entries, refusals, and what it costs."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from sqlmodel import select

from service.bundles.rules import BeforeItWasMade
from service.lib.clock import FixedClock, InTheFuture
from service.lib.database import Database
from service.lib.errors import AlreadyKnown
from service.lib.write import Writer
from service.storage import actions, queries
from service.storage.rules import (
    BoxInBox,
    NoSuchBox,
    NoSuchBundle,
    NoSuchPlace,
    NoSuchStore,
)
from service.storage.tables import PutAway, Stay
from tests.builders.storage import (
    Ground,
    ago,
    count,
    lies,
    make_box,
    make_bundles,
    make_ground,
    make_store,
    put,
)
from tests.conftest import TODAY
from tests.infra.statements import Statements


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_ground(writer)


def test_a_bundle_in_a_box_lies_where_the_box_stands(database: Database, writer: Writer, ground: Ground):
    store = make_store(writer, ground, places=["top shelf"])
    box = make_box(writer, ground, place_id=store.places[1].id)
    (bundle,) = make_bundles(writer, ground)

    put(writer, ground.host, {"bundle_id": bundle, "into_box_id": box.id})

    found = lies(database, bundle)
    assert (found.store_name, found.place_name, found.box_name, found.host_id) == (
        "Garage fridge", "top shelf", "Blue crate", ground.host.party_id,
    )  # fmt: skip
    assert found.since == TODAY


def test_one_act_moves_a_box_with_forty_bundles_as_one_row(
    database: Database, writer: Writer, ground: Ground, statements: Statements
):
    fridge, cellar = make_store(writer, ground), make_store(writer, ground, "Cellar", kind="cellar")
    box = make_box(writer, ground, store_id=fridge.id)
    bundles = make_bundles(writer, ground, 40)
    put(
        writer,
        ground.host,
        *({"bundle_id": bundle, "into_box_id": box.id, "done_at": ago(days=2)} for bundle in bundles),
    )
    rows, stays = count(database, PutAway), count(database, Stay)

    with statements.at_most(9):  # one asks which loggers go along
        (moved,) = put(writer, ground.host, {"box_id": box.id, "store_id": cellar.id})

    assert moved.moved == 40
    assert (count(database, PutAway), count(database, Stay)) == (
        rows + 1,
        stays,
    )  # the box's first stay had no length
    with statements.exactly(1), database.reading() as session:
        found = queries.whereabouts(session, bundles)
    assert {where.store_name for where in found.values()} == {"Cellar"} and len(found) == 40


def test_putting_twenty_away_costs_no_more_statements_than_one(
    writer: Writer, ground: Ground, statements: Statements
):
    store = make_store(writer, ground)
    boxes = [make_box(writer, ground, f"Crate {n}", store_id=store.id) for n in range(4)]
    bundles = make_bundles(writer, ground, 21)
    statements.clear()
    put(writer, ground.host, {"bundle_id": bundles[0], "into_box_id": boxes[0].id})
    for_one = len(statements)
    statements.clear()

    goals = [
        {"into_box_id": boxes[1].id},
        {"store_id": store.id},
        {"into_box_id": boxes[2].id},
        {"out": True},
    ]
    put(writer, ground.host, *({"bundle_id": b, **goals[n % 4]} for n, b in enumerate(bundles[1:])))

    assert len(statements) <= for_one + 1  # the store is looked up too
    assert for_one <= 9


def test_a_box_taken_out_keeps_what_lies_in_it(database: Database, writer: Writer, ground: Ground):
    store = make_store(writer, ground)
    box = make_box(writer, ground, store_id=store.id)
    (bundle,) = make_bundles(writer, ground)
    put(writer, ground.host, {"bundle_id": bundle, "into_box_id": box.id, "done_at": ago(hours=2)})

    put(writer, ground.host, {"box_id": box.id, "out": True})

    found = lies(database, bundle)
    assert (found.box_name, found.store_id) == ("Blue crate", None)


def test_a_late_entry_changes_what_lay_where_then_and_not_now(
    database: Database, writer: Writer, ground: Ground
):
    fridge, cellar = make_store(writer, ground), make_store(writer, ground, "Cellar")
    (bundle,) = make_bundles(writer, ground)
    put(writer, ground.host, {"bundle_id": bundle, "store_id": fridge.id, "done_at": ago(days=10)})
    put(writer, ground.host, {"bundle_id": bundle, "store_id": fridge.id, "done_at": ago(days=2)})

    put(writer, ground.host, {"bundle_id": bundle, "store_id": cellar.id, "done_at": ago(days=6)})

    assert [lies(database, bundle, ago(days=d)).store_name for d in (10, 7, 5, 1)] == [
        "Garage fridge", "Garage fridge", "Cellar", "Garage fridge",
    ]  # fmt: skip
    assert lies(database, bundle, ago(days=11)) is None
    assert lies(database, bundle).since == ago(days=2)


def test_stays_of_a_bundle_follow_its_box_through_every_move(
    database: Database, writer: Writer, ground: Ground
):
    store = make_store(writer, ground, places=["door"])
    box = make_box(writer, ground)
    (bundle,) = make_bundles(writer, ground)
    put(
        writer, ground.host,
        {"bundle_id": bundle, "into_box_id": box.id, "done_at": ago(days=9)},
        {"box_id": box.id, "place_id": store.places[1].id, "done_at": ago(days=8)},
        {"box_id": box.id, "store_id": store.id, "done_at": ago(days=3)},
        {"bundle_id": bundle, "out": True, "done_at": ago(days=1)},
    )  # fmt: skip

    with database.reading() as session:
        stays = queries.stays_of(session, bundle)

    assert [(s.store_name, s.place_name, s.box_name, s.from_at, s.until_at) for s in stays] == [
        ("", "", "Blue crate", ago(days=9), ago(days=8)),
        ("Garage fridge", "door", "Blue crate", ago(days=8), ago(days=3)),
        ("Garage fridge", "", "Blue crate", ago(days=3), ago(days=1)),
    ]


def test_what_was_handed_over_is_taken_out_once(database: Database, writer: Writer, ground: Ground):
    store = make_store(writer, ground)
    inside, elsewhere = make_bundles(writer, ground, 2)
    put(writer, ground.host, {"bundle_id": inside, "store_id": store.id, "done_at": ago(days=1)})

    first = writer.write_now(actions.take_out, ground.host, [inside, elsewhere])
    second = writer.write_now(actions.take_out, ground.host, [inside, elsewhere])

    assert [row.bundle_id for row in first] == [inside]
    assert second == []
    assert lies(database, inside) is None


def test_a_bundle_split_off_in_the_store_lies_with_its_parent(
    database: Database, writer: Writer, ground: Ground
):
    store = make_store(writer, ground)
    box = make_box(writer, ground, store_id=store.id)
    boxed, loose, nowhere = make_bundles(writer, ground, 3)
    put(
        writer,
        ground.host,
        {"bundle_id": boxed, "into_box_id": box.id},
        {"bundle_id": loose, "store_id": store.id},
    )
    children = [make_bundles(writer, ground, parent_id=parent)[0] for parent in (boxed, loose, nowhere)]

    writer.write_now(
        actions.lay_with_parents, ground.host, dict(zip(children, (boxed, loose, nowhere), strict=True))
    )

    where = [lies(database, child) for child in children]
    assert (where[0].box_name, where[1].place_id, where[2]) == ("Blue crate", store.places[0].id, None)


def test_what_does_not_stand_is_named(writer: Writer, ground: Ground):
    store, box = make_store(writer, ground), make_box(writer, ground)
    (bundle,) = make_bundles(writer, ground)
    wrong = [
        ({"bundle_id": uuid4(), "store_id": store.id}, NoSuchBundle),
        ({"box_id": uuid4(), "store_id": store.id}, NoSuchBox),
        ({"bundle_id": bundle, "into_box_id": uuid4()}, NoSuchBox),
        ({"bundle_id": bundle, "place_id": uuid4()}, NoSuchPlace),
        ({"bundle_id": bundle, "store_id": uuid4()}, NoSuchStore),
        ({"box_id": box.id, "into_box_id": box.id}, BoxInBox),
        ({"bundle_id": bundle, "store_id": store.id, "done_at": TODAY + timedelta(minutes=11)}, InTheFuture),
    ]
    for entry, problem in wrong:
        with pytest.raises(problem):
            put(writer, ground.host, entry)


def test_nothing_of_a_list_is_kept_when_one_of_it_is_refused(
    database: Database, writer: Writer, ground: Ground
):
    store = make_store(writer, ground)
    (bundle,) = make_bundles(writer, ground)

    with pytest.raises(NoSuchBundle):
        put(
            writer,
            ground.host,
            {"bundle_id": bundle, "store_id": store.id},
            {"bundle_id": uuid4(), "store_id": store.id},
        )

    assert (count(database, PutAway), count(database, Stay)) == (0, 0)


def test_the_same_act_under_its_own_id_is_written_once(writer: Writer, ground: Ground):
    store = make_store(writer, ground)
    (bundle,) = make_bundles(writer, ground)
    act = {"id": uuid4(), "bundle_id": bundle, "store_id": store.id}
    put(writer, ground.host, act)

    with pytest.raises(AlreadyKnown):
        put(writer, ground.host, act)


def test_putting_away_on_a_day_before_the_bundle_was_made_is_refused(
    writer: Writer, database: Database, ground: Ground
):
    store = make_store(writer, ground)
    (bundle,) = make_bundles(writer, ground, made_at=ago(days=1))

    with pytest.raises(BeforeItWasMade):
        put(writer, ground.host, {"bundle_id": bundle, "store_id": store.id, "done_at": ago(days=2)})

    assert (count(database, PutAway), count(database, Stay)) == (0, 0)
    put(writer, ground.host, {"bundle_id": bundle, "store_id": store.id, "done_at": ago(days=1)})


def test_the_clock_of_the_club_dates_what_is_not_dated(writer: Writer, ground: Ground, clock: FixedClock):
    store = make_store(writer, ground)
    (bundle,) = make_bundles(writer, ground)
    clock.at = datetime(2026, 3, 1, tzinfo=UTC)

    (told,) = put(writer, ground.host, {"bundle_id": bundle, "store_id": store.id})

    assert told.done_at == told.recorded_at == clock.at


@pytest.mark.databases("postgres")
def test_two_who_move_the_same_bundle_at_once_leave_one_stay(
    database: Database, writer: Writer, ground: Ground
):
    stores = [make_store(writer, ground, f"Fridge {n}") for n in range(6)]
    (bundle,) = make_bundles(writer, ground)
    threads = [
        threading.Thread(
            target=put,
            args=(
                writer,
                ground.host,
                {"bundle_id": bundle, "store_id": store.id, "done_at": ago(hours=n + 1)},
            ),
        )
        for n, store in enumerate(stores)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    with database.reading() as session:
        open_stays = session.exec(select(Stay).where(Stay.until_at == None)).all()  # noqa: E711
    assert count(database, PutAway) == 6 and count(database, Stay) == 6
    assert len(open_stays) == 1 and lies(database, bundle).store_name == "Fridge 0"
