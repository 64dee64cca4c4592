"""Words of the bench, what can be wrong with them, and what is told where a graft is entered."""

from __future__ import annotations

from enum import StrEnum

from service.lib.errors import NotAllowed, NotFound, Refused, Unusable


class Part(StrEnum):
    """What a wood is in a graft: the top, or the piece between it and the stock."""

    SCION = "scion"
    INTERSTEM = "interstem"


class PlantState(StrEnum):
    WAITING = "waiting"
    TOOK = "took"
    FAILED = "failed"
    GONE = "gone"


class GroupBy(StrEnum):
    """What takes are counted by."""

    METHOD = "method"
    TREE = "tree"
    VARIETY = "variety"


class NoSuchGraft(NotFound):
    title = "There is no such graft"


class NoSuchPlant(NotFound):
    title = "There is no such plant"


class NoSuchWood(NotFound):
    title = "There is no such bundle"


class NoSuchStock(NotFound):
    title = "There is no such stock"


class NoSuchMethod(Unusable):
    title = "There is no such grafting method"
    todo = "Choose one from the list, or leave it out."


class NotForGrafting(Unusable):
    title = "This code does not fit here"


class NothingCounted(Unusable):
    title = "At least one stick must be counted"
    todo = "Count the stick you cut into; nought is for the rest of a stick that was counted before."


class TooManyPlants(Unusable):
    title = "There cannot be more plants than grafts"


class NoNewPlant(Unusable):
    title = "This makes no new plant"
    todo = "Leave the plants out: a graft on a standing tree or plant makes it carry one variety more."


class WoodIsStopped(Refused):
    title = "This wood is stopped"
    todo = "Do not graft it, do not throw it away; ask the health steward."


class StockIsStopped(Refused):
    title = "This stock is stopped"
    todo = "Leave it alone until the stop is released; ask the health steward."


class StockIsGone(Refused):
    title = "This stock is no longer there"


class NotYourWood(NotAllowed):
    title = "You may graft only wood that you hold"
    todo = "Ask a volunteer to hand it over to you, or to enter the graft."


class NotYourGraft(NotAllowed):
    title = "This graft belongs to somebody else"


class CountsDoNotFit(Unusable):
    title = "These counts do not fit together"


class BeforeTheGraft(Unusable):
    title = "This was before the graft was made"


class PlantOfAnotherGraft(Unusable):
    title = "This plant does not belong to this graft"


class AlreadyATree(Refused):
    title = "This plant is a source tree already"


class NotTakenYet(Refused):
    title = "This plant cannot become a source tree"
    todo = "Write down first that it took."


class PlantIsStopped(Refused):
    title = "This plant is stopped"
    todo = "Leave it where it stands until the stop is released; ask the health steward."


# What to keep in mind at the bench, told wherever a graft is entered. Strengths and times of an agent stand on its own
# paper and in local rules.
CAUTIONS = (
    "Knives and saws cut hands: cut away from yourself, keep the other hand behind the blade (common practice, no source).",
    (
        "Disinfect tools between source trees and between varieties, and let them dry; follow the paper of what you use, keep it "
        "off skin and eyes, and mix no two of them (common practice, no source)."
    ),
    (
        "Wood or stock that looks sick is not grafted: set it aside, do not compost it, and tell the health steward. "
        "Your plant-health authority's rules and licensed practice come first."
    ),
)
