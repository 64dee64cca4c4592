"""Stores, their places, and boxes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any
from uuid import UUID

from sqlalchemy import and_, func, select
from sqlmodel import Session, col

from service.lib.paging import Page, Paging, page_of
from service.storage.rules import FRUIT_CAUTION, NoSuchBox, NoSuchStore
from service.storage.schemas import BoxRead, PlaceRead, StoreRead
from service.storage.tables import Box, Place, Stay, Store


def store_read(store: Store, places: Sequence[PlaceRead]) -> StoreRead:
    """The answer for one store, from rows at hand."""
    return StoreRead(
        **store.model_dump(),
        places=sorted(places, key=lambda place: place.name),
        cautions=[FRUIT_CAUTION] if store.fruit_inside else [],
    )


def places_of(session: Session, store_ids: Iterable[UUID]) -> dict[UUID, list[PlaceRead]]:
    """Places by their store, by name; one statement."""
    found: dict[UUID, list[PlaceRead]] = {}
    rows = session.execute(
        select(Place).where(col(Place.store_id).in_(list(store_ids))).order_by(col(Place.name))
    ).scalars()
    for place in rows:
        found.setdefault(place.store_id, []).append(PlaceRead.model_validate(place))
    return found


def get_store(session: Session, store_id: UUID) -> StoreRead:
    """One store with its places; two statements."""
    store = session.execute(select(Store).where(col(Store.id) == store_id)).scalar_one_or_none()
    if store is None:
        raise NoSuchStore("There is no store under this id.")
    return store_read(store, places_of(session, [store_id]).get(store_id, []))


def list_stores(
    session: Session, paging: Paging, *, open_only: bool = False, host_id: UUID | None = None
) -> Page[StoreRead]:
    """Stores by name with their places; three statements."""
    statement = select(Store)
    if open_only:
        statement = statement.where(col(Store.closed_at).is_(None))
    if host_id is not None:
        statement = statement.where(col(Store.host_id) == host_id)
    page = page_of(
        session, statement, [(col(Store.name), False), (col(Store.id), False)], paging, lambda row: row.Store
    )
    places = places_of(session, [store.id for store in page.items])
    return Page(
        items=[store_read(store, places.get(store.id, [])) for store in page.items],
        next=page.next,
        count=page.count,
    )


def stores_of_host(session: Session, host_id: UUID) -> list[StoreRead]:
    """The open stores that stand with a person, by name; two statements."""
    statement = (
        select(Store)
        .where(col(Store.host_id) == host_id, col(Store.closed_at).is_(None))
        .order_by(col(Store.name))
    )
    stores = session.execute(statement).scalars().all()
    places = places_of(session, [store.id for store in stores])
    return [store_read(store, places.get(store.id, [])) for store in stores]


def facts_for_stores(session: Session, store_ids: Iterable[UUID]) -> dict[UUID, StoreRead]:
    """Stores by id with their places; two statements."""
    ids = list(store_ids)
    places = places_of(session, ids)
    rows = session.execute(select(Store).where(col(Store.id).in_(ids))).scalars()
    return {store.id: store_read(store, places.get(store.id, [])) for store in rows}


def _boxes() -> Any:
    return (
        select(
            col(Box.id), col(Box.code), col(Box.name), col(Box.note), col(Box.version), col(Place.id).label("place_id"),
            func.coalesce(col(Place.name), "").label("place_name"), col(Store.id).label("store_id"),
            func.coalesce(col(Store.name), "").label("store_name"),
        )
        .outerjoin(Stay, and_(col(Stay.box_id) == col(Box.id), col(Stay.until_at).is_(None)))
        .outerjoin(Place, col(Place.id) == col(Stay.place_id))
        .outerjoin(Store, col(Store.id) == col(Place.store_id))
    )  # fmt: skip


def get_box(session: Session, box_id: UUID) -> BoxRead:
    """One box and where it stands; one statement."""
    row = session.execute(_boxes().where(col(Box.id) == box_id)).first()
    if row is None:
        raise NoSuchBox("There is no box under this id.")
    return BoxRead.model_validate(row)


def list_boxes(session: Session, paging: Paging, *, store_id: UUID | None = None) -> Page[BoxRead]:
    """Boxes by name, with where they stand; two statements."""
    statement = _boxes() if store_id is None else _boxes().where(col(Store.id) == store_id)
    return page_of(
        session, statement, [(col(Box.name), False), (col(Box.id), False)], paging, BoxRead.model_validate
    )
