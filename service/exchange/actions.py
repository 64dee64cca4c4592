"""Splitting a bundle, handing sticks over, taking them back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from uuid import UUID

from sqlmodel import Session

from service.bundles import actions as bundle_actions
from service.bundles import queries as bundle_queries
from service.bundles.actions import Passing, TableCount
from service.bundles.rules import HandOverForm, NoSuchBundle
from service.bundles.schemas import BundleRead
from service.collection import queries as collection_queries
from service.exchange.rules import NoSuchReceiver, ReceiverForgotten
from service.exchange.schemas import (
    HandOverCreate,
    HandOverRead,
    ReturnCreate,
    SplitCreate,
    SplitRead,
    TableBackCreate,
)
from service.lib.clock import local_day
from service.lib.errors import Problem
from service.lib.write import recorded_at
from service.members import actions as member_actions
from service.members import queries as member_queries
from service.members.rules import Member, Receiver, check_may_cross
from service.members.schemas import PartyCreate
from service.storage import actions as storage_actions
from service.tags import actions as tag_actions
from service.tags.rules.words import RowsRefused, TagKind


def split_bundles(session: Session, member: Member, body: list[SplitCreate]) -> list[SplitRead]:
    """Put some sticks of bundles into bundles of their own, with codes, where their parents lie."""
    bundle_actions.check_takings(session, _wanted((each.bundle_id, each.sticks) for each in body))
    codes = tag_actions.bind_new_tags(session, member, TagKind.BUNDLE, [each.child_id for each in body])
    made = bundle_actions.pass_on(session, member, [_split(each, codes[each.child_id]) for each in body])
    together: dict[datetime | None, dict[UUID, UUID]] = {}
    for each in body:
        together.setdefault(each.done_at, {})[each.child_id] = each.bundle_id
    for done_at, children in together.items():
        storage_actions.lay_with_parents(session, member, children, done_at)
    return [
        SplitRead(bundle=bundle, parent_id=each.bundle_id) for bundle, each in zip(made, body, strict=True)
    ]


def _split(each: SplitCreate, code: str) -> Passing:
    return Passing(
        each.id, each.bundle_id, each.child_id, each.sticks, each.done_at, code, reason=each.reason
    )


def hand_over(session: Session, member: Member, body: list[HandOverCreate]) -> list[HandOverRead]:
    """Hand sticks over. Refused where they are stopped, not free, or would cross an area boundary unanswered."""
    bundle_actions.check_takings(session, _wanted((each.bundle_id, each.sticks) for each in body))
    _check_areas(session, member, body)
    passed = [each for each in body if each.form is not HandOverForm.TABLE]
    tagged = [each.child_id for each in passed if each.form is HandOverForm.BUNDLE]
    codes = tag_actions.bind_new_tags(session, member, TagKind.BUNDLE, tagged) if tagged else {}
    children = (
        bundle_actions.pass_on(session, member, [_passing(each, codes.get(each.child_id)) for each in passed])
        if passed
        else []
    )
    made = dict(zip((each.id for each in passed), children, strict=True))
    out = [each for each in body if each.form is HandOverForm.TABLE]
    counts = [TableCount(each.id, each.bundle_id, each.sticks, each.done_at, each.reason) for each in out]
    tables = bundle_actions.count_out_to_table(session, member, counts) if counts else []
    made.update(zip((each.id for each in out), tables, strict=True))
    return [
        HandOverRead(id=each.id, form=each.form, party_id=each.party_id, bundle=made[each.id])
        for each in body
    ]


def hand_over_to_guest(
    session: Session, member: Member, guest: PartyCreate, body: list[HandOverCreate]
) -> list[HandOverRead]:
    """Record a guest who stands at the table, and hand sticks over to them: both or neither."""
    member_actions.add_parties(session, member, [guest])
    return hand_over(session, member, body)


def enter_slip(
    session: Session, member: Member, guest: PartyCreate | None, body: list[HandOverCreate]
) -> list[HandOverRead]:
    """What somebody wrote on a slip that they took; `guest` is recorded first. Raises `RowsRefused` with every refused row."""
    if guest is not None:
        member_actions.add_parties(session, member, [guest])
    try:
        with session.begin_nested():
            return hand_over(session, member, body)
    except Problem as problem:
        refused: dict[UUID, Problem] = {}
        for each in body:
            try:
                with session.begin_nested():
                    hand_over(session, member, [each])
            except Problem as wrong:
                refused[each.id] = wrong
        if not refused:
            raise
        raise RowsRefused(refused) from problem


def _wanted(pairs: Iterable[tuple[UUID, int]]) -> dict[UUID, int]:
    wanted: dict[UUID, int] = {}
    for bundle_id, sticks in pairs:
        wanted[bundle_id] = wanted.get(bundle_id, 0) + sticks
    return wanted


def _passing(each: HandOverCreate, code: str | None) -> Passing:
    return Passing(
        each.id,
        each.bundle_id,
        each.child_id,
        each.sticks,
        each.done_at,
        code,
        each.party_id,
        each.form,
        each.reason,
    )


def _check_areas(session: Session, member: Member, body: Sequence[HandOverCreate]) -> None:
    receivers = member_queries.facts_for_parties(session, {each.party_id for each in body if each.party_id})
    bundles = bundle_queries.facts_for_bundles(session, {each.bundle_id for each in body})
    woods = collection_queries.facts_for_collections(
        session, {bundle.collection_id for bundle in bundles.values()}
    )
    today = local_day(recorded_at(session), member_queries.club(session).zone)
    crossings = set()
    for each in body:
        if each.party_id is None:
            continue
        receiver = receivers.get(each.party_id)
        if receiver is None:
            raise NoSuchReceiver("There is no party with this id.", field="party_id", id=str(each.party_id))
        if receiver.forgotten:
            raise ReceiverForgotten("Nobody stands behind this name any more.", field="party_id")
        wood = woods[bundles[each.bundle_id].collection_id]
        if wood.area_id != receiver.area_id:
            crossings.add(
                (
                    wood.area_id,
                    receiver.area_id,
                    wood.genus,
                    Receiver(receiver.id, receiver.name, receiver.id == member.party_id),
                )
            )
    _check_crossings(session, crossings, today)


def _check_crossings(
    session: Session, crossings: Iterable[tuple[UUID | None, UUID | None, str, Receiver]], today: date
) -> None:
    crossings = list(crossings)
    areas = (
        member_queries.facts_for_areas(session, {area for a, b, *_ in crossings for area in (a, b) if area})
        if crossings
        else {}
    )
    for from_id, to_id, genus, receiver in crossings:
        permit = (
            member_queries.permit_for(session, from_id, to_id, genus, today) if from_id and to_id else None
        )
        check_may_cross(
            areas.get(from_id) if from_id else None, areas.get(to_id) if to_id else None, permit,
            genus=genus, receiver=receiver,
        )  # fmt: skip


def count_back(session: Session, member: Member, body: TableBackCreate) -> BundleRead:
    """Count back what lies on an open table at its end."""
    return bundle_actions.count_back_from_table(
        session,
        member,
        body.bundle_id,
        body.sticks,
        move_id=body.id,
        done_at=body.done_at,
        reason=body.reason,
    )


def return_bundle(session: Session, member: Member, body: ReturnCreate) -> BundleRead:
    """Take a handed-over bundle back into the club's hands."""
    if body.bundle_id not in bundle_queries.facts_for_bundles(session, [body.bundle_id]):
        raise NoSuchBundle("There is no bundle with this id.", id=str(body.bundle_id))
    return bundle_actions.return_bundle(
        session, member, body.bundle_id, move_id=body.id, done_at=body.done_at, reason=body.reason
    )
