"""Sticks change hands: split off, handed over in three forms, returned, given outside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlalchemy import update
from sqlmodel import Session, col

from service.bundles import queries
from service.bundles.actions.labelling import add_bundles
from service.bundles.actions.ledger import Move, add_sticks, take_sticks, write_moves
from service.bundles.rules import (
    BundleFacts,
    Counter,
    HandOverForm,
    MoveKind,
    NothingAtTable,
    NotKnownWhereTo,
    StickCount,
    check_can_return,
    check_not_stopped,
)
from service.bundles.schemas import BundleRead, GiveOutsideCreate
from service.bundles.tables import Bundle
from service.collection import queries as collection_queries
from service.lib.clock import check_done_at, local_day
from service.lib.errors import AlreadyKnown
from service.lib.write import recorded_at
from service.members import queries as members
from service.members.rules import Member, UnknownArea, check_may_cross, names_only


@dataclass(frozen=True)
class Passing:
    """Sticks that go into a child bundle: with a party where they are handed over, without where they are split off."""

    id: UUID
    bundle_id: UUID
    child_id: UUID
    sticks: int
    done_at: datetime | None
    code: str | None = None  # of the child; a flag has none
    party_id: UUID | None = None
    form: HandOverForm | None = None
    reason: str = ""


def pass_on(session: Session, member: Member, passings: Sequence[Passing]) -> list[BundleRead]:
    """Make the child bundles. A split stays with whoever has the parent; the same statements for one and for twenty."""
    at = recorded_at(session)
    wanted: dict[UUID, int] = {}
    for passing in passings:
        wanted[passing.bundle_id] = wanted.get(passing.bundle_id, 0) + passing.sticks
    if queries.facts_for_bundles(session, [passing.child_id for passing in passings]):
        raise AlreadyKnown("A bundle with this id stands already.")
    parents = take_sticks(session, Counter.PASSED_ON, wanted)
    children, moves = [], []
    for passing in passings:
        done_at = check_done_at(passing.done_at, at)
        children.append(_child(passing, parents[passing.bundle_id], done_at))
        moves.extend(_moves(passing, done_at))
    add_bundles(session, children)
    write_moves(session, member, moves, parents)
    return [queries.bundle_read(child) for child in children]


def _child(passing: Passing, parent: BundleFacts, done_at: datetime) -> BundleFacts:
    holder_id = passing.party_id if passing.form else parent.holder_id
    return BundleFacts(
        passing.child_id, passing.code, parent.collection_id, parent.id, holder_id, passing.form is HandOverForm.FLAG,
        StickCount(came_in=passing.sticks), 0, passing.sticks, parent.length_mm, parent.diameter_mm, False, done_at, "", 1,
    )  # fmt: skip


def _moves(passing: Passing, done_at: datetime) -> list[Move]:
    out, into = (
        (MoveKind.HANDED_OUT, MoveKind.HANDED_IN) if passing.form else (MoveKind.SPLIT_OUT, MoveKind.SPLIT_IN)
    )
    form, party, reason = passing.form or "", passing.party_id, passing.reason
    return [
        Move(
            passing.bundle_id, out, passing.sticks, done_at, passing.id, passing.child_id, party, form, reason
        ),
        Move(
            passing.child_id,
            into,
            passing.sticks,
            done_at,
            other_bundle_id=passing.bundle_id,
            party_id=party,
            form=form,
        ),
    ]


@dataclass(frozen=True)
class TableCount:
    """Sticks of one bundle that are counted out to an open table."""

    id: UUID
    bundle_id: UUID
    sticks: int
    done_at: datetime | None = None
    reason: str = ""


def count_out_to_table(session: Session, member: Member, counts: Sequence[TableCount]) -> list[BundleRead]:
    """Count sticks out to an open table, where takers are not written down; the same statements for one and for twenty."""
    at = recorded_at(session)
    wanted: dict[UUID, int] = {}
    for count in counts:
        wanted[count.bundle_id] = wanted.get(count.bundle_id, 0) + count.sticks
    changed = take_sticks(session, Counter.PASSED_ON, wanted)
    moves = [
        Move(
            count.bundle_id, MoveKind.TABLE_OUT, count.sticks, check_done_at(count.done_at, at), count.id,
            form=HandOverForm.TABLE, reason=count.reason,
        )
        for count in counts
    ]  # fmt: skip
    write_moves(session, member, moves, changed)
    return [queries.bundle_read(changed[count.bundle_id]) for count in counts]


def count_back_from_table(
    session: Session,
    member: Member,
    bundle_id: UUID,
    sticks: int,
    *,
    move_id: UUID,
    done_at: datetime | None = None,
    reason: str = "",
) -> BundleRead:
    """Count back what lies on the table at its end; what does not come back was taken."""
    at = check_done_at(done_at, recorded_at(session))
    queries.get_facts(session, bundle_id, lock=True)
    out = queries.table_sticks_out(session, bundle_id)
    if sticks > out:
        raise NothingAtTable(
            f"{sticks} come back, but only {out} are out.", out=out, asked=sticks, field="sticks"
        )
    changed = add_sticks(session, Counter.PASSED_ON, {bundle_id: -sticks})
    write_moves(
        session,
        member,
        [Move(bundle_id, MoveKind.TABLE_BACK, sticks, at, move_id, form=HandOverForm.TABLE, reason=reason)],
        changed,
    )
    return queries.bundle_read(changed[bundle_id])


def return_bundle(
    session: Session,
    member: Member,
    bundle_id: UUID,
    *,
    move_id: UUID,
    done_at: datetime | None = None,
    reason: str = "",
) -> BundleRead:
    """What was handed over comes back to the club: the holder changes, the bundle keeps its tag and history."""
    at = check_done_at(done_at, recorded_at(session))
    facts = queries.get_facts(session, bundle_id, lock=True)
    check_can_return(
        facts, queries.stop_words(session, [bundle_id]).get(bundle_id, ()) if facts.open_stops else ()
    )
    session.execute(
        update(Bundle)
        .where(col(Bundle.id) == bundle_id)
        .values(holder_id=None, version=Bundle.version + 1)
        .execution_options(synchronize_session=False)
    )
    move = Move(
        bundle_id, MoveKind.RETURNED, facts.on_hand, at, move_id, party_id=facts.holder_id, reason=reason
    )
    write_moves(session, member, [move], {bundle_id: facts})
    return queries.get_bundle(session, bundle_id, name_only=names_only(member))


def give_outside(session: Session, member: Member, body: GiveOutsideCreate) -> BundleRead:
    """Sticks go to somebody outside the record, without a bundle of their own."""
    at = check_done_at(body.done_at, recorded_at(session))
    facts = queries.get_facts(session, body.bundle_id)
    check_not_stopped(facts)
    _check_where_to(session, facts.collection_id, body.area_id, at)
    changed = take_sticks(session, Counter.PASSED_ON, {body.bundle_id: body.sticks})
    reason = " · ".join(part for part in (body.to_whom, body.reason) if part)
    write_moves(
        session,
        member,
        [Move(body.bundle_id, MoveKind.GIVEN_OUTSIDE, body.sticks, at, body.id, reason=reason)],
        changed,
    )
    return queries.bundle_read(changed[body.bundle_id])


def _check_where_to(session: Session, collection_id: UUID, area_id: UUID | None, at: datetime) -> None:
    """Raises `NotKnownWhereTo`, `UnknownArea`, `CrossesArea`; where the club knows one area only, nothing is asked."""
    if area_id is None and not members.knows_several_areas(session):
        return
    wood = collection_queries.facts_for_collections(session, [collection_id])[collection_id]
    if area_id == wood.area_id:
        return
    if area_id is None:
        raise NotKnownWhereTo("The club’s wood crosses plant-health areas.", field="area_id")
    areas = members.facts_for_areas(session, {each for each in (wood.area_id, area_id) if each})
    if area_id not in areas:
        raise UnknownArea("The area it goes to is not in the record.", field="area_id", id=str(area_id))
    day = local_day(at, members.club(session).zone)
    permit = members.permit_for(session, wood.area_id, area_id, wood.genus, day) if wood.area_id else None
    check_may_cross(areas.get(wood.area_id) if wood.area_id else None, areas[area_id], permit)
