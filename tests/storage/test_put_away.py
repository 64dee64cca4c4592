"""Putting away on both databases: rows, stays, stops, late entries, and what it costs."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from sqlmodel import Session, func, select

from service.lib.clock import FixedClock, InTheFuture
from service.lib.database import Database
from service.lib.errors import AlreadyKnown, Stale
from service.lib.paging import Paging
from service.lib.write import Writer
from service.members.rules import Role
from service.storage import actions, queries
from service.storage.rules import (
    BoxInBox,
    NameInUse,
    NoSuchBox,
    NoSuchBundle,
    NoSuchHost,
    NoSuchPlace,
    NoSuchStore,
    NotApart,
    OnlyToIsolate,
    StoppedWoodStays,
    StoreClosed,
    StoreNotEmpty,
)
from service.storage.schemas import BoxUpdate, PlaceCreate, StoreCreate, StoreUpdate
from service.storage.tables import PutAway, Stay
from tests.builders.storage import Ground, make_box, make_bundles, make_ground, make_person, make_store, put, stop_bundles
from tests.conftest import TODAY
from tests.infra.statements import Statements


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_ground(writer)


def ago(**step: float) -> datetime:
    return TODAY - timedelta(**step)


def lies(database: Database, bundle_id, at=None):
    with database.reading() as session:
        return queries.whereabouts(session, [bundle_id], at).get(bundle_id)


def count(database: Database, table) -> int:
    with database.reading() as session:
        return session.exec(select(func.count()).select_from(table)).one()


# -- setting up --------------------------------------------------------------------------------------------------


def test_a_store_has_its_shelves_and_anywhere_in_it(writer: Writer, ground: Ground):
    store = make_store(writer, ground, places=["top shelf", "door"], fruit_inside=True)

    assert [place.name for place in store.places] == ["", "door", "top shelf"]
    assert "thylene" in store.cautions[0]


def test_a_store_needs_a_host_that_stands_and_a_name_of_its_own(writer: Writer, ground: Ground):
    make_store(writer, ground, "Cellar")

    with pytest.raises(NoSuchHost):
        make_store(writer, ground, host_id=uuid4())
    with pytest.raises(NameInUse):
        make_store(writer, ground, "Cellar")
    with pytest.raises(NameInUse):
        make_store(writer, ground, places=["a", "a"])


def test_a_place_is_added_once(writer: Writer, ground: Ground):
    store = make_store(writer, ground)
    body = PlaceCreate(store_id=store.id, name="door")
    writer.write_now(actions.add_place, ground.host, body)

    with pytest.raises(NameInUse):
        writer.write_now(actions.add_place, ground.host, PlaceCreate(store_id=store.id, name="door"))
    with pytest.raises(NoSuchStore):
        writer.write_now(actions.add_place, ground.host, PlaceCreate(store_id=uuid4(), name="door"))


def test_a_stale_edit_of_a_store_or_box_is_refused(writer: Writer, ground: Ground):
    store, box = make_store(writer, ground), make_box(writer, ground)
    changed = writer.write_now(actions.change_store, ground.host, store.id, 1, StoreUpdate(name="Barn fridge", fruit_inside=False))
    writer.write_now(actions.change_box, ground.host, box.id, 1, BoxUpdate(name="Red crate"))

    assert (changed.name, changed.version, changed.fruit_inside) == ("Barn fridge", 2, False)
    with pytest.raises(Stale):
        writer.write_now(actions.change_store, ground.host, store.id, 1, StoreUpdate(note="x"))
    with pytest.raises(Stale):
        writer.write_now(actions.change_box, ground.host, box.id, 1, BoxUpdate(note="x"))


def test_a_store_with_wood_in_it_is_not_closed_and_a_closed_one_takes_none(writer: Writer, ground: Ground):
    store, box = make_store(writer, ground), make_box(writer, ground)
    (bundle,) = make_bundles(writer, ground)
    put(writer, ground.host, {"box_id": box.id, "store_id": store.id}, {"bundle_id": bundle, "into_box_id": box.id})

    with pytest.raises(StoreNotEmpty):
        writer.write_now(actions.change_store, ground.host, store.id, 1, StoreUpdate(closed=True))
    put(writer, ground.host, {"bundle_id": bundle, "out": True})
    closed = writer.write_now(actions.change_store, ground.host, store.id, 1, StoreUpdate(closed=True))

    assert closed.closed_at == TODAY
    with pytest.raises(StoreClosed):
        put(writer, ground.host, {"bundle_id": bundle, "store_id": store.id})
    opened = writer.write_now(actions.change_store, ground.host, store.id, 2, StoreUpdate(closed=False))
    assert opened.closed_at is None


# -- putting away ------------------------------------------------------------------------------------------------


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


def test_one_act_moves_a_box_with_forty_bundles_as_one_row(database: Database, writer: Writer, ground: Ground, statements: Statements):
    fridge, cellar = make_store(writer, ground), make_store(writer, ground, "Cellar", kind="cellar")
    box = make_box(writer, ground, store_id=fridge.id)
    bundles = make_bundles(writer, ground, 40)
    put(writer, ground.host, *({"bundle_id": bundle, "into_box_id": box.id, "done_at": ago(days=2)} for bundle in bundles))
    rows, stays = count(database, PutAway), count(database, Stay)

    with statements.at_most(7):
        (moved,) = put(writer, ground.host, {"box_id": box.id, "store_id": cellar.id})

    assert moved.moved == 40
    assert (count(database, PutAway), count(database, Stay)) == (rows + 1, stays)  # the box's first stay had no length
    with statements.exactly(1), database.reading() as session:
        found = queries.whereabouts(session, bundles)
    assert {where.store_name for where in found.values()} == {"Cellar"} and len(found) == 40


def test_putting_twenty_away_costs_no_more_statements_than_one(writer: Writer, ground: Ground, statements: Statements):
    store = make_store(writer, ground)
    boxes = [make_box(writer, ground, f"Crate {n}", store_id=store.id) for n in range(4)]
    bundles = make_bundles(writer, ground, 21)
    statements.clear()
    put(writer, ground.host, {"bundle_id": bundles[0], "into_box_id": boxes[0].id})
    for_one = len(statements)
    statements.clear()

    goals = [{"into_box_id": boxes[1].id}, {"store_id": store.id}, {"into_box_id": boxes[2].id}, {"out": True}]
    put(writer, ground.host, *({"bundle_id": b, **goals[n % 4]} for n, b in enumerate(bundles[1:])))

    assert len(statements) <= for_one + 1  # the store is looked up too
    assert for_one <= 8


def test_a_box_taken_out_keeps_what_lies_in_it(database: Database, writer: Writer, ground: Ground):
    store = make_store(writer, ground)
    box = make_box(writer, ground, store_id=store.id)
    (bundle,) = make_bundles(writer, ground)
    put(writer, ground.host, {"bundle_id": bundle, "into_box_id": box.id, "done_at": ago(hours=2)})

    put(writer, ground.host, {"box_id": box.id, "out": True})

    found = lies(database, bundle)
    assert (found.box_name, found.store_id) == ("Blue crate", None)


def test_a_late_entry_changes_what_lay_where_then_and_not_now(database: Database, writer: Writer, ground: Ground):
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


def test_stays_of_a_bundle_follow_its_box_through_every_move(database: Database, writer: Writer, ground: Ground):
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


def test_a_bundle_split_off_in_the_store_lies_with_its_parent(database: Database, writer: Writer, ground: Ground):
    store = make_store(writer, ground)
    box = make_box(writer, ground, store_id=store.id)
    boxed, loose, nowhere = make_bundles(writer, ground, 3)
    put(writer, ground.host, {"bundle_id": boxed, "into_box_id": box.id}, {"bundle_id": loose, "store_id": store.id})
    children = [make_bundles(writer, ground, parent_id=parent)[0] for parent in (boxed, loose, nowhere)]

    writer.write_now(actions.lay_with_parents, ground.host, dict(zip(children, (boxed, loose, nowhere), strict=True)))

    where = [lies(database, child) for child in children]
    assert (where[0].box_name, where[1].place_id, where[2]) == ("Blue crate", store.places[0].id, None)


# -- refusals ----------------------------------------------------------------------------------------------------


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


def test_nothing_of_a_list_is_kept_when_one_of_it_is_refused(database: Database, writer: Writer, ground: Ground):
    store = make_store(writer, ground)
    (bundle,) = make_bundles(writer, ground)

    with pytest.raises(NoSuchBundle):
        put(writer, ground.host, {"bundle_id": bundle, "store_id": store.id}, {"bundle_id": uuid4(), "store_id": store.id})

    assert (count(database, PutAway), count(database, Stay)) == (0, 0)


def test_the_same_act_under_its_own_id_is_written_once(writer: Writer, ground: Ground):
    store = make_store(writer, ground)
    (bundle,) = make_bundles(writer, ground)
    act = {"id": uuid4(), "bundle_id": bundle, "store_id": store.id}
    put(writer, ground.host, act)

    with pytest.raises(AlreadyKnown):
        put(writer, ground.host, act)


def test_stopped_wood_is_not_moved_alone_or_in_its_box(writer: Writer, ground: Ground):
    store, box = make_store(writer, ground), make_box(writer, ground)
    stopped, mate, loose = make_bundles(writer, ground, 3)
    put(writer, ground.host, *({"bundle_id": b, "into_box_id": box.id, "done_at": ago(days=3)} for b in (stopped, mate)))
    stop_bundles(writer, ground, [stopped, loose], placed_at=ago(days=1))

    for entry in ({"bundle_id": stopped, "store_id": store.id}, {"bundle_id": stopped, "out": True}, {"box_id": box.id, "store_id": store.id}):
        with pytest.raises(StoppedWoodStays):
            put(writer, ground.host, entry)
    with pytest.raises(StoppedWoodStays):
        writer.write_now(actions.take_out, ground.host, [stopped])
    with pytest.raises(OnlyToIsolate):
        put(writer, ground.host, {"bundle_id": stopped, "store_id": store.id, "to_isolate": True})
    (told,) = put(writer, ground.host, {"bundle_id": mate, "store_id": store.id})
    assert told.warnings == []


def test_a_health_steward_moves_stopped_wood_aside(database: Database, writer: Writer, ground: Ground):
    store, box, apart = make_store(writer, ground), make_box(writer, ground), make_box(writer, ground, "Red crate")
    stopped, mate = make_bundles(writer, ground, 2)
    put(writer, ground.host, *({"bundle_id": b, "into_box_id": box.id, "done_at": ago(days=3)} for b in (stopped, mate)))
    stop_bundles(writer, ground, [stopped], placed_at=ago(days=1))

    with pytest.raises(StoppedWoodStays):
        put(writer, ground.health_steward, {"bundle_id": stopped, "into_box_id": apart.id})
    put(writer, ground.health_steward, {"bundle_id": stopped, "into_box_id": apart.id, "to_isolate": True})
    put(writer, ground.health_steward, {"box_id": apart.id, "store_id": store.id, "to_isolate": True})

    assert lies(database, stopped).store_name == "Garage fridge"
    with pytest.raises(NotApart):
        put(writer, ground.health_steward, {"bundle_id": stopped, "into_box_id": box.id, "to_isolate": True})
    (told,) = put(writer, ground.host, {"bundle_id": mate, "into_box_id": apart.id})
    assert "stopped wood" in told.warnings[0]


def test_a_move_made_before_the_stop_may_be_written_down_late(database: Database, writer: Writer, ground: Ground):
    fridge, cellar = make_store(writer, ground), make_store(writer, ground, "Cellar")
    (bundle,) = make_bundles(writer, ground)
    put(writer, ground.host, {"bundle_id": bundle, "store_id": fridge.id, "done_at": ago(days=9)})
    stop_bundles(writer, ground, [bundle], placed_at=ago(days=2))

    put(writer, ground.host, {"bundle_id": bundle, "store_id": cellar.id, "done_at": ago(days=3)})

    assert lies(database, bundle).store_name == "Cellar"
    with pytest.raises(StoppedWoodStays):
        put(writer, ground.host, {"bundle_id": bundle, "store_id": fridge.id, "done_at": ago(days=1)})


def test_putting_away_before_the_bundle_was_made_is_told(writer: Writer, ground: Ground):
    store = make_store(writer, ground)
    (bundle,) = make_bundles(writer, ground, made_at=ago(days=1))

    (told,) = put(writer, ground.host, {"bundle_id": bundle, "store_id": store.id, "done_at": ago(days=2)})

    assert "before it was made" in told.warnings[0]


# -- lists -------------------------------------------------------------------------------------------------------


def test_a_store_tells_what_lies_in_it_now_and_then(database: Database, writer: Writer, ground: Ground, statements: Statements):
    store = make_store(writer, ground, places=["door"])
    box = make_box(writer, ground, place_id=store.places[1].id)
    boxed, loose, used_up = make_bundles(writer, ground, 3)
    put(writer, ground.host, {"box_id": box.id, "place_id": store.places[1].id, "done_at": ago(days=6)})
    put(writer, ground.host, {"bundle_id": boxed, "into_box_id": box.id, "done_at": ago(days=5)})
    put(writer, ground.host, {"bundle_id": loose, "store_id": store.id, "done_at": ago(days=5)})
    put(writer, ground.host, {"bundle_id": loose, "out": True, "done_at": ago(days=1)})
    (empty,) = make_bundles(writer, ground, came_in=4, grafted=4)
    put(writer, ground.host, {"bundle_id": empty, "store_id": store.id})

    with database.reading() as session:
        with statements.at_most(4):
            now = queries.contents_of_store(session, store.id, Paging())
        then = queries.contents_of_store(session, store.id, Paging(), ago(days=2))
        door = queries.contents_of_place(session, store.places[1].id, Paging())
        in_box = queries.contents_of_box(session, box.id, Paging())

    assert [c.bundle_id for c in now.items] == [boxed] and now.count == 1
    assert {c.bundle_id for c in then.items} == {boxed, loose}
    assert [c.bundle_id for c in door.items] == [c.bundle_id for c in in_box.items] == [boxed]
    assert (now.items[0].variety, now.items[0].kind, now.items[0].on_hand) == ("‘Kordia’", "Apple", 10)
    assert used_up not in {c.bundle_id for c in then.items}


def test_the_page_of_a_store_costs_the_same_for_few_and_many(database: Database, writer: Writer, ground: Ground, statements: Statements):
    store = make_store(writer, ground, places=["door"])
    boxes = [make_box(writer, ground, f"Crate {n}", store_id=store.id) for n in range(3)]
    bundles = make_bundles(writer, ground, 30)
    put(writer, ground.host, *({"bundle_id": b, "into_box_id": boxes[n % 3].id} for n, b in enumerate(bundles[:29])))
    put(writer, ground.host, {"bundle_id": bundles[29], "place_id": store.places[1].id})
    stop_bundles(writer, ground, bundles[:2])

    with statements.at_most(4), database.reading() as session:
        page = queries.store_page(session, store.id)

    assert (page.bundles, page.sticks, page.stopped) == (30, 300, 2)
    assert [[len(box.bundles) for box in place.boxes] for place in page.places] == [[10, 10, 9], []]
    assert [len(place.bundles) for place in page.places] == [0, 1]


def test_stores_and_boxes_are_listed_for_their_host(database: Database, writer: Writer, ground: Ground, statements: Statements):
    other = make_person(writer, Role.HOST)
    make_store(writer, ground), make_store(writer, ground, "Cellar", host_id=other.party_id)
    box = make_box(writer, ground, store_id=make_store(writer, ground, "Barn").id)
    make_box(writer, ground, "In the hall")

    with database.reading() as session, statements.at_most(10):
        mine = queries.stores_of_host(session, ground.host.party_id)
        page = queries.list_stores(session, Paging(limit=2))
        rest = queries.list_stores(session, Paging(page.next, 2))
        boxes = queries.list_boxes(session, Paging())

    assert [s.name for s in mine] == ["Barn", "Garage fridge"]
    assert [s.name for s in page.items + rest.items] == ["Barn", "Cellar", "Garage fridge"] and page.count == 3
    assert [(b.name, b.store_name) for b in boxes.items] == [("Blue crate", "Barn"), ("In the hall", "")]
    assert box.store_name == "Barn"


# -- two at once -------------------------------------------------------------------------------------------------


@pytest.mark.databases("postgres")
def test_two_who_move_the_same_bundle_at_once_leave_one_stay(database: Database, writer: Writer, ground: Ground):
    stores = [make_store(writer, ground, f"Fridge {n}") for n in range(6)]
    (bundle,) = make_bundles(writer, ground)
    threads = [
        threading.Thread(target=put, args=(writer, ground.host, {"bundle_id": bundle, "store_id": store.id, "done_at": ago(hours=n + 1)}))
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


def test_a_store_is_set_up_with_a_tag_of_its_own(database: Database, writer: Writer, ground: Ground):
    store = writer.write_now(actions.add_store, ground.host, StoreCreate(name="Cellar", host_id=ground.host.party_id))
    box = make_box(writer, ground, with_tag=True, store_id=store.id)
    (bundle,) = make_bundles(writer, ground)

    put(writer, ground.host, {"code": box.code, "into_code": store.code}, {"bundle_id": bundle, "into_code": box.code.lower()})

    assert lies(database, bundle).store_name == "Cellar"
    writer.write_now(_set_codes, None, {box.id: "NEWC0DE1", store.id: "NEWC0DE2"})
    with database.reading() as session:
        assert (queries.get_box(session, box.id).code, queries.get_store(session, store.id).code) == ("NEWC0DE1", "NEWC0DE2")


def _set_codes(session: Session, codes: dict) -> None:
    actions.set_codes(session, codes)


def test_the_clock_of_the_club_dates_what_is_not_dated(writer: Writer, ground: Ground, clock: FixedClock):
    store = make_store(writer, ground)
    (bundle,) = make_bundles(writer, ground)
    clock.at = datetime(2026, 3, 1, tzinfo=UTC)

    (told,) = put(writer, ground.host, {"bundle_id": bundle, "store_id": store.id})

    assert told.done_at == told.recorded_at == clock.at
