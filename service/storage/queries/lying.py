"""Where bundles lie, now or at any moment."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, and_, func, or_, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.tables import Bundle
from service.storage.rules import NoSuchBundle
from service.storage.schemas import Whereabouts, WhereaboutsRead
from service.storage.tables import Box, Place, Stay, Store

BoxStay = aliased(Stay, name="box_stay")
_LeftStay = aliased(Stay, name="left_stay")


def covers(stay: Any, at: datetime | None) -> ColumnElement[bool]:
    """The stays that hold at a moment; without one, those that were never ended."""
    if at is None:
        return col(stay.until_at).is_(None)
    return and_(col(stay.from_at) <= at, or_(col(stay.until_at).is_(None), col(stay.until_at) > at))


def covers_moment(stay: Any, at: Any) -> ColumnElement[bool]:
    """The same for a moment that stands in another row."""
    return and_(col(stay.from_at) <= at, or_(col(stay.until_at).is_(None), col(stay.until_at) > at))


def box_changed_at(at: datetime | None) -> ColumnElement[datetime | None]:
    """When the box of a bundle's stay came to stand where it does, or was last taken from where it stood."""
    ended = col(_LeftStay.until_at).is_not(None) if at is None else col(_LeftStay.until_at) <= at
    left = (
        select(func.max(col(_LeftStay.until_at)))
        .where(col(_LeftStay.box_id) == col(Stay.into_box_id), ended)
        .correlate(Stay)
        .scalar_subquery()
    )
    return func.coalesce(col(BoxStay.from_at), left)


def whereabouts(
    session: Session, bundle_ids: Iterable[UUID], at: datetime | None = None
) -> dict[UUID, Whereabouts]:
    """Where bundles lie, or lay at a moment; one statement whatever their number.

    A bundle that is in no box and no store is missing from the answer. `since` is from when on it lay exactly there.
    """
    place_id = func.coalesce(col(Stay.place_id), col(BoxStay.place_id))
    statement = (
        select(
            col(Stay.bundle_id), col(Stay.into_box_id).label("box_id"), col(Box.name).label("box_name"), col(Place.id).label("place_id"),
            col(Place.name).label("place_name"), col(Store.id).label("store_id"), col(Store.name).label("store_name"), col(Store.host_id),
            col(Stay.from_at), box_changed_at(at).label("box_changed_at"),
        )
        .outerjoin(Box, col(Box.id) == col(Stay.into_box_id))
        .outerjoin(BoxStay, and_(col(BoxStay.box_id) == col(Stay.into_box_id), covers(BoxStay, at)))
        .outerjoin(Place, col(Place.id) == place_id)
        .outerjoin(Store, col(Store.id) == col(Place.store_id))
        .where(col(Stay.bundle_id).in_(list(bundle_ids)), covers(Stay, at))
    )  # fmt: skip
    return {row.bundle_id: _read(row) for row in session.execute(statement)}


def _read(row: Any) -> Whereabouts:
    since = row.from_at if row.box_changed_at is None else max(row.from_at, row.box_changed_at)
    return Whereabouts(
        bundle_id=row.bundle_id, box_id=row.box_id, box_name=row.box_name or "", place_id=row.place_id, place_name=row.place_name or "",
        store_id=row.store_id, store_name=row.store_name or "", host_id=row.host_id, since=since,
    )  # fmt: skip


def whereabouts_at(session: Session, bundle_id: UUID, at: datetime | None = None) -> WhereaboutsRead:
    """Where one bundle lies, or lay at a moment; two statements. Raises `NoSuchBundle`."""
    check_bundle_stands(session, bundle_id)
    return WhereaboutsRead(
        bundle_id=bundle_id, at=at, whereabouts=whereabouts(session, [bundle_id], at).get(bundle_id)
    )


def check_bundle_stands(session: Session, bundle_id: UUID) -> None:
    if session.execute(select(col(Bundle.id)).where(col(Bundle.id) == bundle_id)).first() is None:
        raise NoSuchBundle("There is no bundle under this id.")


def wood_since(
    session: Session, store_id: UUID, bundle_ids: Iterable[UUID], after: datetime
) -> tuple[datetime, ...]:
    """From when on bundles that lie in a store lay there without a break, of those that came in after a moment; one statement.

    What was moved within the store, or with its box, did not come in.
    """
    lying, place_id = set(bundle_ids), func.coalesce(col(Stay.place_id), col(BoxStay.place_id))
    rows = session.execute(
        select(
            col(Stay.bundle_id), col(Stay.from_at), col(Stay.until_at), col(BoxStay.from_at).label("box_from"),
            col(BoxStay.until_at).label("box_until"),
        )
        .outerjoin(BoxStay, col(BoxStay.box_id) == col(Stay.into_box_id))
        .join(Place, col(Place.id) == place_id)
        .where(
            col(Place.store_id) == store_id, col(Stay.bundle_id).is_not(None), _lasted_beyond(Stay, after),
            or_(col(BoxStay.id).is_(None), _lasted_beyond(BoxStay, after)),
        )
    ).all()  # fmt: skip
    stays: dict[UUID, list[tuple[datetime, datetime | None]]] = {}
    for row in rows:
        if row.bundle_id in lying:
            begin = max(each for each in (row.from_at, row.box_from) if each is not None)
            end = min((each for each in (row.until_at, row.box_until) if each is not None), default=None)
            if end is None or begin < end:
                stays.setdefault(row.bundle_id, []).append((begin, end))
    return tuple(sorted({begun for each in stays.values() if (begun := _unbroken_from(each)) > after}))


def _lasted_beyond(stay: Any, moment: datetime) -> ColumnElement[bool]:
    return or_(col(stay.until_at).is_(None), col(stay.until_at) > moment)


def _unbroken_from(stays: Iterable[tuple[datetime, datetime | None]]) -> datetime:
    (begun, _), *before = sorted(stays, key=lambda stay: stay[0], reverse=True)
    for begin, end in before:
        if end is not None and end < begun:
            break
        begun = begin
    return begun
