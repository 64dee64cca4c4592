"""Taking back a graft that was recorded by mistake: the wrong bundle was scanned, or the wrong number typed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from service.grafting.rules.words import (
    AlreadyTakenBack,
    GraftWasJudged,
    OnlyReleaserTakesBack,
    PlantsWentOn,
)
from service.lib.errors import Problem


@dataclass(frozen=True)
class PlantOfMistake:
    """A plant that would turn out never to have been: what became of it in the record."""

    id: UUID
    number: int
    is_tree: bool
    changed_hands: bool
    grafted_again: bool


@dataclass(frozen=True)
class GraftToTakeBack:
    """A graft as far as taking it back goes."""

    number: int
    is_taken_back: bool
    looks: int
    stopped: bool  # a stop binds wood it used or a plant it made
    plants: Sequence[PlantOfMistake]


def check_can_take_back(graft: GraftToTakeBack, *, may_release: bool) -> None:
    """Raises the first thing that forbids it; each says what to do instead."""
    if graft.is_taken_back:
        raise AlreadyTakenBack(f"Graft {graft.number} is taken back.", graft=graft.number)
    if graft.looks:
        times = "once" if graft.looks == 1 else f"{graft.looks} times"
        raise GraftWasJudged(
            f"Graft {graft.number} was looked at {times}.", graft=graft.number, looks=graft.looks
        )
    for plant in graft.plants:
        if plant.is_tree:
            raise PlantsWentOn(f"Plant {plant.number} became a source tree.", plant=plant.number)
        if plant.changed_hands:
            raise PlantsWentOn(
                f"Plant {plant.number} was passed on, or its death was recorded.", plant=plant.number
            )
        if plant.grafted_again:
            raise PlantsWentOn(
                f"Plant {plant.number} was grafted again.", plant=plant.number,
                todo="Take the later graft back first, if that was a mistake too; else say in the notes what is wrong.",
            )  # fmt: skip
    if graft.stopped and not may_release:
        raise OnlyReleaserTakesBack(f"Graft {graft.number} is bound with its wood.", graft=graft.number)


def can_take_back(graft: GraftToTakeBack, *, may_release: bool) -> bool:
    try:
        check_can_take_back(graft, may_release=may_release)
    except Problem:
        return False
    return True
