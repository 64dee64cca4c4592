"""Putting right what a cut is called, or when it was made. What was written before stays written."""

from __future__ import annotations

from collections.abc import Collection as Many
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy import select, update
from sqlmodel import Session, col

from service.collection import queries
from service.collection.actions.following import note_changed_collections
from service.collection.actions.rounds import Stand, rounds_for
from service.collection.rules import CollectionKind, NotOnThisTree, check_cut_before_it_came
from service.collection.schemas import CollectionRead, CutNameSet, TimeSet
from service.collection.tables import Collection, NameCorrection, TimeCorrection
from service.lib.clock import check_day, check_done_at, day_words, local_day
from service.lib.errors import Unusable
from service.lib.write import insert_rows, recorded_at
from service.members import queries as members
from service.members.actions.versions import change_row
from service.members.rules import Member
from service.trees import queries as trees
from service.trees.actions import name_told, named
from service.trees.rules import TreeFelled, TreeNamed, check_can_rename, is_in_the_ground


def correct_time(
    session: Session, member: Member, before: CollectionRead, body: TimeSet, version: int
) -> CollectionRead:
    """When a cut was made or wood came, put right. A cut of another day belongs to that day's round."""
    now, zone = recorded_at(session), members.club(session).zone
    done_at = check_done_at(body.done_at, now)
    if done_at == before.done_at:
        raise Unusable(
            "That is the time that stands.", field="done_at", todo="Tell another time, or leave it as it is."
        )
    day = local_day(done_at, zone)
    values: dict[str, Any] = {"done_at": done_at}
    if before.kind is CollectionKind.CUT:
        values.update(_cut_on(session, before, Stand(_site_of(session, before, day), day, done_at), zone))
    elif before.cut_on_guessed:
        values["cut_on"] = day
    else:
        check_cut_before_it_came(before.cut_on, day)
    row = {
        "collection_id": before.id, "from_done_at": before.done_at, "done_at": done_at, "reason": body.reason, "recorded_at": now,
        "by_party_id": member.party_id, "for_party_id": member.acting_for_id,
    }  # fmt: skip
    insert_rows(session, TimeCorrection, [row])
    change_row(session, Collection, before.id, version, values)
    note_changed_collections(session, [before.id])
    return queries.get_collection(session, before.id)


def _site_of(session: Session, before: CollectionRead, day: date) -> UUID:
    assert before.tree_id is not None
    tree = trees.get_facts(session, before.tree_id)
    if not is_in_the_ground(tree.felled_on, day):
        raise TreeFelled(
            f"Tree {tree.number} was felled on {day_words(tree.felled_on)}.",
            field="done_at",
            tree=tree.number,
            felled_on=str(tree.felled_on),
        )
    return tree.site_id


def _cut_on(session: Session, before: CollectionRead, stand: Stand, zone: str) -> dict[str, Any]:
    if stand.cut_on == before.cut_on:
        return {}
    (round_id,) = rounds_for(session, before.for_party_id, [stand], zone)
    return {"cut_on": stand.cut_on, "round_id": round_id}


def name_for_cut(
    session: Session, before: CollectionRead, body: CutNameSet
) -> tuple[TreeNamed, TreeNamed, date]:
    """The old name of a cut or a receipt, the new one, and since when it is known.

    A cut is of something its tree bore that day: the wrong branch can be put right here, a wrong tree at the tree.
    """
    now, zone = recorded_at(session), members.club(session).zone
    on_day = check_day(body.on_day or local_day(now, zone), now, zone, field="on_day")
    old = TreeNamed(before.taxon_id, before.cultivar_id, before.name_as_told, before.page_name)
    new = name_told(session, before.taxon_id, body)
    check_can_rename(old, new)
    if before.tree_id is not None:
        _check_borne(session, before.tree_id, before.cut_on, new)
    return old, new, on_day


def _check_borne(session: Session, tree_id: UUID, cut_on: date, new: TreeNamed) -> None:
    tree = trees.facts_for_cutting(session, [tree_id], lock=True)[tree_id]
    then = trees.name_on(session, tree_id, cut_on)
    main = TreeNamed(then.taxon_id, then.cultivar_id, then.name_as_told, "") if then else named(tree)
    if not main.is_same(new) and new.cultivar_id not in tree.more_varieties:
        raise NotOnThisTree(f"Tree {tree.number} does not carry it.", field="cultivar_id", tree=tree.number)


@dataclass(frozen=True)
class CutName:
    """What cuts are called from now on, in ids and in words, since when, and at which tree that was said, if at one."""

    tree_id: UUID | None
    taxon_id: UUID
    cultivar_id: UUID | None
    name_as_told: str
    from_words: str
    words: str
    on_day: date
    reason: str


def rename_cuts(session: Session, member: Member, collection_ids: Many[UUID], name: CutName) -> None:
    """Give cuts the right name; what their tags say stays written. Three statements, however many."""
    if not collection_ids:
        return
    ids = sorted(collection_ids)
    old = session.execute(
        select(
            col(Collection.id),
            col(Collection.taxon_id),
            col(Collection.cultivar_id),
            col(Collection.name_as_told),
        ).where(col(Collection.id).in_(ids))
    ).all()
    rows = [
        {
            "collection_id": row.id, "tree_id": name.tree_id, "from_taxon_id": row.taxon_id, "from_cultivar_id": row.cultivar_id,
            "from_name_as_told": row.name_as_told, "from_words": name.from_words, "words": name.words, "on_day": name.on_day,
            "reason": name.reason, "recorded_at": recorded_at(session), "by_party_id": member.party_id,
            "for_party_id": member.acting_for_id,
        }
        for row in old
    ]  # fmt: skip
    insert_rows(session, NameCorrection, rows)
    session.execute(
        update(Collection)
        .where(col(Collection.id).in_(ids))
        .values(
            taxon_id=name.taxon_id,
            cultivar_id=name.cultivar_id,
            name_as_told=name.name_as_told,
            version=Collection.version + 1,
        )
        .execution_options(synchronize_session=False)
    )
    note_changed_collections(session, ids)
