"""Who is asking, and how they come to be known: sessions, tokens, passwords, limits."""

from service.members.signin.asker import (
    SESSION_COOKIE,
    WAYS_IN,
    Asker,
    AtBrowser,
    MaybeSignedIn,
    SignedIn,
    find_asker,
    may,
    who_may,
)
from service.members.signin.desk import (
    accept_invitation,
    change_password,
    clear_session_cookie,
    find_calendar_reader,
    find_open_invitation,
    set_session_cookie,
    sign_in,
)
from service.members.signin.limits import Limits, prepare
from service.members.signin.origins import SAFE_METHODS, came_from_us, read_form
from service.members.signin.passwords import hash_password

__all__ = [
    "SAFE_METHODS",
    "SESSION_COOKIE",
    "WAYS_IN",
    "Asker",
    "AtBrowser",
    "Limits",
    "MaybeSignedIn",
    "SignedIn",
    "accept_invitation",
    "came_from_us",
    "change_password",
    "clear_session_cookie",
    "find_asker",
    "find_calendar_reader",
    "find_open_invitation",
    "hash_password",
    "may",
    "prepare",
    "read_form",
    "set_session_cookie",
    "sign_in",
    "who_may",
]
