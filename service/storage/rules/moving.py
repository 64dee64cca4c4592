"""What may be moved: stopped wood stays where it lies, unless it is moved aside."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from service.members.rules import AreaFacts
from service.storage.rules.words import NotApart, OnlyToIsolate, StoppedWoodStays


@dataclass(frozen=True)
class WoodToMove:
    """A bundle as far as moving it goes: the name a person knows it by, and since when a stop binds it."""

    bundle_id: UUID
    name: str
    stopped_since: datetime | None = None

    def is_stopped_at(self, at: datetime) -> bool:
        return self.stopped_since is not None and at >= self.stopped_since


def check_can_move(
    wood: Collection[WoodToMove], done_at: datetime, *, to_isolate: bool, may_isolate: bool
) -> None:
    """Refuse to move stopped wood, alone or in a box, and name it. Raises `StoppedWoodStays`, `OnlyToIsolate`.

    A move that was done before the stop was placed may still be written down late: it is what happened, and what lay
    beside what depends on it. Who may release stops may move stopped wood aside; what else lies in its box may be
    moved by anybody, so the whole box may go with it.
    """
    stopped = sorted(w.name for w in wood if w.is_stopped_at(done_at))
    if to_isolate and not may_isolate:
        raise OnlyToIsolate("Moving stopped wood aside needs the right to release stops.", right="release")
    if stopped and not to_isolate:
        raise StoppedWoodStays(f"A stop binds {_listed(stopped)}.", bundles=stopped)


def can_move(
    wood: Collection[WoodToMove], done_at: datetime, *, to_isolate: bool = False, may_isolate: bool = False
) -> bool:
    try:
        check_can_move(wood, done_at, to_isolate=to_isolate, may_isolate=may_isolate)
    except (StoppedWoodStays, OnlyToIsolate):
        return False
    return True


def warn_of_area(origin: AreaFacts | None, here: AreaFacts, store: str) -> str:
    """What to say of wood that comes to lie in another plant-health area than it grew in."""
    grew = f"grew in {origin.name}" if origin else "grew in an area nobody told"
    return (
        f"This wood {grew}, and {store} stands with somebody in {here.name}: ask the plant-health authority before wood"
        " crosses, and let a health steward record its answer."
    )


def check_keeps_apart(others: Collection[WoodToMove], done_at: datetime) -> None:
    """Stopped wood is moved aside only to where no other wood lies in the same box. Raises `NotApart`."""
    free = sorted(w.name for w in others if not w.is_stopped_at(done_at))
    if free:
        raise NotApart(f"In that box lies {_listed(free)}, which no stop binds.", bundles=free)


def warn_of_neighbours(others: Collection[WoodToMove], done_at: datetime) -> list[str]:
    """What to say when wood is put into a box with stopped wood in it."""
    stopped = sorted(w.name for w in others if w.is_stopped_at(done_at))
    return (
        [f"In this box lies stopped wood: {_listed(stopped)}. Choose another box if you can."]
        if stopped
        else []
    )


def _listed(names: Sequence[str], most: int = 10) -> str:
    shown = ", ".join(names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"
