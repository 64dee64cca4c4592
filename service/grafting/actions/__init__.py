"""What people do at the bench and after: graft, look whether it took, plant out, bind plants by a stop."""

from service.grafting.actions.grafting import change_graft, record_grafts
from service.grafting.actions.passing import pass_on_plants, pass_on_to_guest
from service.grafting.actions.plants import (
    bind_plant_stop,
    change_plant,
    lift_plant_stop,
    plant_as_tree,
    release_plants,
    set_codes,
)
from service.grafting.actions.takes import record_take_checks
from service.grafting.actions.undoing import take_back_graft

__all__ = [
    "bind_plant_stop",
    "change_graft",
    "change_plant",
    "lift_plant_stop",
    "pass_on_plants",
    "pass_on_to_guest",
    "plant_as_tree",
    "record_grafts",
    "record_take_checks",
    "release_plants",
    "set_codes",
    "take_back_graft",
]  # fmt: skip
