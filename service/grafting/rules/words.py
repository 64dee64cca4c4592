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
    VOID = "void"  # its graft was recorded by mistake: there never was such a plant


class LostTo(StrEnum):
    """What a graft was lost to that says nothing of its wood."""

    STOCK_DIED = "stock_died"
    BROKEN_OFF = "broken_off"
    WRONG_WAY_UP = "wrong_way_up"
    EATEN = "eaten"
    SOMETHING_ELSE = "something_else"


class PlantMoveKind(StrEnum):
    """How a plant changes hands, or ends."""

    HANDED_OVER = "handed_over"
    GIVEN_OUTSIDE = "given_outside"
    RETURNED = "returned"
    DIED = "died"


NOT_THERE = frozenset({PlantState.GONE, PlantState.VOID})


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


class CauseNotTold(Unusable):
    title = "What they were lost to is not told"
    todo = "Say what it was, or leave the number out: then they count as grafts that did not take."


class CountsDoNotFit(Unusable):
    title = "These counts do not fit together"


class BeforeTheGraft(Unusable):
    title = "This was before the graft was made"


class VerdictTooEarly(Unusable):
    title = "It is too early for the verdict"
    todo = "Save it as a first look; the verdict counts from the day that is named. A graft that died may be told at any time."


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


class PlantIsVoid(Refused):
    title = "There never was such a plant"
    todo = "Its graft was recorded by mistake and taken back; take the tag off, and record the right graft."


class PlantIsGone(Refused):
    title = "This plant is no longer there"
    todo = "If it is there after all, record first that it came back."


class PlantIsATree(Refused):
    title = "This plant is a source tree now"
    todo = "Who looks after it is changed on the tree's page."


class AlreadyWithThem(Refused):
    title = "They have this plant already"
    todo = "Read the plant again: somebody may have been quicker."


class NotPassedOn(Refused):
    title = "This plant is with the club"
    todo = "Only a plant that was handed over or given outside can be returned."


class NotYourPlant(NotAllowed):
    title = "This plant is in other hands"
    todo = "Ask whoever has it, or a volunteer."


class NoSuchReceiverOfPlant(Unusable):
    title = "This receiver is not in the record"
    todo = "Choose a member, guest or club of the list, or record them first."


class AlreadyTakenBack(Refused):
    title = "This graft was taken back before"
    todo = "Nothing was done twice: its sticks are back in their bundles."


class GraftIsTakenBack(Refused):
    title = "This graft was recorded by mistake and taken back"
    todo = "Record the graft that was really made."


class GraftWasJudged(Refused):
    title = "This graft was looked at after it was made"
    todo = "A graft that somebody has seen was made. If it failed, write down that none lives; say in its note what else is wrong."


class PlantsWentOn(Refused):
    title = "A plant of this graft has gone on"
    todo = "It stays in the record, for it must be found again. Say in the notes of graft and plant what is wrong."


class OnlyReleaserTakesBack(NotAllowed):
    title = "A stop binds what this graft used or made"
    todo = "Ask the health steward: only who may release stops takes such a graft back."


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
