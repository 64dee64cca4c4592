"""Every SELECT about cuts, receipts and rounds."""

from service.collection.queries.collections import (
    NoSuchCollection,
    facts_for_collections,
    get_collection,
    list_collections,
    list_to_finish,
    new_collection_read,
    was_cut,
)
from service.collection.queries.corrected import (
    CutGone,
    NameCorrectedOnCut,
    TimeCorrected,
    TreeCorrected,
    list_cuts_gone,
    list_name_corrections,
    list_time_corrections,
    list_tree_corrections,
)
from service.collection.queries.dormancy import cut_dormancy
from service.collection.queries.offered import trees_to_cut
from service.collection.queries.rounds import (
    NoSuchRound,
    cut_later_on_rounds,
    cuts_of_trees,
    get_round,
    list_rounds,
    rounds_about,
    stop_candidates,
)
from service.collection.queries.warnings import get_collection_with_warnings
from service.collection.queries.winters import site_winter, tree_winter

__all__ = [
    "CutGone",
    "NameCorrectedOnCut",
    "NoSuchCollection",
    "NoSuchRound",
    "TimeCorrected",
    "TreeCorrected",
    "cut_dormancy",
    "cut_later_on_rounds",
    "cuts_of_trees",
    "facts_for_collections",
    "get_collection",
    "get_collection_with_warnings",
    "get_round",
    "list_collections",
    "list_cuts_gone",
    "list_name_corrections",
    "list_rounds",
    "list_time_corrections",
    "list_to_finish",
    "list_tree_corrections",
    "new_collection_read",
    "rounds_about",
    "site_winter",
    "stop_candidates",
    "tree_winter",
    "trees_to_cut",
    "was_cut",
]
