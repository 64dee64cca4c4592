"""What is done when wood is cut or comes from outside."""

from service.collection.actions.correcting import CutName, correct_time, name_for_cut, rename_cuts
from service.collection.actions.cutting import record_collections
from service.collection.actions.finishing import finish_collection
from service.collection.actions.following import note_changed_collections, supply_bundles_of_collections
from service.collection.actions.moving import MovedCut, move_cut
from service.collection.actions.receiving import record_receipts
from service.collection.actions.rounds import change_round, start_round

__all__ = [
    "CutName",
    "MovedCut",
    "change_round",
    "correct_time",
    "finish_collection",
    "move_cut",
    "name_for_cut",
    "note_changed_collections",
    "record_collections",
    "record_receipts",
    "rename_cuts",
    "start_round",
    "supply_bundles_of_collections",
]
