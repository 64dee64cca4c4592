"""For whom something is written: oneself, or a party one may act for, offered again on the next form."""

from __future__ import annotations

from uuid import UUID

from fastapi import Request, Response

from service.members import queries
from service.members.rules import May
from service.members.signin import Asker
from service.pages.choices import Choices, people

FIELD = "on_behalf_of"
COOKIE = "writing_for"
KEPT_SECONDS = 2 * 60 * 60


def remembered(request: Request, asker: Asker | None) -> str:
    """Whom this asker wrote for last; never what somebody else chose at the same browser."""
    who, _, party = request.cookies.get(COOKIE, "").partition(".")
    if asker is None or May.ACT_FOR not in asker.may or who != asker.party_id.hex:
        return ""
    return party if _is_id(party) else ""


def remember(request: Request, answer: Response, asker: Asker, told: str) -> None:
    """Offer the same party on the next form; choosing oneself ends it."""
    if not told or not _is_id(told) or UUID(told) == asker.party_id:
        answer.delete_cookie(COOKIE, path="/")
        return
    answer.set_cookie(
        COOKIE, f"{asker.party_id.hex}.{UUID(told)}", max_age=KEPT_SECONDS, httponly=True, samesite="lax", path="/",
        secure=request.app.state.settings.secure_cookies,
    )  # fmt: skip


def others(request: Request, asker: Asker) -> Choices:
    """Everybody to write for, by name."""
    return [(party_id, name) for party_id, name in people(request) if party_id != asker.party_id]


def name_of(request: Request, told: str) -> str:
    """The name of a party written for, or nothing."""
    if not _is_id(told):
        return ""
    with request.app.state.database.reading() as session:
        party = queries.facts_for_parties(session, [UUID(told)]).get(UUID(told))
    return party.name if party and not party.forgotten else ""


def _is_id(told: str) -> bool:
    try:
        return bool(UUID(told))
    except ValueError:
        return False
