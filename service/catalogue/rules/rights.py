"""Whether wood of a variety may be shared, as far as a breeder's right goes.

One rule for clubs (common practice, no source): wood of a protected variety is not offered unless the owner of the
right agreed in writing. A trade mark binds the selling name and not the plant, so a name alone proves nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from uuid import UUID

from service.lib.clock import day_words
from service.lib.errors import Refused, Unusable

SEASON = timedelta(days=365)


class Protection(StrEnum):
    FREE = "free"
    PROTECTED = "protected"
    APPLIED = "applied"
    UNKNOWN = "unknown"
    PERMISSION = "permission"


class ProtectedVariety(Refused):
    title = "This variety is protected"
    lift_words = "Record the permission, or that the protection ended"
    lift_right = "catalogue"
    todo = "Share no wood of it unless the owner of the right agreed in writing; then record that permission."


@dataclass(frozen=True)
class Rights:
    """What is known of a variety's protection."""

    protection: Protection
    protected_until: date | None = None
    checked_on: date | None = None
    name: str = ""


def can_share_rights(rights: Rights, today: date) -> bool:
    """Protected wood may not be shared up to and on the day its protection ends; everything else may."""
    if rights.protection is not Protection.PROTECTED:
        return True
    return rights.protected_until is not None and rights.protected_until < today


def check_share_rights(rights: Rights, today: date, cultivar_id: UUID | None = None) -> None:
    """Raises `ProtectedVariety`, which leads to the form for the variety's rights where it is known which one it is."""
    if not can_share_rights(rights, today):
        until = f" until {day_words(rights.protected_until)}" if rights.protected_until else ""
        raise ProtectedVariety(
            f"{rights.name or 'The variety'} is protected{until}.",
            lift=f"/varieties/{cultivar_id}/rights" if cultivar_id else "",
            protected_until=rights.protected_until.isoformat() if rights.protected_until else None,
        )


def share_warning(rights: Rights, today: date) -> str:
    """A sentence for who shares it all the same, or nothing."""
    match rights.protection:
        case Protection.PROTECTED if can_share_rights(rights, today):
            return f"Its protection ran out on {day_words(rights.protected_until)}; look again into the register."
        case Protection.APPLIED:
            return "Protection was applied for: ask the breeder before sharing."
        case Protection.UNKNOWN if rights.checked_on is None:
            return "Nobody has looked whether it is protected: look into the register of your country."
        case Protection.UNKNOWN if today - rights.checked_on > SEASON:  # type: ignore[operator]
            return f"Last looked up on {day_words(rights.checked_on)}, more than a season ago: look again into the register."
    return ""


def check_protection(
    protection: Protection, protected_until: date | None, checked_on: date | None, today: date
) -> None:
    """A look-up cannot lie in the future, and only a protected variety has a last day."""
    if checked_on is not None and checked_on > today:
        raise Unusable("The day it was looked up lies in the future.", field="checked_on")
    if protected_until is not None and protection not in (Protection.PROTECTED, Protection.PERMISSION):
        raise Unusable(
            f"A variety that is {protection} has no day on which protection ends.", field="protected_until"
        )
