"""Every SELECT about lists that are moved in."""

from service.lists.queries.files import (
    PreparedList,
    find_list,
    list_lists,
    list_summary,
    look_at_list,
    open_table,
    prepare_list,
    taken_before,
)
from service.lists.queries.grafts import GraftRow
from service.lists.queries.planning import Plan
from service.lists.queries.resting import rests_on_list, things_of_list
from service.lists.queries.wood import WoodRow

__all__ = [
    "GraftRow",
    "Plan",
    "PreparedList",
    "WoodRow",
    "find_list",
    "list_lists",
    "list_summary",
    "look_at_list",
    "open_table",
    "prepare_list",
    "rests_on_list",
    "taken_before",
    "things_of_list",
]
