"""Telling later stages that what many scans show has changed: an area's name, the club's zone, the catalogue."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from uuid import UUID

from sqlmodel import Session

from service.lib.write import touch_bundles

FindAll = Callable[[Session], Iterable[UUID]]
_FIND: list[FindAll] = []


def supply_all_bundles(find: FindAll) -> None:
    """At start-up: how all bundles are found. Later stages stand above this one."""
    _FIND[:] = [find]


def note_everything_changed(session: Session) -> None:
    """Mark all wood, so that every answer is renewed before this is saved."""
    for find in _FIND:
        touch_bundles(session, find(session))
