"""Stores, places and boxes on both databases: setting them up, changing them, listing what lies in them."""

from __future__ import annotations

from uuid import uuid4

import pytest
from sqlmodel import Session

from service.lib.database import Database
from service.lib.errors import Stale
from service.lib.paging import Paging
from service.lib.write import Writer
from service.members.rules import Role
from service.storage import actions, queries
from service.storage.queries.labels import words_of_boxes, words_of_stores
from service.storage.rules import (
    NameInUse,
    NoSuchHost,
    NoSuchStore,
    StoreClosed,
    StoreNotEmpty,
)
from service.storage.schemas import BoxUpdate, PlaceCreate, StoreCreate, StoreUpdate
from tests.builders.storage import (
    Ground,
    ago,
    lies,
    make_box,
    make_bundles,
    make_ground,
    make_person,
    make_store,
    put,
    stop_bundles,
)
from tests.conftest import TODAY
from tests.infra.statements import Statements


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_ground(writer)


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
    changed = writer.write_now(
        actions.change_store, ground.host, store.id, 1, StoreUpdate(name="Barn fridge", fruit_inside=False)
    )
    writer.write_now(actions.change_box, ground.host, box.id, 1, BoxUpdate(name="Red crate"))

    assert (changed.name, changed.version, changed.fruit_inside) == ("Barn fridge", 2, False)
    with pytest.raises(Stale):
        writer.write_now(actions.change_store, ground.host, store.id, 1, StoreUpdate(note="x"))
    with pytest.raises(Stale):
        writer.write_now(actions.change_box, ground.host, box.id, 1, BoxUpdate(note="x"))


def test_a_store_with_wood_in_it_is_not_closed_and_a_closed_one_takes_none(writer: Writer, ground: Ground):
    store, box = make_store(writer, ground), make_box(writer, ground)
    (bundle,) = make_bundles(writer, ground)
    put(
        writer,
        ground.host,
        {"box_id": box.id, "store_id": store.id},
        {"bundle_id": bundle, "into_box_id": box.id},
    )

    with pytest.raises(StoreNotEmpty):
        writer.write_now(actions.change_store, ground.host, store.id, 1, StoreUpdate(closed=True))
    put(writer, ground.host, {"bundle_id": bundle, "out": True})
    closed = writer.write_now(actions.change_store, ground.host, store.id, 1, StoreUpdate(closed=True))

    assert closed.closed_at == TODAY
    with pytest.raises(StoreClosed):
        put(writer, ground.host, {"bundle_id": bundle, "store_id": store.id})
    opened = writer.write_now(actions.change_store, ground.host, store.id, 2, StoreUpdate(closed=False))
    assert opened.closed_at is None


def test_a_store_is_set_up_with_a_tag_of_its_own(database: Database, writer: Writer, ground: Ground):
    store = writer.write_now(
        actions.add_store, ground.host, StoreCreate(name="Cellar", host_id=ground.host.party_id)
    )
    box = make_box(writer, ground, with_tag=True, store_id=store.id)
    (bundle,) = make_bundles(writer, ground)

    put(
        writer,
        ground.host,
        {"code": box.code, "into_code": store.code},
        {"bundle_id": bundle, "into_code": box.code.lower()},
    )

    assert lies(database, bundle).store_name == "Cellar"
    writer.write_now(_set_codes, None, {box.id: "NEWC0DE1", store.id: "NEWC0DE2"})
    with database.reading() as session:
        assert (queries.get_box(session, box.id).code, queries.get_store(session, store.id).code) == (
            "NEWC0DE1",
            "NEWC0DE2",
        )


def _set_codes(session: Session, codes: dict) -> None:
    actions.set_codes(session, codes)


def test_a_store_tells_what_lies_in_it_now_and_then(
    database: Database, writer: Writer, ground: Ground, statements: Statements
):
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


def test_the_page_of_a_store_costs_the_same_for_few_and_many(
    database: Database, writer: Writer, ground: Ground, statements: Statements
):
    store = make_store(writer, ground, places=["door"])
    boxes = [make_box(writer, ground, f"Crate {n}", store_id=store.id) for n in range(3)]
    bundles = make_bundles(writer, ground, 30)
    put(
        writer,
        ground.host,
        *({"bundle_id": b, "into_box_id": boxes[n % 3].id} for n, b in enumerate(bundles[:29])),
    )
    put(writer, ground.host, {"bundle_id": bundles[29], "place_id": store.places[1].id})
    stop_bundles(writer, ground, bundles[:2])

    with statements.at_most(4), database.reading() as session:
        page = queries.store_page(session, store.id)

    assert (page.bundles, page.sticks, page.stopped) == (30, 300, 2)
    assert [[len(box.bundles) for box in place.boxes] for place in page.places] == [[10, 10, 9], []]
    assert [len(place.bundles) for place in page.places] == [0, 1]


def test_stores_and_boxes_are_listed_for_their_host(
    database: Database, writer: Writer, ground: Ground, statements: Statements
):
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
    assert [s.name for s in page.items + rest.items] == [
        "Barn",
        "Cellar",
        "Garage fridge",
    ] and page.count == 3
    assert [(b.name, b.store_name) for b in boxes.items] == [("Blue crate", "Barn"), ("In the hall", "")]
    assert box.store_name == "Barn"


def test_labels_of_boxes_and_stores_say_what_they_are(database: Database, writer: Writer, ground: Ground):
    store, box = (
        make_store(writer, ground, "Cellar", kind="cold_room"),
        make_box(writer, ground, "Apple crate"),
    )

    with database.reading() as session:
        of_store = words_of_stores(session, [store.id], TODAY.date())[store.id]
        of_box = words_of_boxes(session, [box.id], TODAY.date())[box.id]

    assert (of_store.name, of_store.heading) == ("Cellar", "Store · cold room")
    assert (of_box.name, of_box.heading) == ("Apple crate", "Box")
