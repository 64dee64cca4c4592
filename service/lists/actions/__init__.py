"""What is done with lists: sent, told how to read them, answered, taken whole or dropped, taken back."""

from service.lists.actions.back import take_list_back
from service.lists.actions.lists import (
    SentList,
    answer_list,
    drop_list,
    read_sent,
    send_list,
    set_list_form,
    take_list,
)

__all__ = [
    "SentList", "answer_list", "drop_list", "read_sent", "send_list", "set_list_form", "take_list", "take_list_back",
]  # fmt: skip
