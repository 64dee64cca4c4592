"""Looks at trees, in leaf and in fruit."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from sqlalchemy import update
from sqlmodel import Session, col

from service.lib.clock import check_day, local_day
from service.lib.errors import AlreadyKnown
from service.lib.write import insert_rows, recorded_at
from service.members import queries as members
from service.members.rules import May, Member
from service.trees import queries
from service.trees.actions.following import note_changed_trees
from service.trees.rules import (
    CheckKind,
    CheckResult,
    LookMade,
    LookTakenBack,
    StopReason,
    TreeFacts,
    bare_words,
    check_can_add_picture,
    check_can_take_back_look,
    check_result,
    proposed_reason,
)
from service.trees.schemas import LookCreate, LookPicture, StopProposal, TreeCheckCreate, TreeCheckRead
from service.trees.tables import TreeCheck


def record_tree_checks(session: Session, member: Member, body: list[TreeCheckCreate]) -> list[TreeCheckRead]:
    """Write down looks at trees; a symptom or a wrong fruit comes back with the stop it asks for.

    A look is never refused because the tree is stopped.
    """
    if len({look.id for look in body}) < len(body):
        raise AlreadyKnown("The same look is told twice.", field="id")
    now, zone = recorded_at(session), members.club(session).zone
    trees = queries.facts_for_cutting(session, {look.tree_id for look in body})
    rows = []
    for look in body:
        if look.tree_id not in trees:
            raise queries.NoSuchTree("There is no tree with this id.", id=str(look.tree_id))
        check_result(look.kind, look.result, look.agent)
        seen_on = check_day(look.seen_on or local_day(now, zone), now, zone, field="seen_on")
        told = {**look.model_dump(), "kind": look.kind.value, "result": look.result.value, "seen_on": seen_on}
        rows.append(
            {**told, "recorded_at": now, "by_party_id": member.party_id, "for_party_id": member.acting_for_id}
        )
    _name_agents(session, rows)
    insert_rows(session, TreeCheck, rows)
    note_changed_trees(session, list(trees))
    return [_read(row, trees[row["tree_id"]], zone) for row in rows]


def record_looks_at_tree(
    session: Session, member: Member, tree_id: UUID, body: list[LookCreate]
) -> list[TreeCheckRead]:
    """The same for one tree."""
    return record_tree_checks(
        session, member, [TreeCheckCreate(**look.model_dump(), tree_id=tree_id) for look in body]
    )


def take_back_look(session: Session, member: Member, look_id: UUID) -> TreeCheckRead:
    """A look that was written down by mistake says nothing of its tree any more; it stays in the record, marked so."""
    look = queries.get_look(session, look_id)
    check_can_take_back_look(
        _made(look), party_ids=(member.party_id, member.acting_for_id), may_release=May.RELEASE in member.may
    )
    told = {"taken_back_at": recorded_at(session), "taken_back_by_party_id": member.party_id}
    return _change(session, look, told)


def add_picture(session: Session, member: Member, look_id: UUID, body: LookPicture) -> TreeCheckRead:
    """A picture for a look that was written down without one."""
    look = queries.get_look(session, look_id)
    check_can_add_picture(_made(look))
    return _change(session, look, {"picture": body.picture})


def _made(look: TreeCheckRead) -> LookMade:
    return LookMade(
        look.by_party_id, look.for_party_id, is_taken_back=look.taken_back_at is not None, has_picture=look.picture is not None
    )  # fmt: skip


def _change(session: Session, look: TreeCheckRead, told: dict[str, Any]) -> TreeCheckRead:
    """Guarded by what must not be there yet, so that of two at once one is heard."""
    guard = (
        col(TreeCheck.taken_back_at).is_(None),
        *((col(TreeCheck.picture).is_(None),) if "picture" in told else ()),
    )
    changed = session.execute(
        update(TreeCheck)
        .where(col(TreeCheck.id) == look.id, *guard)
        .values(**told)
        .returning(col(TreeCheck.id))
        .execution_options(synchronize_session=False)
    ).first()
    if changed is None:
        raise LookTakenBack("Somebody changed it just now.")
    note_changed_trees(session, [look.tree_id])
    return look.model_copy(update=told)


def _name_agents(session: Session, rows: list[dict[str, Any]]) -> None:
    """An agent of the catalogue goes by its name there, however it was told."""
    known = {
        told: queries.find_agent(session, told) for told in {row["agent"] for row in rows if row["agent"]}
    }
    for row in rows:
        agent = known.get(row["agent"])
        row["agent"] = agent.name[:200] if agent else row["agent"]


def _read(row: dict[str, Any], tree: TreeFacts, zone: str) -> TreeCheckRead:
    reason = proposed_reason(CheckResult(row["result"]))
    if reason is None:
        healthy = (row["kind"], row["result"]) == (CheckKind.LEAF.value, CheckResult.HEALTHY.value)
        asked = bare_words(row["seen_on"], zone) if healthy else ""
        return TreeCheckRead(**row, warnings=[asked] if asked else [])
    words = {
        StopReason.HEALTH: f"A symptom was seen on tree {tree.number}, {tree.name}.",
        StopReason.NAME: f"Tree {tree.number} did not bear the fruit of {tree.name}.",
    }
    todo = "Cut nothing from it. Open a stop for this tree if you think it is so: that binds all its wood at once and says whom to tell."
    if tree.open_stops:
        todo = "The tree is stopped already. Tell the health steward what you saw."
    proposal = StopProposal(reason=reason, agent=row["agent"], why=words[reason], todo=todo)
    return TreeCheckRead(**row, proposes_stop=True, proposal=proposal)
