"""Telling later stages that what a scan of some wood shows has changed with its collection."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from uuid import UUID

from sqlmodel import Session

from service.lib.write import touch_bundles

FindBundles = Callable[[Session, Collection[UUID]], Iterable[UUID]]
_FIND: list[FindBundles] = []


def supply_bundles_of_collections(find: FindBundles) -> None:
    """At start-up: how the bundles of these collections are found. Later stages stand above this one."""
    _FIND[:] = [find]


def note_changed_collections(session: Session, collection_ids: Collection[UUID]) -> None:
    """Mark the wood of these collections, so that its answers are renewed before this is saved."""
    for find in _FIND:
        touch_bundles(session, find(session, collection_ids))
