"""What passing wood on needs beside the sticks themselves."""

from __future__ import annotations

from service.lib.errors import Refused, Unusable


class NoSuchReceiver(Unusable):
    title = "This receiver is not in the record"
    todo = "Choose a member, guest or club of the list, or record them first."


class ReceiverForgotten(Refused):
    title = "This receiver was forgotten on their wish"
    todo = "Record them anew if they want wood."
