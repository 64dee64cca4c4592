"""Telling later stages that what a scan of some wood shows has changed with its variety."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from uuid import UUID

from sqlmodel import Session

from service.lib.write import touch_bundles

FindBundles = Callable[[Session, Collection[UUID]], Iterable[UUID]]
_FIND: list[FindBundles] = []


def supply_bundles_of_cultivars(find: FindBundles) -> None:
    """At start-up: how the bundles of these varieties are found. Later stages stand above this one."""
    _FIND[:] = [find]


def note_changed_cultivars(session: Session, cultivar_ids: Collection[UUID]) -> None:
    """Mark the wood of these varieties, so that its answers are renewed before this is saved."""
    for find in _FIND:
        touch_bundles(session, find(session, cultivar_ids))
