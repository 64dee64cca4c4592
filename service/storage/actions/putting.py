"""Putting bundles and boxes away, and taking them out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import delete, or_
from sqlmodel import Session, col

from service.bundles.queries import check_deeds
from service.collection.actions.crossing import permits
from service.lib.clock import check_done_at, local_day
from service.lib.write import insert_rows, recorded_at, touch_bundles
from service.members import queries as members
from service.members.rules import May, Member, can_cross
from service.storage import queries
from service.storage.actions.dosing import ask_for_bundles
from service.storage.actions.packing import PackedAt, record_packings
from service.storage.actions.ringing import follows_loggers
from service.storage.queries.acting import BundleToKeep, Destination, LyingInBox
from service.storage.rules import (
    BoxInBox,
    NoSuchBox,
    NoSuchBundle,
    NoSuchPlace,
    NoSuchStore,
    NotForStoring,
    PlannedStay,
    Spot,
    StoreClosed,
    WoodToMove,
    check_can_move,
    check_keeps_apart,
    plan_stays,
    warn_of_area,
    warn_of_neighbours,
)
from service.storage.schemas import PutAwayCreate, PutAwayRead
from service.storage.tables import PutAway, Stay
from service.tags.rules.words import TagKind


@dataclass(frozen=True)
class _Move:
    """One thing to move, its codes read and its time settled."""

    body: PutAwayCreate
    done_at: datetime
    bundle_id: UUID | None
    box_id: UUID | None
    into_box_id: UUID | None
    store_id: UUID | None  # anywhere in it


@dataclass
class _Around:
    """What the moves touch, as it stands."""

    bundles: dict[UUID, BundleToKeep]
    places: dict[UUID, Destination]
    anywhere: dict[UUID, Destination]
    box_ids: Iterable[UUID]
    in_boxes: dict[UUID, list[LyingInBox]] = field(default_factory=dict)

    def at(self, box_id: UUID, moment: datetime) -> list[WoodToMove]:
        return [lying.wood for lying in self.in_boxes.get(box_id, ()) if lying.span.covers(moment)]


def put_away(
    session: Session, member: Member, body: list[PutAwayCreate], *, empty_boxes: bool = False
) -> list[PutAwayRead]:
    """Put bundles and boxes somewhere, or take them out; a box goes with all that lies in it, as one row.

    Entries may come late and in any order: what lay where follows from `done_at`, and for the same instant from the
    order of recording. A stop forbids moving its wood, alone or in a box, from the moment it was placed; a health
    steward may move stopped wood aside with `to_isolate`, but not into a box where other wood lies. Boxes made just now are
    empty: no logger hangs in them.
    """
    at = recorded_at(session)
    moves = _read_moves(session, body, at)
    around = _look_around(session, moves)
    check_deeds(
        session,
        ((m.bundle_id, around.bundles[m.bundle_id].made_at, m.done_at) for m in moves if m.bundle_id),
    )
    warnings = [_check_move(move, around, member) for move in moves]
    _warn_of_areas(session, moves, around, warnings)
    rows = [_row(move, around, member, at) for move in moves]
    box_ids = {m.box_id for m in moves if m.box_id}
    with follows_loggers(session, set() if empty_boxes else queries.loggers_in_boxes(session, box_ids)):
        insert_rows(session, PutAway, rows)
        _rebuild_stays(session, {m.bundle_id for m in moves if m.bundle_id}, box_ids)
    record_packings(session, member, _packed(moves, around))
    gone_along = [_gone_along(move, around) for move in moves]
    touch_bundles(session, set().union(*gone_along))
    ask_for_bundles(session, set().union(*gone_along))
    return [
        _read(row, move, around, warned, len(around.at(move.box_id, move.done_at)) if move.box_id else 1)
        for row, move, warned in zip(rows, moves, warnings, strict=True)
    ]


def take_out(
    session: Session, member: Member, bundle_ids: Iterable[UUID], done_at: datetime | None = None
) -> list[PutAwayRead]:
    """Those of the bundles that lie in a store or a box leave it: what is handed over stays with nobody's host."""
    lying = queries.whereabouts(session, bundle_ids)
    return (
        put_away(
            session,
            member,
            [PutAwayCreate(bundle_id=bundle_id, out=True, done_at=done_at) for bundle_id in lying],
        )
        if lying
        else []
    )


def lay_with_parents(
    session: Session, member: Member, children: Mapping[UUID, UUID], done_at: datetime | None = None
) -> list[PutAwayRead]:
    """Bundles split off in the store are put where their parents lie: children by id, each with its parent's id."""
    lying = queries.whereabouts(session, set(children.values()), done_at)
    spots = {child: lying[parent] for child, parent in children.items() if parent in lying}
    body = [
        PutAwayCreate(
            bundle_id=child, into_box_id=spot.box_id, place_id=None if spot.box_id else spot.place_id, done_at=done_at,
        )
        for child, spot in spots.items()
    ]  # fmt: skip
    return put_away(session, member, body) if body else []


# -- reading what was asked ------------------------------------------------------------------------------------------


def _read_moves(session: Session, body: Sequence[PutAwayCreate], at: datetime) -> list[_Move]:
    typed = {entry.into_code: "into_code" for entry in body if entry.into_code is not None}
    typed |= {entry.code: "code" for entry in body if entry.code is not None}
    codes = queries.resolve_codes(session, typed) if typed else {}
    return [_read_move(entry, codes, at) for entry in body]


def _read_move(entry: PutAwayCreate, codes: Mapping[str, tuple[TagKind, UUID]], at: datetime) -> _Move:
    bundle_id, box_id, into_box_id, store_id = (
        entry.bundle_id,
        entry.box_id,
        entry.into_box_id,
        entry.store_id,
    )
    if entry.code is not None:
        kind, thing_id = codes[entry.code]
        if kind not in (TagKind.BUNDLE, TagKind.BOX):
            raise NotForStoring(f"This is the tag of a {kind}; bundles and boxes are put away.", field="code")
        bundle_id, box_id = (thing_id, None) if kind is TagKind.BUNDLE else (None, thing_id)
    if entry.into_code is not None:
        kind, thing_id = codes[entry.into_code]
        if kind not in (TagKind.BOX, TagKind.STORE):
            raise NotForStoring(
                f"This is the tag of a {kind}; wood is put into a box or a store.", field="into_code"
            )
        into_box_id, store_id = (thing_id, None) if kind is TagKind.BOX else (None, thing_id)
    if box_id is not None and into_box_id is not None:
        raise BoxInBox("A box moves whole and stands on a place of a store.", field="into_box_id")
    return _Move(entry, check_done_at(entry.done_at, at), bundle_id, box_id, into_box_id, store_id)


def _look_around(session: Session, moves: Sequence[_Move]) -> _Around:
    """Lock what moves, bundles first, then read what lies around it. At most five statements."""
    bundle_ids = {move.bundle_id for move in moves if move.bundle_id}
    box_ids = {box for move in moves for box in (move.box_id, move.into_box_id) if box}
    place_ids = {move.body.place_id for move in moves if move.body.place_id}
    store_ids = {move.store_id for move in moves if move.store_id}
    if bundle_ids:
        queries.lock_bundles(session, bundle_ids)
    boxes = queries.lock_boxes(session, box_ids) if box_ids else {}
    bundles = queries.bundles_to_keep(session, bundle_ids) if bundle_ids else {}
    places, anywhere = (
        queries.targets_of(session, place_ids, store_ids) if place_ids or store_ids else ({}, {})
    )
    around = _Around(bundles, places, anywhere, boxes)
    _check_all_stand(moves, around)
    if box_ids:
        since = {box: min(m.done_at for m in moves if box in (m.box_id, m.into_box_id)) for box in box_ids}
        for lying in queries.lying_in_boxes(session, since):
            around.in_boxes.setdefault(lying.box_id, []).append(lying)
    return around


def _check_all_stand(moves: Sequence[_Move], around: _Around) -> None:
    for move in moves:
        if move.bundle_id is not None and move.bundle_id not in around.bundles:
            raise NoSuchBundle("There is no bundle under this id.", field="bundle_id", id=str(move.bundle_id))
        for name, box_id in (("box_id", move.box_id), ("into_box_id", move.into_box_id)):
            if box_id is not None and box_id not in around.box_ids:
                raise NoSuchBox("There is no box under this id.", field=name, id=str(box_id))
        if move.body.place_id is not None and move.body.place_id not in around.places:
            raise NoSuchPlace(
                "There is no place under this id.", field="place_id", id=str(move.body.place_id)
            )
        if move.store_id is not None and move.store_id not in around.anywhere:
            raise NoSuchStore("There is no store under this id.", field="store_id", id=str(move.store_id))
        target = _target(move, around)
        if target is not None and target.closed:
            raise StoreClosed(f"{target.store_name} is closed.", store=target.store_name)


# -- deciding ------------------------------------------------------------------------------------------------------------


def _check_move(move: _Move, around: _Around, member: Member) -> list[str]:
    """Raises where a stop forbids it; otherwise what should be said."""
    moving = (
        [around.bundles[move.bundle_id].wood]
        if move.bundle_id
        else around.at(move.box_id, move.done_at)
        if move.box_id
        else []
    )
    may_isolate = May.RELEASE in member.may
    check_can_move(moving, move.done_at, to_isolate=move.body.to_isolate, may_isolate=may_isolate)
    warnings: list[str] = []
    if move.into_box_id is not None:
        others = [
            wood for wood in around.at(move.into_box_id, move.done_at) if wood.bundle_id != move.bundle_id
        ]
        if any(wood.is_stopped_at(move.done_at) for wood in moving):
            check_keeps_apart(others, move.done_at)
        else:
            warnings += warn_of_neighbours(others, move.done_at)
    return warnings


def _warn_of_areas(
    session: Session, moves: Sequence[_Move], around: _Around, warnings: Sequence[list[str]]
) -> None:
    """Say where wood comes to lie in another plant-health area than it grew in, without the authority's yes.

    It is not refused: a store is not a receiver, and where wood lies must be known to be found again. One statement, however
    many moves; two more and one for each crossing only where wood does cross.
    """
    moving = {
        place: (target, _moved_by(move, around))
        for place, move in enumerate(moves)
        if (target := _target(move, around)) is not None and target.area_id is not None
    }
    grown = queries.where_grown(session, set().union(*(bundles for _, bundles in moving.values())))
    crossings = {
        place: (target, {grown[bundle] for bundle in bundles if grown[bundle][0] != target.area_id})
        for place, (target, bundles) in moving.items()
    }
    if not any(woods for _, woods in crossings.values()):
        return
    zone = members.club(session).zone
    areas = members.facts_for_areas(
        session,
        {
            each
            for target, woods in crossings.values()
            for each in (target.area_id, *(a for a, _ in woods))
            if each
        },
    )
    permit = permits(session)
    for place, (target, woods) in crossings.items():
        here, day = (
            areas.get(target.area_id) if target.area_id else None,
            local_day(moves[place].done_at, zone),
        )
        for area_id, genus in sorted(woods, key=str):
            origin = areas.get(area_id) if area_id else None
            if here is not None and not can_cross(origin, here, permit(origin, here, genus, day)):
                words = warn_of_area(origin, here, target.store_name)
                warnings[place].extend([words] if words not in warnings[place] else [])


def _moved_by(move: _Move, around: _Around) -> set[UUID]:
    if move.bundle_id is not None:
        return {move.bundle_id}
    return {wood.bundle_id for wood in around.at(move.box_id, move.done_at)} if move.box_id else set()


def _target(move: _Move, around: _Around) -> Destination | None:
    if move.store_id is not None:
        return around.anywhere[move.store_id]
    return around.places[move.body.place_id] if move.body.place_id is not None else None


def _packed(moves: Sequence[_Move], around: _Around) -> list[PackedAt]:
    """How what moves is packed from then on, where it was told; of a box, all that lies in it then."""
    return [
        PackedAt(bundle_id, move.body.packed(), move.done_at)
        for move in moves
        for bundle_id in sorted(_moved_by(move, around))
    ]


def _gone_along(move: _Move, around: _Around) -> set[UUID]:
    """Bundles whose whereabouts this may change: those in the box then or later."""
    if move.bundle_id is not None:
        return {move.bundle_id}
    return {lying.wood.bundle_id for lying in around.in_boxes.get(move.box_id, ())} if move.box_id else set()


# -- writing -------------------------------------------------------------------------------------------------------------


def _row(move: _Move, around: _Around, member: Member, at: datetime) -> dict[str, Any]:
    target = _target(move, around)
    return {
        "id": move.body.id, "bundle_id": move.bundle_id, "box_id": move.box_id, "into_box_id": move.into_box_id,
        "place_id": target.place_id if target else None, "done_at": move.done_at, "recorded_at": at, "by_party_id": member.party_id,
        "for_party_id": member.acting_for_id, "note": move.body.note,
    }  # fmt: skip


def _rebuild_stays(session: Session, bundle_ids: set[UUID], box_ids: set[UUID]) -> None:
    """The stays of just these things anew, from every act on them. Three statements."""
    of_bundles, of_boxes = queries.acts_of(session, bundle_ids, box_ids)
    session.execute(
        delete(Stay)
        .where(or_(col(Stay.bundle_id).in_(bundle_ids), col(Stay.box_id).in_(box_ids)))
        .execution_options(synchronize_session=False)
    )
    stays = [_stay_row(stay, "bundle_id") for stay in plan_stays(of_bundles)]
    stays += [_stay_row(stay, "box_id") for stay in plan_stays(of_boxes)]
    insert_rows(session, Stay, stays)


def _stay_row(stay: PlannedStay, thing: str) -> dict[str, Any]:
    spot: Spot = stay.spot
    return {
        "bundle_id": None, "box_id": None, thing: stay.thing_id, "into_box_id": spot.box_id, "place_id": spot.place_id,
        "from_at": stay.span.from_at, "until_at": stay.span.until_at,
    }  # fmt: skip


def _read(row: dict[str, Any], move: _Move, around: _Around, warnings: list[str], moved: int) -> PutAwayRead:
    target = _target(move, around)
    return PutAwayRead(**row, store_id=target.store_id if target else None, moved=moved, warnings=warnings)
