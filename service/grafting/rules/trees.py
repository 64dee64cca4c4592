"""A grafted plant that becomes next year's source tree, and what it carries on."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from service.grafting.rules.words import AlreadyATree, NotTakenYet, PlantIsStopped, PlantState
from service.lib.errors import Problem
from service.trees.rules import Identity


@dataclass(frozen=True)
class PlantToPlant:
    """A plant and the wood in it, as far as becoming a source tree goes."""

    plant_id: UUID
    number: int
    state: PlantState
    source_tree_id: UUID | None
    open_stops: int
    taxon_id: UUID
    cultivar_id: UUID | None
    name_as_told: str
    parent_identity: Identity | None  # of the tree the scion was cut from; None for wood from outside
    no_propagation_contract: bool
    rootstock_id: UUID | None
    stock_name: str
    interstems: tuple[str, ...]
    holder_id: UUID | None
    more_varieties: tuple[
        UUID, ...
    ] = ()  # further ones of the same kind, where it was made of several scions


@dataclass(frozen=True)
class CarriedOn:
    """What the new tree has from its plant."""

    taxon_id: UUID
    cultivar_id: UUID | None
    name_as_told: str
    identity: Identity
    rootstock_id: UUID | None
    stands_on: str
    no_propagation_contract: bool
    more_varieties: tuple[UUID, ...] = ()


def check_can_become_tree(plant: PlantToPlant) -> None:
    """Raises `AlreadyATree`, `PlantIsStopped` or `NotTakenYet`."""
    if plant.source_tree_id is not None:
        raise AlreadyATree(f"Plant {plant.number} became a source tree before.", plant=plant.number)
    if plant.open_stops > 0:
        raise PlantIsStopped(f"A stop binds plant {plant.number}.", plant=plant.number)
    if plant.state is not PlantState.TOOK:
        words = {
            PlantState.WAITING: "was not judged yet",
            PlantState.FAILED: "failed",
            PlantState.GONE: "is no longer there",
            PlantState.VOID: "never was: its graft was recorded by mistake",
        }
        raise NotTakenYet(
            f"Plant {plant.number} {words[plant.state]}.", plant=plant.number, state=plant.state
        )


def can_become_tree(plant: PlantToPlant) -> bool:
    try:
        check_can_become_tree(plant)
    except Problem:
        return False
    return True


def plan_tree(plant: PlantToPlant) -> CarriedOn:
    """What carries over. Its name is as sure as the record: documented where the parent's was sure, never more.

    An interstem was cut from a bundle and so is no stock of the list: it is told in words.
    """
    sure = (Identity.DOCUMENTED, Identity.FRUIT_COMPARED)
    identity = (
        Identity.DOCUMENTED if plant.parent_identity in sure else plant.parent_identity or Identity.AS_TOLD
    )
    stands_on = ""
    if plant.interstems:
        stands_on = f"interstem {' and '.join(plant.interstems)} on {plant.stock_name or 'a stock not told'}"
    elif plant.rootstock_id is None:
        stands_on = plant.stock_name
    return CarriedOn(
        plant.taxon_id, plant.cultivar_id, plant.name_as_told, identity, plant.rootstock_id, stands_on[:300],
        plant.no_propagation_contract, plant.more_varieties,
    )  # fmt: skip
