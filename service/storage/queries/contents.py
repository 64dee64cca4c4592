"""What lies in a store, on a place or in a box, now or at any moment."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, String, and_, func, null, select, union_all
from sqlalchemy import Uuid as UuidType
from sqlalchemy import cast as sql_cast
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.queries import ON_HAND
from service.bundles.tables import Bundle
from service.catalogue.rules import page_name
from service.catalogue.tables import Cultivar, Taxon
from service.collection.tables import Collection
from service.lib.paging import Page, Paging, page_of
from service.storage.queries.lying import BoxStay, box_changed_at, covers
from service.storage.queries.stores import get_box, get_store
from service.storage.rules import NoSuchPlace
from service.storage.schemas import BoxContents, ContentRead, PlaceContents, StorePage
from service.storage.tables import Box, Place, Stay, Store

_Parent = aliased(Bundle, name="parent")


def _loose(at: datetime | None, *where: ColumnElement[bool]) -> Any:
    nothing = sql_cast(null(), UuidType)
    return (
        select(
            col(Stay.bundle_id), col(Place.id).label("place_id"), col(Place.name).label("place_name"), nothing.label("box_id"),
            sql_cast(null(), String).label("box_name"), col(Stay.from_at).label("since"), col(Stay.from_at).label("box_since"),
        )
        .join(Place, col(Place.id) == col(Stay.place_id))
        .where(col(Stay.bundle_id).is_not(None), covers(Stay, at), *where)
    )  # fmt: skip


def _in_boxes(at: datetime | None, *where: ColumnElement[bool]) -> Any:
    return (
        select(
            col(Stay.bundle_id), col(Place.id).label("place_id"), col(Place.name).label("place_name"), col(Box.id).label("box_id"),
            col(Box.name).label("box_name"), col(Stay.from_at).label("since"),
            func.coalesce(box_changed_at(at), col(Stay.from_at)).label("box_since"),
        )
        .join(Box, col(Box.id) == col(Stay.into_box_id))
        .outerjoin(BoxStay, and_(col(BoxStay.box_id) == col(Box.id), covers(BoxStay, at)))
        .outerjoin(Place, col(Place.id) == col(BoxStay.place_id))
        .where(col(Stay.bundle_id).is_not(None), covers(Stay, at), *where)
    )  # fmt: skip


def _described(lying: Any, at: datetime | None) -> Any:
    """Bundles with their names and counts. Of what lies there now, used-up bundles are left out."""
    statement = (
        select(
            lying.c.bundle_id, lying.c.place_id, lying.c.place_name, lying.c.box_id, lying.c.box_name, lying.c.since, lying.c.box_since,
            col(Bundle.code), col(_Parent.code).label("parent_code"), ON_HAND.label("on_hand"), col(Bundle.open_stops),
            col(Collection.number), col(Collection.cut_on), col(Collection.name_as_told), col(Taxon.kind), col(Cultivar.epithet),
            col(Cultivar.trade_designation),
        )
        .select_from(lying)
        .join(Bundle, col(Bundle.id) == lying.c.bundle_id)
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(_Parent, col(_Parent.id) == col(Bundle.parent_id))
    )  # fmt: skip
    return statement if at is not None else statement.where(ON_HAND > 0)


def _content(row: Any) -> ContentRead:
    variety = page_name(row.epithet, row.trade_designation) if row.epithet else row.name_as_told
    return ContentRead(
        bundle_id=row.bundle_id, code=row.code, parent_code=row.parent_code, kind=row.kind, variety=variety,
        collection_number=row.number, cut_on=row.cut_on, on_hand=row.on_hand, open_stops=row.open_stops, box_id=row.box_id,
        box_name=row.box_name or "", place_id=row.place_id, place_name=row.place_name or "", since=max(row.since, row.box_since),
    )  # fmt: skip


def _page(session: Session, lying: Any, at: datetime | None, paging: Paging) -> Page[ContentRead]:
    keys = [(col(Collection.number), False), (col(Bundle.id), False)]
    return page_of(session, _described(lying, at), keys, paging, _content)


def contents_of_store(
    session: Session, store_id: UUID, paging: Paging, at: datetime | None = None
) -> Page[ContentRead]:
    """What lies in a store, in boxes and loose; at most four statements. Raises `NoSuchStore`."""
    get_store(session, store_id)
    here = col(Place.store_id) == store_id
    return _page(session, union_all(_loose(at, here), _in_boxes(at, here)).subquery("lying"), at, paging)


def contents_of_place(
    session: Session, place_id: UUID, paging: Paging, at: datetime | None = None
) -> Page[ContentRead]:
    """What lies on a place, in boxes and loose; three statements. Raises `NoSuchPlace`."""
    if session.execute(select(col(Place.id)).where(col(Place.id) == place_id)).first() is None:
        raise NoSuchPlace("There is no place under this id.")
    here = col(Place.id) == place_id
    return _page(session, union_all(_loose(at, here), _in_boxes(at, here)).subquery("lying"), at, paging)


def contents_of_box(
    session: Session, box_id: UUID, paging: Paging, at: datetime | None = None
) -> Page[ContentRead]:
    """What lies in a box, wherever it stands; three statements. Raises `NoSuchBox`."""
    get_box(session, box_id)
    return _page(session, _in_boxes(at, col(Box.id) == box_id).subquery("lying"), at, paging)


def lying_in_store(session: Session, store_id: UUID) -> list[ContentRead]:
    """All bundles with wood in a store now, in boxes and loose; three statements. Raises `NoSuchStore`."""
    get_store(session, store_id)
    return wood_in(session, store_id)


def ids_lying_in_store(session: Session, store_id: UUID) -> list[UUID]:
    """Which bundles with wood lie in a store now, and no more of them; two statements. Raises `NoSuchStore`."""
    get_store(session, store_id)
    here = col(Place.store_id) == store_id
    lying = union_all(_loose(None, here), _in_boxes(None, here)).subquery("lying")
    statement = select(lying.c.bundle_id).join(Bundle, col(Bundle.id) == lying.c.bundle_id).where(ON_HAND > 0)
    return list(session.execute(statement).scalars())


def groups_lying_in(session: Session, store_ids: Iterable[UUID]) -> dict[UUID, set[str]]:
    """The groups of species that lie in each of these stores now, none where a kind has none; one statement."""
    here = col(Place.store_id).in_(list(store_ids))
    lying = union_all(_loose(None, here), _in_boxes(None, here)).subquery("lying")
    statement = (
        select(col(Place.store_id), col(Taxon.species_group)).distinct()
        .join(lying, lying.c.place_id == col(Place.id))
        .join(Bundle, col(Bundle.id) == lying.c.bundle_id)
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .outerjoin(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .where(ON_HAND > 0)
    )  # fmt: skip
    found: dict[UUID, set[str]] = {}
    for row in session.execute(statement):
        found.setdefault(row.store_id, set()).update([row.species_group] if row.species_group else [])
    return found


def wood_in(session: Session, store_id: UUID) -> list[ContentRead]:
    """The same of a store that is known to stand; one statement less."""
    here = col(Place.store_id) == store_id
    lying = union_all(_loose(None, here), _in_boxes(None, here)).subquery("lying")
    return [_content(row) for row in session.execute(_described(lying, None))]


def lying_in_stores(
    session: Session, host_id: UUID | None = None
) -> tuple[list[ContentRead], dict[UUID, tuple[UUID, str]]]:
    """All bundles with wood in any open store now, or in those of one host, and of each place the store with its name.

    Two statements; one where there is no such store.
    """
    of_host = [] if host_id is None else [col(Store.host_id) == host_id]
    rows = session.execute(
        select(col(Place.id), col(Store.id).label("store_id"), col(Store.name))
        .join(Store, col(Store.id) == col(Place.store_id))
        .where(col(Store.closed_at).is_(None), *of_host)
    )
    stores = {row.id: (row.store_id, row.name) for row in rows}
    if not stores:
        return [], {}
    here = [] if host_id is None else [col(Place.id).in_(list(stores))]
    lying = union_all(_loose(None, *here), _in_boxes(None, *here)).subquery("lying")
    found = [_content(row) for row in session.execute(_described(lying, None))]
    return [each for each in found if each.place_id in stores], stores


def wood_left_in(session: Session, store_id: UUID) -> int:
    """How many bundles with wood lie in a store now; one statement."""
    here = col(Place.store_id) == store_id
    lying = _described(union_all(_loose(None, here), _in_boxes(None, here)).subquery("lying"), None)
    return int(session.execute(select(func.count()).select_from(lying.subquery())).scalar_one())


def store_page(session: Session, store_id: UUID) -> StorePage:
    """A whole store for its host: every place, every box on it, every bundle; four statements."""
    store = get_store(session, store_id)
    here = col(Place.store_id) == store_id
    lying = union_all(_loose(None, here), _in_boxes(None, here)).subquery("lying")
    statement = _described(lying, None).order_by(col(Taxon.kind), col(Collection.number), col(Bundle.id))
    contents = [_content(row) for row in session.execute(statement)]
    boxes = session.execute(
        select(col(Box.id), col(Box.code), col(Box.name), col(Stay.place_id))
        .join(Stay, and_(col(Stay.box_id) == col(Box.id), col(Stay.until_at).is_(None)))
        .join(Place, col(Place.id) == col(Stay.place_id))
        .where(here)
        .order_by(col(Box.name))
    ).all()
    places = [
        PlaceContents(
            id=place.id, name=place.name, bundles=[c for c in contents if c.place_id == place.id and c.box_id is None],
            boxes=[
                BoxContents(id=box.id, code=box.code, name=box.name, bundles=[c for c in contents if c.box_id == box.id])
                for box in boxes if box.place_id == place.id
            ],
        )
        for place in store.places
    ]  # fmt: skip
    return StorePage(
        store=store,
        places=places,
        bundles=len(contents),
        sticks=sum(c.on_hand for c in contents),
        stopped=sum(c.open_stops > 0 for c in contents),
    )
