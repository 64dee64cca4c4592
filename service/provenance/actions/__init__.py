"""What is done across all stages: cards renewed, wood stopped and released, people told and forgotten."""

from service.provenance.actions.cards import follow_changes, renew_all_cards, renew_cards
from service.provenance.actions.correcting import set_cut_name, set_cut_time, set_cut_tree, set_tree_name
from service.provenance.actions.finishing import finish_tree
from service.provenance.actions.forgetting import forget_member
from service.provenance.actions.recalling import mark_told, renew_recall, start_recall
from service.provenance.actions.stopping import (
    bind_also,
    clear_stop,
    confirm_stop,
    open_stop,
    release_from_stop,
    stop_bundle,
    stop_tree,
)

__all__ = [
    "bind_also",
    "clear_stop",
    "confirm_stop",
    "finish_tree",
    "follow_changes",
    "forget_member",
    "mark_told",
    "open_stop",
    "release_from_stop",
    "renew_all_cards",
    "renew_cards",
    "renew_recall",
    "set_cut_name",
    "set_cut_time",
    "set_cut_tree",
    "set_tree_name",
    "start_recall",
    "stop_bundle",
    "stop_tree",
]
