"""What lay beside what, and where a bundle lay through time."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, String, and_, case, func, null, or_, select, union_all
from sqlalchemy import cast as sql_cast
from sqlmodel import Session, col

from service.bundles.queries.counters import ON_HAND
from service.bundles.tables import Bundle, StickMove
from service.lib.given import these
from service.storage.queries.lying import check_bundle_stands
from service.storage.rules import Beside, BoxStay, BundleStay, Closeness, Span, plan_beside, plan_spells
from service.storage.rules.stays import Spell
from service.storage.schemas import BesideRead, StayRead
from service.storage.tables import Box, Place, Stay, Store


def _during(window: Span) -> ColumnElement[bool]:
    parts: list[ColumnElement[bool]] = [col(Stay.id).is_not(None)]
    if window.until_at is not None:
        parts.append(col(Stay.from_at) < window.until_at)
    if window.from_at is not None:
        parts.append(or_(col(Stay.until_at).is_(None), col(Stay.until_at) > window.from_at))
    return and_(*parts)


def _bundle_stays(
    session: Session, where: ColumnElement[bool], window: Span, most: int | None = None
) -> list[BundleStay]:
    statement = (
        select(
            col(Stay.bundle_id), col(Stay.into_box_id), col(Stay.place_id), col(Place.store_id), col(Stay.from_at), col(Stay.until_at),
            _used_up_at().label("used_up_at"),
        )
        .join(Bundle, col(Bundle.id) == col(Stay.bundle_id))
        .outerjoin(Place, col(Place.id) == col(Stay.place_id))
        .where(col(Stay.bundle_id).is_not(None), where, _during(window))
    )  # fmt: skip
    stays: list[BundleStay] = []
    for row in session.execute(statement if most is None else statement.limit(most)):
        span = Span(row.from_at, row.until_at).overlap(Span(None, row.used_up_at))
        if span is not None:
            stays.append(BundleStay(row.bundle_id, row.into_box_id, row.place_id, row.store_id, span))
    return stays


def _used_up_at() -> Any:
    """When the last stick of a bundle left it: from then on no wood of it lies anywhere. Nothing while it has sticks."""
    last = (
        select(func.max(col(StickMove.done_at)))
        .where(col(StickMove.bundle_id) == col(Bundle.id))
        .correlate(Bundle)
    )
    return case((ON_HAND == 0, last.scalar_subquery()))


def _box_stays(session: Session, box_ids: Iterable[UUID], window: Span) -> list[BoxStay]:
    ids = list(box_ids)
    if not ids:
        return []
    statement = (
        select(
            col(Stay.box_id), col(Stay.place_id), col(Place.store_id), col(Stay.from_at), col(Stay.until_at)
        )
        .join(Place, col(Place.id) == col(Stay.place_id))
        .where(col(Stay.box_id).in_(these(session, ids)), _during(window))
    )
    return [
        BoxStay(row.box_id, row.place_id, row.store_id, Span(row.from_at, row.until_at))
        for row in session.execute(statement)
    ]


def beside_all(
    session: Session, bundle_ids: Iterable[UUID], from_at: datetime | None = None, until_at: datetime | None = None,
    *, at_least: Closeness = Closeness.STORE,
) -> list[Beside]:  # fmt: skip
    """What lay near any of these bundles and when, the nearest first; at most four statements whatever their number.

    A box is followed through all its moves; a bundle that was used up lay there until its last stick left.
    `at_least` leaves out what lay farther off: a recall asks for the box alone.
    """
    window = Span(from_at, until_at)
    own = _bundle_stays(session, col(Stay.bundle_id).in_(these(session, bundle_ids)), window)
    if not own:
        return []
    boxes = {stay.box_id for stay in own if stay.box_id}
    own_boxes = _box_stays(session, boxes, window)
    spells = plan_spells(own, own_boxes, window)
    near = or_(*_near(spells, boxes, window, at_least))
    others = _bundle_stays(session, near, window)
    other_boxes = _box_stays(session, {stay.box_id for stay in others if stay.box_id}, window)
    return plan_beside(spells, plan_spells(others, other_boxes, window), at_least)


def _near(
    spells: list[Spell], boxes: set[UUID], window: Span, at_least: Closeness
) -> list[ColumnElement[bool]]:
    parts: list[ColumnElement[bool]] = [col(Stay.into_box_id).in_(boxes)]
    if at_least is not Closeness.BOX:
        stores = {spell.store_id for spell in spells if spell.store_id}
        places = select(col(Place.id)).where(col(Place.store_id).in_(stores))
        standing = select(col(Stay.box_id)).where(
            col(Stay.box_id).is_not(None), col(Stay.place_id).in_(places), _during(window)
        )
        parts += [col(Stay.place_id).in_(places), col(Stay.into_box_id).in_(standing)]
    return parts


def beside(
    session: Session, bundle_id: UUID, from_at: datetime | None = None, until_at: datetime | None = None,
    *, at_least: Closeness = Closeness.STORE,
) -> list[BesideRead]:  # fmt: skip
    """What lay in the same box, on the same place or in the same store as a bundle, and when; at most six statements."""
    check_bundle_stands(session, bundle_id)
    found = beside_all(session, [bundle_id], from_at, until_at, at_least=at_least)
    ids = {one.other_id for one in found}
    codes: dict[UUID, str | None] = {}
    if ids:
        codes = {
            row.id: row.code
            for row in session.execute(
                select(col(Bundle.id), col(Bundle.code)).where(col(Bundle.id).in_(ids))
            )
        }
    return [
        BesideRead(
            bundle_id=one.other_id, code=codes[one.other_id], closeness=one.closeness, from_at=_sure(one.span.from_at),
            until_at=one.span.until_at,
        )
        for one in found
    ]  # fmt: skip


def stays_of_all(session: Session, bundle_ids: Iterable[UUID]) -> dict[UUID, list[StayRead]]:
    """Where bundles lay through time, box moves and all; three statements whatever their number."""
    spells = spells_of_all(session, bundle_ids)
    names = _names(session, spells)
    found: dict[UUID, list[StayRead]] = {}
    for spell in spells:
        place = names.get(spell.place_id)
        found.setdefault(spell.bundle_id, []).append(
            StayRead(
                box_id=spell.box_id, box_name=names[spell.box_id].name if spell.box_id else "", place_id=spell.place_id,
                place_name=place.name if place else "", store_id=spell.store_id, store_name=place.store if place else "",
                from_at=_sure(spell.span.from_at), until_at=spell.span.until_at,
            )
        )  # fmt: skip
    return found


def spells_of_all(session: Session, bundle_ids: Iterable[UUID]) -> list[Spell]:
    """The same without its words; two statements."""
    own = _bundle_stays(session, col(Stay.bundle_id).in_(these(session, bundle_ids)), Span())
    return plan_spells(own, _box_stays(session, {stay.box_id for stay in own if stay.box_id}, Span()))


def spells_in_boxes(session: Session, box_ids: Iterable[UUID]) -> list[Spell]:
    """All that ever lay in boxes; two statements."""
    boxes = list(box_ids)
    lay = _bundle_stays(session, col(Stay.into_box_id).in_(boxes), Span())
    return plan_spells(lay, _box_stays(session, boxes, Span()))


def spells_in_store(session: Session, store_id: UUID, window: Span, most: int) -> list[Spell] | None:
    """All that lay in a store during a time, in boxes or not; None: more stays than `most`. Two statements."""
    places = select(col(Place.id)).where(col(Place.store_id) == store_id)
    standing = select(col(Stay.box_id)).where(
        col(Stay.box_id).is_not(None), col(Stay.place_id).in_(places), _during(window)
    )
    lay = _bundle_stays(
        session, or_(col(Stay.place_id).in_(places), col(Stay.into_box_id).in_(standing)), window, most + 1
    )
    if len(lay) > most:
        return None
    boxes = _box_stays(session, {stay.box_id for stay in lay if stay.box_id}, window)
    return [spell for spell in plan_spells(lay, boxes, window) if spell.store_id == store_id]


def stays_of(session: Session, bundle_id: UUID) -> list[StayRead]:
    """Where one bundle lay through time, the earliest first; four statements. Raises `NoSuchBundle`."""
    check_bundle_stands(session, bundle_id)
    return stays_of_all(session, [bundle_id]).get(bundle_id, [])


def _names(session: Session, spells: list[Spell]) -> dict[UUID | None, Any]:
    boxes = {spell.box_id for spell in spells if spell.box_id}
    places = {spell.place_id for spell in spells if spell.place_id}
    if not boxes and not places:
        return {}
    of_boxes = select(col(Box.id), col(Box.name), sql_cast(null(), String).label("store")).where(
        col(Box.id).in_(boxes)
    )
    of_places = (
        select(col(Place.id), col(Place.name), col(Store.name).label("store"))
        .join(Store, col(Store.id) == col(Place.store_id))
        .where(col(Place.id).in_(places))
    )
    return {row.id: row for row in session.execute(union_all(of_boxes, of_places))}


def _sure(at: datetime | None) -> datetime:
    assert at is not None  # a stay always has a beginning
    return at
