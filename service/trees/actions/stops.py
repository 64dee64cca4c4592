"""Stops on trees. Bundles are bound by a later stage, which calls these for the trees' part."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import update
from sqlmodel import Session, col

from service.lib.database import insert_of, new_id
from service.lib.errors import Unusable
from service.lib.write import insert_rows, recorded_at
from service.members.rules import Member
from service.trees import queries
from service.trees.actions.following import note_changed_trees
from service.trees.rules import STOP_STEPS, StopReason, StopState, check_agent_named, check_stop_step
from service.trees.schemas import StopCreate, StopRead, StopStepCreate
from service.trees.tables import SourceTree, Stop, StopRelease, StopStep, TreeStop


def open_stop(
    session: Session, member: Member, body: StopCreate, tree_ids: Collection[UUID], *, origin_ids: Collection[UUID] | None = None
) -> StopRead:  # fmt: skip
    """A new case that binds these trees at once. `origin_ids`: where it was found; all of them unless said otherwise."""
    agent, code = _name_agent(session, body.agent, body.agent_code)
    check_agent_named(body.reason, body.state, agent)
    now = recorded_at(session)
    row = {
        "id": body.id, "reason": body.reason.value, "state": body.state.value, "agent": agent, "agent_code": code, "note": body.note,
        "opened_at": now, "cleared_at": None, "by_party_id": member.party_id, "version": 1,
    }  # fmt: skip
    insert_rows(session, Stop, [row])
    _add_step(session, member, body.id, body.state, body.note)
    _bind(session, body.id, tree_ids, tree_ids if origin_ids is None else origin_ids)
    return queries.get_stop(session, body.id)


def place_stop(
    session: Session, member: Member, stop_id: UUID, tree_ids: Collection[UUID], *, origin_ids: Collection[UUID] = ()
) -> list[UUID]:  # fmt: skip
    """Bind further trees to an open stop, and say which were new to it; a tree bound already stays so, and counts once."""
    _lock_open(session, stop_id)
    return _bind(session, stop_id, tree_ids, origin_ids)


def confirm_stop(session: Session, member: Member, stop_id: UUID, body: StopStepCreate) -> StopRead:
    """What was suspected was found."""
    return _step(session, member, stop_id, StopState.CONFIRMED, body)


def clear_stop(session: Session, member: Member, stop_id: UUID, body: StopStepCreate) -> StopRead:
    """The stop is over for good: every tree it bound is free of it."""
    return _step(session, member, stop_id, StopState.CLEARED, body)


def _step(
    session: Session, member: Member, stop_id: UUID, wanted: StopState, body: StopStepCreate
) -> StopRead:
    before = queries.get_stop(session, stop_id)
    check_stop_step(before.state, wanted)
    values: dict[str, Any] = {"state": wanted.value, "version": col(Stop.version) + 1}
    agent, code = before.agent, before.agent_code
    if body.agent is not None or body.agent_code is not None:
        agent, code = _name_agent(
            session, body.agent if body.agent is not None else agent, body.agent_code or ""
        )
        values.update(agent=agent, agent_code=code)
    check_agent_named(StopReason(before.reason), wanted, agent)
    if wanted is StopState.CLEARED:
        values["cleared_at"] = recorded_at(session)
    allowed_from = [state.value for state, following in STOP_STEPS.items() if wanted in following]
    stepped = session.execute(
        update(Stop)
        .where(col(Stop.id) == stop_id, col(Stop.state).in_(allowed_from))
        .values(**values)
        .returning(col(Stop.id))
        .execution_options(synchronize_session=False)
    ).first()
    if stepped is None:  # somebody was quicker
        check_stop_step(queries.get_stop(session, stop_id).state, wanted)
    _add_step(session, member, stop_id, wanted, body.note)
    if wanted is StopState.CLEARED:
        _lift(session, member, stop_id)
    else:
        note_changed_trees(session, [tree.tree_id for tree in before.trees if tree.lifted_at is None])
    return queries.get_stop(session, stop_id)


def _add_step(session: Session, member: Member, stop_id: UUID, state: StopState, note: str) -> None:
    row = {
        "id": new_id(), "stop_id": stop_id, "state": state.value, "note": note, "at": recorded_at(session),
        "by_party_id": member.party_id, "for_party_id": member.acting_for_id,
    }  # fmt: skip
    insert_rows(session, StopStep, [row])


def _lock_open(session: Session, stop_id: UUID) -> None:
    """Nobody can clear this stop until what is bound to it now is saved."""
    state = session.execute(
        update(Stop)
        .where(col(Stop.id) == stop_id, col(Stop.state) != StopState.CLEARED.value)
        .values(version=col(Stop.version) + 1)
        .returning(col(Stop.state))
        .execution_options(synchronize_session=False)
    ).scalar_one_or_none()
    if state is None:
        before = queries.get_stop(session, stop_id)
        check_stop_step(before.state, StopState.SUSPECTED)


def _bind(
    session: Session, stop_id: UUID, tree_ids: Iterable[UUID], origin_ids: Collection[UUID]
) -> list[UUID]:
    wanted = sorted(set(tree_ids))
    if not wanted:
        return []
    known = queries.facts_for_cutting(session, wanted, lock=True)
    for tree_id in wanted:
        if tree_id not in known:
            raise Unusable("There is no tree with this id.", field="tree_ids", id=str(tree_id))
    at = recorded_at(session)
    rows = [
        {"stop_id": stop_id, "tree_id": one, "is_origin": one in origin_ids, "placed_at": at}
        for one in wanted
    ]
    # One that this stop let go before is bound anew; when it was free in between stays written down.
    insert = insert_of(session, TreeStop).values(rows)
    bound = session.execute(
        insert.on_conflict_do_update(
            index_elements=["stop_id", "tree_id"], where=col(TreeStop.lifted_at).is_not(None),
            set_={"placed_at": insert.excluded.placed_at, "lifted_at": None},
        ).returning(col(TreeStop.tree_id))
    ).scalars()  # fmt: skip
    new = sorted(bound)
    _count(session, new, 1)
    note_changed_trees(session, new)
    return new


def _lift(session: Session, member: Member, stop_id: UUID) -> None:
    lifted = session.execute(
        update(TreeStop)
        .where(col(TreeStop.stop_id) == stop_id, col(TreeStop.lifted_at).is_(None))
        .values(lifted_at=recorded_at(session))
        .returning(col(TreeStop.tree_id), col(TreeStop.placed_at))
        .execution_options(synchronize_session=False)
    ).all()
    spans = [Span(stop_id, row.tree_id, row.placed_at) for row in lifted]
    note_released(session, member, "tree", spans, "", alone=False)
    _free(session, [row.tree_id for row in lifted])


def release_trees(
    session: Session, member: Member, stop_id: UUID, tree_ids: Collection[UUID], reason: str
) -> None:
    """Let some trees go while the stop goes on; at most three statements."""
    if not tree_ids:
        return
    lifted = session.execute(
        update(TreeStop)
        .where(
            col(TreeStop.stop_id) == stop_id,
            col(TreeStop.tree_id).in_(tree_ids),
            col(TreeStop.lifted_at).is_(None),
        )
        .values(lifted_at=recorded_at(session))
        .returning(col(TreeStop.tree_id), col(TreeStop.placed_at))
        .execution_options(synchronize_session=False)
    ).all()
    spans = [Span(stop_id, row.tree_id, row.placed_at) for row in lifted]
    note_released(session, member, "tree", spans, reason, alone=True)
    _free(session, [row.tree_id for row in lifted])


def _free(session: Session, tree_ids: Iterable[UUID]) -> None:
    freed = sorted(tree_ids)
    _count(session, freed, -1)
    note_changed_trees(session, freed)


@dataclass(frozen=True)
class Span:
    """Since when a stop had bound a thing."""

    stop_id: UUID
    thing_id: UUID
    placed_at: datetime


def note_released(
    session: Session, member: Member, kind: str, spans: Iterable[Span], reason: str, *, alone: bool
) -> None:
    """Write down what stops let go: `alone`, or with the whole stop. One statement."""
    at = recorded_at(session)
    rows = [
        {
            "stop_id": span.stop_id, "kind": kind, "thing_id": span.thing_id, "placed_at": span.placed_at, "released_at": at,
            "alone": alone, "reason": reason, "by_party_id": member.party_id, "for_party_id": member.acting_for_id,
        }
        for span in spans
    ]  # fmt: skip
    insert_rows(session, StopRelease, rows)


def _count(session: Session, tree_ids: list[UUID], step: int) -> None:
    """Each tree's count of open stops, kept equal to its rows in the same transaction."""
    if tree_ids:
        session.execute(
            update(SourceTree)
            .where(col(SourceTree.id).in_(tree_ids))
            .values(open_stops=col(SourceTree.open_stops) + step, version=col(SourceTree.version) + 1)
            .execution_options(synchronize_session=False)
        )


def _name_agent(session: Session, told: str, code: str) -> tuple[str, str]:
    """An agent of the catalogue goes by its name and code there; another by what was told."""
    agent = queries.find_agent(session, told or code)
    if agent is None:
        return told, code
    return agent.name[:200], code or agent.eppo_code.split(";")[0].strip()[:10]
