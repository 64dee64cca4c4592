"""Grafts of an old list entered by the acts of the bench, so that sticks, stops and areas are asked as ever."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.grafting import actions as grafting_actions
from service.grafting.schemas import GraftCreate, GraftUndo
from service.lists.actions.needed import Made, Needed
from service.lists.actions.wood import Brought, take_rows
from service.lists.queries import GraftRow, Plan
from service.lists.rules import ThingKind
from service.members.rules import May, Member
from service.tags import actions as tag_actions


@dataclass(frozen=True)
class OnBehalf:
    """Whoever takes a list, writing down what somebody else did."""

    account_id: UUID
    party_id: UUID
    acting_for_id: UUID
    may: frozenset[May]


def take_grafts(session: Session, member: Member, plan: Plan, *, leave_refused: bool) -> Brought:
    """Wood that is taken in for them, the grafts by whoever made them, whether they took; and the refused rows by line."""

    def enter(rows: Sequence[GraftRow]) -> None:
        _enter(session, member, rows)

    needed = Needed(session, member, plan)
    refused = take_rows(needed, session, plan.grafts, enter, leave_refused=leave_refused)
    made = [one for row in plan.grafts if row.line not in refused for one in _made(row)]
    return Brought([*needed.made, *made], refused)


def _made(row: GraftRow) -> Iterator[Made]:
    if row.receipt is not None and row.bundle_id is not None:
        yield ThingKind.COLLECTION, row.receipt.receipt.id, row.line
        yield ThingKind.BUNDLE, row.bundle_id, row.line
    yield ThingKind.GRAFT, row.graft.id, row.line
    if isinstance(row.graft.plants, list):
        for plant in row.graft.plants:
            yield ThingKind.PLANT, plant.id, row.line


def _enter(session: Session, member: Member, rows: Sequence[GraftRow]) -> None:
    receipts = [row.receipt for row in rows if row.receipt is not None]
    if receipts:
        tag_actions.receive_and_label(session, member, receipts)
    by: dict[UUID, list[GraftCreate]] = {}
    for row in rows:
        by.setdefault(row.by_id or member.acting_for_id, []).append(row.graft)
    for party_id, grafts in by.items():
        acting = OnBehalf(member.account_id, member.party_id, party_id, member.may)
        grafting_actions.record_grafts(session, acting, grafts)
    looks = [row.look for row in rows if row.look is not None]
    if looks:
        grafting_actions.record_take_checks(session, member, looks)


def take_grafts_back(
    session: Session, member: Member, graft_ids: Sequence[UUID], reason: str, taken_at: datetime
) -> None:
    """Their sticks go back to their bundles, their plants become void; looks that came with the list forbid nothing."""
    for graft_id in graft_ids:
        body = GraftUndo(reason=f"A list was taken back: {reason}"[:300])
        grafting_actions.take_back_graft(session, member, graft_id, body, but_looks_of=taken_at)
