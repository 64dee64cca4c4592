"""What collecting knows by itself: its words, who may cut what, what a stage means, what is still missing."""

from service.collection.rules.cutting import (
    SEASON,
    MoreThanOwnerSaid,
    NoPropagation,
    NoStageInSummer,
    NotOnThisTree,
    OwnerNotAsked,
    OwnerSaysNo,
    can_cut,
    can_cut_by_owner,
    can_cut_by_stop,
    check_may_cut,
    check_owner,
    check_stop_on_cut,
    check_wood,
    cutting_warnings,
    rights_warnings,
    wood_warnings,
)
from service.collection.rules.facts import CollectionFacts, Cutting, Warn
from service.collection.rules.finishing import MISSING_WORDS, missing_of
from service.collection.rules.receiving import (
    CutAfterItCame,
    OriginNotKnown,
    check_cut_before_it_came,
    check_may_carry,
    check_may_take_in,
)
from service.collection.rules.words import CollectionKind, Wood

__all__ = [
    "MISSING_WORDS",
    "SEASON",
    "CollectionFacts",
    "CollectionKind",
    "CutAfterItCame",
    "Cutting",
    "MoreThanOwnerSaid",
    "NoPropagation",
    "NoStageInSummer",
    "NotOnThisTree",
    "OriginNotKnown",
    "OwnerNotAsked",
    "OwnerSaysNo",
    "Warn",
    "Wood",
    "can_cut",
    "can_cut_by_owner",
    "can_cut_by_stop",
    "check_cut_before_it_came",
    "check_may_carry",
    "check_may_cut",
    "check_may_take_in",
    "check_owner",
    "check_stop_on_cut",
    "check_wood",
    "cutting_warnings",
    "missing_of",
    "rights_warnings",
    "wood_warnings",
]
