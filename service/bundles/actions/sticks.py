"""Sticks are cut to length, counted, thrown away, grafted."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from sqlalchemy import update
from sqlmodel import Session, col

from service.bundles import queries
from service.bundles.actions.ledger import Move, add_sticks, check_takings, take_sticks, write_moves
from service.bundles.rules import (
    BadCount,
    Counter,
    MoveKind,
    ReasonMissing,
    check_missing_may_be_told,
    plan_correction,
)
from service.bundles.schemas import BundleRead, CutToLengthCreate, DiscardCreate, RecountCreate
from service.bundles.tables import Bundle
from service.lib.clock import check_done_at
from service.lib.write import recorded_at
from service.members.rules import May, Member


def discard_sticks(session: Session, member: Member, body: DiscardCreate) -> BundleRead:
    """Throw sticks away, for a reason. Stopped wood is not thrown away until it is released."""
    if not body.reason:
        raise ReasonMissing("Why are these sticks thrown away?", field="reason")
    at = check_done_at(body.done_at, recorded_at(session))
    changed = take_sticks(session, Counter.DISCARDED, {body.bundle_id: body.sticks})
    write_moves(
        session,
        member,
        [Move(body.bundle_id, MoveKind.DISCARDED, body.sticks, at, body.id, reason=body.reason)],
        changed,
    )
    return queries.bundle_read(changed[body.bundle_id])


def cut_to_length(session: Session, member: Member, body: CutToLengthCreate) -> BundleRead:
    """Cut long sticks into several: what lies there after is more by what was gained."""
    gained = body.sticks_after - body.sticks_before
    if gained < 0:
        raise BadCount(
            "Cutting makes more sticks, not fewer; tips that were thrown away are a discard.",
            field="sticks_after",
        )
    at = check_done_at(body.done_at, recorded_at(session))
    check_takings(session, {body.bundle_id: body.sticks_before})
    changed = add_sticks(session, Counter.CAME_IN, {body.bundle_id: gained})
    if body.length_mm is not None:
        session.execute(
            update(Bundle)
            .where(col(Bundle.id) == body.bundle_id)
            .values(length_mm=body.length_mm)
            .execution_options(synchronize_session=False)
        )
    reason = body.reason or f"{body.sticks_before} cut into {body.sticks_after}"
    write_moves(
        session,
        member,
        [Move(body.bundle_id, MoveKind.CUT_TO_LENGTH, gained, at, body.id, reason=reason)],
        changed,
    )
    read = queries.bundle_read(changed[body.bundle_id])
    return read.model_copy(update={"length_mm": body.length_mm}) if body.length_mm is not None else read


def recount_bundle(session: Session, member: Member, body: RecountCreate) -> BundleRead:
    """Somebody counted: the ledger takes the difference as a correction, with its reason.

    A count changes nothing about the wood itself, so a stop does not forbid it; but that stopped sticks are missing is
    for who may release stops to write down, and stands on the stop's page from then on.
    """
    at = check_done_at(body.done_at, recorded_at(session))
    facts = queries.get_facts(session, body.bundle_id, lock=True)
    difference = plan_correction(facts, body.counted)
    check_missing_may_be_told(facts, difference, may_release=May.RELEASE in member.may)
    if difference and not body.reason:
        raise ReasonMissing(
            f"The record says {facts.on_hand}, you counted {body.counted}: say why, as far as it is known.",
            field="reason", on_hand=facts.on_hand, counted=body.counted,
        )  # fmt: skip
    changed = add_sticks(session, Counter.CAME_IN, {body.bundle_id: difference})
    write_moves(
        session,
        member,
        [Move(body.bundle_id, MoveKind.CORRECTED, difference, at, body.id, reason=body.reason or "counted")],
        changed,
    )
    return queries.bundle_read(changed[body.bundle_id])


def use_in_graft(
    session: Session, member: Member, used: Iterable[tuple[UUID, int]], done_at: datetime
) -> list[BundleRead]:
    """Take the sticks a graft uses; the same statements for one bundle and for twenty."""
    wanted = dict(used)
    changed = take_sticks(session, Counter.GRAFTED, wanted)
    write_moves(
        session,
        member,
        [Move(bundle_id, MoveKind.GRAFTED, sticks, done_at) for bundle_id, sticks in wanted.items()],
        changed,
    )
    return [queries.bundle_read(changed[bundle_id]) for bundle_id in wanted]


def undo_graft_use(
    session: Session, member: Member, used: Iterable[tuple[UUID, int]], reason: str
) -> list[BundleRead]:
    """Give back sticks of a graft that was entered by mistake."""
    if not reason:
        raise ReasonMissing("Why is this graft taken back?", field="reason")
    wanted = dict(used)
    at = recorded_at(session)
    changed = add_sticks(
        session, Counter.GRAFTED, {bundle_id: -sticks for bundle_id, sticks in wanted.items()}
    )
    moves = [
        Move(bundle_id, MoveKind.GRAFT_UNDONE, sticks, at, reason=reason)
        for bundle_id, sticks in wanted.items()
    ]
    write_moves(session, member, moves, changed)
    return [queries.bundle_read(changed[bundle_id]) for bundle_id in wanted]
