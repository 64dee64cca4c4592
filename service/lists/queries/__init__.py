"""Every SELECT about lists that are moved in."""

from service.lists.queries.boxes import BoxTold
from service.lists.queries.files import (
    ListCounted,
    ListPrepared,
    ReadBefore,
    count_rows,
    find_list,
    list_lists,
    list_summary,
    look_at_list,
    prepare_list,
    read_before,
    read_form,
    taken_before,
)
from service.lists.queries.grafts import GraftRow
from service.lists.queries.planning import Plan
from service.lists.queries.resting import lists_on_list, rests_on_list, things_of_list
from service.lists.queries.wood import WoodRow

__all__ = [
    "BoxTold",
    "GraftRow",
    "ListCounted",
    "ListPrepared",
    "Plan",
    "ReadBefore",
    "WoodRow",
    "count_rows",
    "find_list",
    "list_lists",
    "list_summary",
    "lists_on_list",
    "look_at_list",
    "prepare_list",
    "read_before",
    "read_form",
    "rests_on_list",
    "taken_before",
    "things_of_list",
]
