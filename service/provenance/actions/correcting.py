"""Putting right a tree's name, or the tree or the time of a cut, and all that rests on it; what was written before stays written."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.bundles import actions as bundle_actions
from service.bundles import queries as bundle_queries
from service.collection import actions as collection_actions
from service.collection import queries as collection_queries
from service.collection.actions import CutName
from service.collection.schemas import CollectionRead, CutNameSet, CutTreeSet, TimeSet
from service.lib.clock import local_day
from service.lib.errors import check_version
from service.lib.write import recorded_at
from service.members.queries import club
from service.members.rules import Member
from service.provenance import queries
from service.provenance.actions.stopping import bind_cut_moved, bind_cut_of_tree
from service.provenance.rules.correcting import (
    can_begin_at,
    check_can_begin_at,
    check_not_grown_of_it,
)
from service.provenance.schemas import CutMoved, CutRenamed, TreeRenamed
from service.trees import actions as tree_actions
from service.trees.queries import get_tree
from service.trees.rules import NameChange, TreeNamed
from service.trees.schemas import TreeNameSet


def set_tree_name(
    session: Session, member: Member, tree_id: UUID, body: TreeNameSet, version: int
) -> TreeRenamed:
    """Another name for a tree. Where the old one was wrong, every cut, bundle, plant and tree named after it follows.

    Where it was topworked, what was cut before keeps its name.
    """
    old, new, on_day = tree_actions.rename_tree(session, member, tree_id, body, version)
    found = queries.NamedAfter()
    if body.what is NameChange.WRONG:
        found = queries.named_after(session, old, tree_id=tree_id)
        _rename_all(session, member, found, old, _cut_name(tree_id, old, new, on_day, body.reason))
    return TreeRenamed(
        tree=get_tree(session, tree_id), what=body.what, **_told(session, found, old, new, on_day)
    )


def set_cut_name(
    session: Session, member: Member, collection_id: UUID, body: CutNameSet, version: int
) -> CutRenamed:
    """What one cut or receipt really is: its bundles, and the plants and trees made of it, follow."""
    before = collection_queries.get_collection(session, collection_id)
    check_version(before.version, version)
    old, new, on_day = collection_actions.name_for_cut(session, before, body)
    found = queries.named_after(session, old, cut_id=collection_id)
    _rename_all(session, member, found, old, _cut_name(before.tree_id, old, new, on_day, body.reason))
    after = collection_queries.get_collection(session, collection_id)
    return CutRenamed(collection=after, **_told(session, found, old, new, on_day))


def _cut_name(tree_id: UUID | None, old: TreeNamed, new: TreeNamed, on_day: date, reason: str) -> CutName:
    return CutName(
        tree_id, new.taxon_id, new.cultivar_id, new.name_as_told, old.words, new.words, on_day, reason
    )


def _rename_all(
    session: Session, member: Member, found: queries.NamedAfter, old: TreeNamed, name: CutName
) -> None:
    new = TreeNamed(name.taxon_id, name.cultivar_id, name.name_as_told, name.words)
    collection_actions.rename_cuts(session, member, found.cuts, name)
    tree_actions.rename_grown_trees(session, member, found.grown, new, name.on_day, name.reason, name.tree_id)
    tree_actions.rename_carried(session, found.carrying, old.cultivar_id, new.cultivar_id)


def _told(
    session: Session, found: queries.NamedAfter, old: TreeNamed, new: TreeNamed, on_day: date
) -> dict[str, Any]:
    bundles, plants = queries.count_named(session, found)
    return {
        "from_words": old.words, "words": new.words, "on_day": on_day, "cuts": len(found.cuts), "bundles": bundles, "plants": plants,
        "trees": len(found.grown | found.carrying),
    }  # fmt: skip


def set_cut_tree(
    session: Session, member: Member, collection_id: UUID, body: CutTreeSet, version: int
) -> CutMoved:
    """The tree a cut really came from. Where it bears another name, all that was made of the cut follows it.

    What a stop of the other tree binds stays bound, for a correction frees no wood; what a stop of this tree reaches is
    bound at once.
    """
    before = collection_queries.get_collection(session, collection_id)
    check_version(before.version, version)
    bundles = bundle_queries.bundles_of_collections(session, [collection_id])
    check_not_grown_of_it(body.tree_id, queries.reach_of_bundles(session, bundles).trees)
    moved = collection_actions.move_cut(session, member, before, body, version)
    stopped = queries.count_stopped(session, bundles)
    bind_cut_of_tree(session, member, body.tree_id, collection_id, before.cut_on)
    found, today = queries.NamedAfter(), local_day(recorded_at(session), club(session).zone)
    if not moved.old.is_same(moved.new):
        found = queries.named_after(session, moved.old, cut_id=collection_id)
        name = _cut_name(body.tree_id, moved.old, moved.new, today, body.reason)
        _rename_all(session, member, found, moved.old, name)
    return CutMoved(
        collection=collection_queries.get_collection_with_warnings(session, collection_id),
        from_tree_number=moved.before.number, tree_number=moved.tree.number, stays_stopped=stopped,
        stopped_now=queries.count_stopped(session, bundles) - stopped,
        elsewhere=queries.count_holders_elsewhere(session, bundles, moved.tree.area_id),
        **_told(session, found, moved.old, moved.new, today),
    )  # fmt: skip


def set_cut_time(
    session: Session, member: Member, collection_id: UUID, body: TimeSet, version: int
) -> CollectionRead:
    """When a cut was made or wood came, put right. The ledger keeps its lines as they were recorded, in their order.

    A cut that turns out to lie in the years which a stop on its tree reaches back is bound by it.
    """
    before = collection_queries.get_collection(session, collection_id)
    check_version(before.version, version)
    first = queries.first_after_cut(session, collection_id)
    if first is not None and not can_begin_at(body.done_at, first.at):
        check_can_begin_at(
            body.done_at, first.at.astimezone(ZoneInfo(club(session).zone)), first.what, first.code
        )
    after = collection_actions.correct_time(session, member, before, body, version)
    bundle_actions.begin_at(session, collection_id, before.done_at, after.done_at)
    if after.tree_id is not None and after.cut_on > before.cut_on:
        bind_cut_moved(session, member, after.tree_id, collection_id, before.cut_on, after.cut_on)
    return after
