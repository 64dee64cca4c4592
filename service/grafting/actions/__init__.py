"""What people do at the bench and after: graft, look whether it took, plant out, bind plants by a stop."""

from service.grafting.actions.grafting import change_graft, record_grafts
from service.grafting.actions.plants import (
    bind_plant_stop,
    change_plant,
    lift_plant_stop,
    plant_as_tree,
    set_codes,
)
from service.grafting.actions.takes import record_take_checks

__all__ = [
    "bind_plant_stop", "change_graft", "change_plant", "lift_plant_stop", "plant_as_tree", "record_grafts", "record_take_checks",
    "set_codes",
]  # fmt: skip
