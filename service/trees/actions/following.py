"""Telling later stages that what a scan of some wood shows has changed with its tree."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from uuid import UUID

from sqlmodel import Session

from service.lib.write import touch_bundles

FindBundles = Callable[[Session, Collection[UUID]], Iterable[UUID]]
WasCut = Callable[[Session, UUID], bool]
_FIND: list[FindBundles] = []
_WAS_CUT: list[WasCut] = []


def supply_bundles_of_trees(find: FindBundles) -> None:
    """At start-up: how the bundles whose answer rests on these trees are found. Later stages stand above this one."""
    _FIND[:] = [find]


def supply_cuts_of_trees(was_cut: WasCut) -> None:
    """At start-up: how a tree from which wood was cut is told, labelled or not."""
    _WAS_CUT[:] = [was_cut]


def has_wood(session: Session, tree_id: UUID) -> bool:
    """Whether wood of this tree is in the record: a cut that is not labelled yet bears the tree's name too."""
    return any(was_cut(session, tree_id) for was_cut in _WAS_CUT)


def note_changed_trees(session: Session, tree_ids: Collection[UUID]) -> None:
    """Mark the wood of these trees, so that its answers are renewed before this is saved."""
    if tree_ids:
        for find in _FIND:
            touch_bundles(session, find(session, tree_ids))
