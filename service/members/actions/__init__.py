"""What a club does with people: taking them in, giving roles, letting them sign in, forgetting them."""

from service.members.actions.access import (
    change_password,
    end_all_sign_ins,
    end_sign_in,
    make_token,
    mark_token_used,
    renew_password_hash,
    revoke_token,
    start_sign_in,
)
from service.members.actions.areas import (
    add_areas,
    change_area,
    change_club,
    ensure_club,
    note_backup,
    record_permits,
    remove_areas,
)
from service.members.actions.calendars import make_calendar_address, take_back_calendar_address
from service.members.actions.following import note_everything_changed, supply_all_bundles
from service.members.actions.forgetting import erase_party
from service.members.actions.invitations import (
    accept_invitation,
    make_first_invitation,
    make_invitation,
    revoke_invitation,
)
from service.members.actions.letters import (
    MAIL,
    drop_letters,
    mailing,
    note_mail,
    write_letters,
)
from service.members.actions.numbers import take_numbers
from service.members.actions.parties import add_parties, change_party, remove_parties, set_roles

__all__ = [
    "MAIL",
    "accept_invitation",
    "add_areas",
    "add_parties",
    "change_area",
    "change_club",
    "change_party",
    "change_password",
    "drop_letters",
    "end_all_sign_ins",
    "end_sign_in",
    "ensure_club",
    "erase_party",
    "mailing",
    "make_calendar_address",
    "make_first_invitation",
    "make_invitation",
    "make_token",
    "mark_token_used",
    "note_backup",
    "note_everything_changed",
    "note_mail",
    "record_permits",
    "remove_areas",
    "remove_parties",
    "renew_password_hash",
    "revoke_invitation",
    "revoke_token",
    "set_roles",
    "start_sign_in",
    "supply_all_bundles",
    "take_back_calendar_address",
    "take_numbers",
    "write_letters",
]
