"""Putting right a tree's name, or the time of a cut, and all that rests on it; what was written before stays written."""

from __future__ import annotations

from uuid import UUID

from sqlmodel import Session

from service.bundles import actions as bundle_actions
from service.collection import actions as collection_actions
from service.collection import queries as collection_queries
from service.collection.actions import CutName
from service.collection.schemas import CollectionRead, TimeSet
from service.lib.errors import check_version
from service.members.rules import Member
from service.provenance import queries
from service.provenance.rules.correcting import check_can_begin_at
from service.provenance.schemas import TreeRenamed
from service.trees import actions as tree_actions
from service.trees.queries import get_tree
from service.trees.rules import NameChange
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
        found = queries.named_after(session, tree_id, old)
        name = CutName(
            tree_id,
            new.taxon_id,
            new.cultivar_id,
            new.name_as_told,
            old.words,
            new.words,
            on_day,
            body.reason,
        )
        collection_actions.rename_cuts(session, member, found.cuts, name)
        tree_actions.rename_grown_trees(session, member, found.grown, new, on_day, body.reason, tree_id)
        tree_actions.rename_carried(session, found.carrying, old.cultivar_id, new.cultivar_id)
    bundles, plants = queries.count_named(session, found)
    return TreeRenamed(
        tree=get_tree(session, tree_id), what=body.what, from_words=old.words, words=new.words, on_day=on_day, cuts=len(found.cuts),
        bundles=bundles, plants=plants, trees=len(found.grown | found.carrying),
    )  # fmt: skip


def set_cut_time(
    session: Session, member: Member, collection_id: UUID, body: TimeSet, version: int
) -> CollectionRead:
    """When a cut was made or wood came, put right. The ledger keeps its lines as they were recorded, in their order."""
    before = collection_queries.get_collection(session, collection_id)
    check_version(before.version, version)
    first = queries.first_after_cut(session, collection_id)
    if first is not None:
        check_can_begin_at(body.done_at, first.at, first.what, first.code)
    after = collection_actions.correct_time(session, member, before, body, version)
    bundle_actions.begin_at(session, collection_id, before.done_at, after.done_at)
    return after
