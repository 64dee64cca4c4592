"""A plant changes hands: to a member, guest or club, outside the record, back to the club; or it dies."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from service.grafting.rules.words import (
    AlreadyWithThem,
    NotPassedOn,
    NotYourPlant,
    PlantIsATree,
    PlantIsGone,
    PlantIsStopped,
    PlantIsVoid,
    PlantMoveKind,
    PlantState,
)
from service.lib.errors import Problem


@dataclass(frozen=True)
class PlantInHand:
    """A plant as far as changing hands goes."""

    id: UUID
    number: int
    state: PlantState
    holder_id: UUID | None  # none: the club
    source_tree_id: UUID | None
    open_stops: int
    went_outside: bool = False  # the last that was heard of it


def check_may_pass_on(plant: PlantInHand, *, party_id: UUID, any_plant: bool) -> None:
    """Raises `NotYourPlant`: volunteers pass on any plant, others what they have."""
    if not any_plant and plant.holder_id != party_id:
        raise NotYourPlant(f"Plant {plant.number} is not with you.", plant=plant.number)


def check_can_pass_on(plant: PlantInHand, kind: PlantMoveKind, to_party_id: UUID | None = None) -> None:
    """Raises the first thing that forbids it. That a stopped plant died may be said: then it stays where it stands."""
    if plant.state is PlantState.VOID:
        raise PlantIsVoid(f"Plant {plant.number} is taken back.", plant=plant.number)
    if plant.source_tree_id is not None:
        raise PlantIsATree(f"Plant {plant.number} grows as a source tree.", plant=plant.number)
    if plant.open_stops and kind is not PlantMoveKind.DIED:
        raise PlantIsStopped(f"A stop binds plant {plant.number}.", plant=plant.number)
    back = kind is PlantMoveKind.RETURNED
    if plant.state is PlantState.GONE and not (back and plant.went_outside):
        raise PlantIsGone(f"Plant {plant.number} is no longer there.", plant=plant.number)
    if back and plant.holder_id is None and not plant.went_outside:
        raise NotPassedOn(
            f"Plant {plant.number} never left the club, or is back already.", plant=plant.number
        )
    if kind is PlantMoveKind.HANDED_OVER and to_party_id == plant.holder_id:
        raise AlreadyWithThem(f"Plant {plant.number} is with them.", plant=plant.number)


def can_pass_on(plant: PlantInHand, kind: PlantMoveKind, to_party_id: UUID | None = None) -> bool:
    try:
        check_can_pass_on(plant, kind, to_party_id)
    except Problem:
        return False
    return True


def ways_to_pass_on(plant: PlantInHand) -> list[PlantMoveKind]:
    """What may become of a plant now, whoever it is that gets it."""
    nobody = UUID(int=0)
    return [kind for kind in PlantMoveKind if can_pass_on(plant, kind, nobody)]


def holder_after(kind: PlantMoveKind, holder_id: UUID | None, to_party_id: UUID | None) -> UUID | None:
    """Who has it then: a dead plant stays with whoever had it, one that went outside is with nobody of the record."""
    if kind is PlantMoveKind.HANDED_OVER:
        return to_party_id
    return holder_id if kind is PlantMoveKind.DIED else None
