"""What is done with lists: sent, told how to read them, answered, taken whole or dropped."""

from service.lists.actions.lists import SentList, answer_list, drop_list, send_list, set_list_form, take_list

__all__ = ["SentList", "answer_list", "drop_list", "send_list", "set_list_form", "take_list"]
