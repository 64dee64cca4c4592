"""Setting up stores, places and boxes."""

from __future__ import annotations

from uuid import UUID

from sqlalchemy import case, update
from sqlmodel import Session, col

from service.lib.database import new_id
from service.lib.errors import check_version
from service.lib.write import insert_rows, recorded_at
from service.members.rules import Member
from service.storage import queries
from service.storage.actions.hand import note_fruit
from service.storage.actions.putting import put_away
from service.storage.queries.stores import store_read
from service.storage.rules import (
    ANYWHERE,
    NameInUse,
    NoSuchBox,
    NoSuchHost,
    NoSuchStore,
    StoreClosed,
    StoreNotEmpty,
)
from service.storage.schemas import (
    BoxCreate,
    BoxRead,
    BoxUpdate,
    PlaceCreate,
    PlaceRead,
    PutAwayCreate,
    StoreCreate,
    StoreRead,
    StoreUpdate,
)
from service.storage.tables import Box, Place, Store
from service.tags.actions import bind_new_tags
from service.tags.rules.words import TagKind


def add_store(session: Session, member: Member, body: StoreCreate) -> StoreRead:
    """A store with its shelves, and one place more that means anywhere in it."""
    _check_host(session, body.host_id)
    _check_name(session, Store, body.name)
    if len(set(body.places)) != len(body.places):
        raise NameInUse("Two places of one store cannot have the same name.", field="places")
    code = bind_new_tags(session, member, TagKind.STORE, [body.id])[body.id] if body.with_tag else None
    store = Store(**body.model_dump(exclude={"places", "with_tag"}), code=code)
    places = [{"id": new_id(), "store_id": store.id, "name": name} for name in (ANYWHERE, *body.places)]
    session.add(store)
    session.flush()
    insert_rows(session, Place, places)
    if body.fruit_inside:
        note_fruit(session, member, store, inside=True)
    return store_read(store, [PlaceRead.model_validate(place) for place in places])


def change_store(
    session: Session, member: Member, store_id: UUID, version: int, body: StoreUpdate
) -> StoreRead:
    """Correct what is known of a store, give it another host, close it or open it again."""
    store = session.get(Store, store_id, with_for_update=True, populate_existing=True)
    if store is None:
        raise NoSuchStore("There is no store under this id.")
    check_version(store.version, version)
    told = body.told()
    if body.host_id is not None and body.host_id != store.host_id:
        _check_host(session, body.host_id)
    if body.name is not None and body.name != store.name:
        _check_name(session, Store, body.name)
    closed = told.pop("closed", None)
    if closed is True and store.closed_at is None:
        left = queries.wood_left_in(session, store_id)
        if left:
            raise StoreNotEmpty(
                f"{left} bundle{'' if left == 1 else 's'} of wood still lie in it.", bundles=left
            )
        told["closed_at"] = recorded_at(session)
    elif closed is False:
        told["closed_at"] = None
    for name, value in told.items():
        setattr(store, name, value)
    store.version += 1
    session.flush()
    if "fruit_inside" in told:
        note_fruit(session, member, store, body.fruit_inside)
    return store_read(store, queries.places_of(session, [store_id]).get(store_id, []))


def add_place(session: Session, member: Member, body: PlaceCreate) -> PlaceRead:
    """A further shelf or corner of a store."""
    store = queries.get_store(session, body.store_id)
    if store.closed_at is not None:
        raise StoreClosed(f"{store.name} is closed.")
    if any(place.name == body.name for place in store.places):
        raise NameInUse(f"{store.name} has a place called {body.name} already.", field="name")
    insert_rows(session, Place, [body.model_dump()])
    return PlaceRead.model_validate(body.model_dump())


def add_box(session: Session, member: Member, body: BoxCreate) -> BoxRead:
    """A box, put on its place at once where one is told."""
    _check_name(session, Box, body.name)
    code = bind_new_tags(session, member, TagKind.BOX, [body.id])[body.id] if body.with_tag else None
    insert_rows(
        session, Box, [{"id": body.id, "name": body.name, "note": body.note, "code": code, "version": 1}]
    )
    if body.place_id is not None or body.store_id is not None:
        told = PutAwayCreate(box_id=body.id, place_id=body.place_id, store_id=body.store_id)
        put_away(session, member, [told], empty_boxes=True)
    return queries.get_box(session, body.id)


def change_box(session: Session, member: Member, box_id: UUID, version: int, body: BoxUpdate) -> BoxRead:
    """Rename a box or correct its note; where it stands is changed by putting it away."""
    box = session.get(Box, box_id, with_for_update=True, populate_existing=True)
    if box is None:
        raise NoSuchBox("There is no box under this id.")
    check_version(box.version, version)
    if body.name is not None and body.name != box.name:
        _check_name(session, Box, body.name)
    for name, value in body.told().items():
        setattr(box, name, value)
    box.version += 1
    session.flush()
    return queries.get_box(session, box_id)


def set_codes(session: Session, codes: dict[UUID, str]) -> None:
    """The codes that boxes and stores go by from now on; the tags stage has bound them. Two statements."""
    for table in (Box, Store):
        session.execute(
            update(table)
            .where(col(table.id).in_(list(codes)))
            .values(code=case(codes, value=col(table.id)), version=table.version + 1)
            .execution_options(synchronize_session=False)
        )


def _check_host(session: Session, host_id: UUID) -> None:
    if host_id not in queries.parties_that_stand(session, [host_id]):
        raise NoSuchHost("There is nobody under this id.", field="host_id")


def _check_name(session: Session, table: type[Store | Box], name: str) -> None:
    if queries.find_names_in_use(session, table, [name]):
        raise NameInUse(f"There is a {table.__name__.lower()} called {name} already.", field="name")
