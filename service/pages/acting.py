"""For whom something is written: oneself, or a party one may act for, offered again on the next form."""

from __future__ import annotations

from uuid import UUID

from fastapi import Request, Response

from service.lib.paging import Paging
from service.members import queries
from service.members.rules import May, PartyFacts
from service.members.signin import Asker
from service.pages.choices import Choices

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


def parties(request: Request, asker: Asker, chosen: str) -> Choices:
    """Everybody to write for, by name, whoever is chosen among them; read once per request."""
    known: Choices | None = getattr(request.state, "act_for", None)
    if known is None:
        with request.app.state.database.reading() as session:
            listed = queries.list_party_names(session, Paging(limit=200)).items
            known = [(party.id, party.name) for party in listed if party.id != asker.party_id]
            if _is_id(chosen) and all(str(party) != chosen for party, _ in known):
                known = [*_one(queries.facts_for_parties(session, [UUID(chosen)])), *known]
        request.state.act_for = known
    return known


def name_of(request: Request, told: str) -> str:
    """The name of a party written for, or nothing."""
    if not _is_id(told):
        return ""
    with request.app.state.database.reading() as session:
        found = _one(queries.facts_for_parties(session, [UUID(told)]))
    return found[0][1] if found else ""


def _one(found: dict[UUID, PartyFacts]) -> Choices:
    return [(facts.id, facts.name) for facts in found.values() if not facts.forgotten]


def _is_id(told: str) -> bool:
    try:
        return bool(UUID(told))
    except ValueError:
        return False
