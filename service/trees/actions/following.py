"""Telling later stages that what a scan of some wood shows has changed with its tree."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from uuid import UUID

from sqlmodel import Session

from service.lib.write import touch_bundles

FindBundles = Callable[[Session, Collection[UUID]], Iterable[UUID]]
_FIND: list[FindBundles] = []


def supply_bundles_of_trees(find: FindBundles) -> None:
    """At start-up: how the bundles whose answer rests on these trees are found. Later stages stand above this one."""
    _FIND[:] = [find]


def has_wood(session: Session, tree_id: UUID) -> bool:
    """Whether bundles of this tree's wood are in the record."""
    return any(list(find(session, [tree_id])) for find in _FIND)


def note_changed_trees(session: Session, tree_ids: Collection[UUID]) -> None:
    """Mark the wood of these trees, so that its answers are renewed before this is saved."""
    if tree_ids:
        for find in _FIND:
            touch_bundles(session, find(session, tree_ids))
