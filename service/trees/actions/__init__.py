"""What is done with trees: entering and changing them, looking at them, stopping them."""

from service.trees.actions.air import record_air
from service.trees.actions.air_files import (
    drop_air_file,
    read_sent_air,
    send_air_file,
    set_air_form,
    take_air_file,
    take_air_file_back,
)
from service.trees.actions.checks import (
    add_picture,
    record_looks_at_tree,
    record_tree_checks,
    take_back_look,
)
from service.trees.actions.following import (
    note_changed_trees,
    supply_bundles_of_trees,
    supply_cuts_of_trees,
)
from service.trees.actions.naming import (
    name_told,
    named,
    rename_carried,
    rename_grown_trees,
    rename_tree,
)
from service.trees.actions.owning import set_owner_word
from service.trees.actions.sites import add_site, add_sites, change_site, remove_sites
from service.trees.actions.stops import (
    Span,
    clear_stop,
    confirm_stop,
    note_released,
    open_stop,
    place_stop,
    release_trees,
)
from service.trees.actions.trees import (
    add_met_tree,
    add_trees,
    change_tree,
    enter_trees,
    remove_trees,
    set_codes,
)

__all__ = [
    "Span",
    "add_met_tree",
    "add_picture",
    "add_site",
    "add_sites",
    "add_trees",
    "change_site",
    "change_tree",
    "clear_stop",
    "confirm_stop",
    "drop_air_file",
    "enter_trees",
    "name_told",
    "named",
    "note_changed_trees",
    "note_released",
    "open_stop",
    "place_stop",
    "read_sent_air",
    "record_air",
    "record_looks_at_tree",
    "record_tree_checks",
    "release_trees",
    "remove_sites",
    "remove_trees",
    "rename_carried",
    "rename_grown_trees",
    "rename_tree",
    "send_air_file",
    "set_air_form",
    "set_codes",
    "set_owner_word",
    "supply_bundles_of_trees",
    "supply_cuts_of_trees",
    "take_air_file",
    "take_air_file_back",
    "take_back_look",
]
