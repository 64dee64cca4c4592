"""What people do with tags: bind and replace them, print blanks ahead, confirm the address they carry, print labels."""

from service.tags.actions.blanks import bind_blank, give_up_blanks
from service.tags.actions.collecting import collect_and_label, enter_pencilled_cuts, receive_and_label
from service.tags.actions.printing import confirm_address, print_blanks, print_labels, propose_address
from service.tags.actions.sheets import add_sheet, retire_sheet
from service.tags.actions.tags import add_tags, bind_new_tags, replace_tag, supply_kind

__all__ = [
    "add_sheet",
    "add_tags",
    "bind_blank",
    "bind_new_tags",
    "collect_and_label",
    "confirm_address",
    "enter_pencilled_cuts",
    "give_up_blanks",
    "print_blanks",
    "print_labels",
    "propose_address",
    "receive_and_label",
    "replace_tag",
    "retire_sheet",
    "supply_kind",
]
