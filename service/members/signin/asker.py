"""The signed-in member behind a cookie or a token, as a dependency."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Annotated, Any
from uuid import UUID

import anyio.to_thread
from fastapi import Depends, Header, Request
from starlette.datastructures import FormData

from service.lib.clock import local_day, minute_words
from service.lib.database import Database
from service.lib.errors import NotAllowed, NotSaved, NotSignedIn
from service.members import actions, queries
from service.members.queries import Known
from service.members.rules import (
    ROLE_MAY,
    CannotActFor,
    May,
    NeedsBrowser,
    Role,
    SignInEnded,
    TokenLacksScope,
    TokenNotGood,
    UnknownParty,
    digest_of,
    lacking,
    may_of,
)
from service.members.rules.access import Bound
from service.members.signin.limits import limits_of
from service.members.signin.origins import SAFE_METHODS, check_change, read_form

SESSION_COOKIE = "club_session"
ON_BEHALF_OF = "on_behalf_of"  # the field of a form

# For the API's description. As dependencies, each would be asked with every request, for nothing: `_who` reads both itself.
WAYS_IN: dict[str, dict[str, str]] = {
    "token": {
        "type": "http",
        "scheme": "bearer",
        "description": "An API token, as `Authorization: Bearer …`.",
    },
    "session": {
        "type": "apiKey",
        "in": "cookie",
        "name": SESSION_COOKIE,
        "description": "The cookie of a signed-in browser.",
    },
}


@dataclass(frozen=True)
class Asker:
    """Somebody known who asks: their account, party, what they may do, and for whom they act."""

    account_id: UUID
    party_id: UUID
    name: str
    roles: frozenset[Role]
    may: frozenset[May]
    acting_for_id: UUID
    via: str = "session"
    csrf_token: str = ""
    credential_id: UUID | None = None
    bound: Bound | None = None  # a token that writes for one thing alone


async def _who(
    request: Request,
    on_behalf_of: Annotated[
        UUID | None,
        Header(alias="On-Behalf-Of", description="The party this is done for, where you may act for others."),
    ] = None,
) -> Asker | None:
    """Who asks, in one statement; None where nobody known does."""
    told = request.headers.get("authorization")
    cookie = request.cookies.get(SESSION_COOKIE)
    if told is not None:
        return await _by_token(request, told, on_behalf_of)
    unsafe = request.method not in SAFE_METHODS
    form = await read_form(request) if unsafe else None
    if not cookie:
        return None
    typed = _other_in(form)
    other_id = on_behalf_of or (UUID(typed) if _is_id(typed) else None)
    known = await _look_up(request, queries.known_by_session, cookie, other_id)
    now = request.app.state.clock.now()
    if known is None or known.ended or _is_over(known, now):
        request.state.sign_in_ended = True
        return None
    if unsafe:
        request.state.csrf_token, request.state.signed_in_as = known.csrf_token, known.name
        check_change(request, form, known.csrf_token)
    asker = _known_to(request, _asker(known, may_of(known.roles), via="session"), known, other_id)
    if typed and other_id is None:
        asker = await _for_named(request, asker, typed)
    return asker


async def _by_token(request: Request, told: str, other_id: UUID | None) -> Asker:
    scheme, _, secret = told.partition(" ")
    if scheme.lower() != "bearer" or not secret.strip():
        raise TokenNotGood("Send the token as 'Authorization: Bearer' and the token.")
    known = await _look_up(request, queries.known_by_token, secret.strip(), other_id)
    now = request.app.state.clock.now()
    if known is None:
        raise TokenNotGood("No such token was ever made here.")
    if known.ended:
        raise TokenNotGood("This token was revoked.")
    if _is_over(known, now):
        raise TokenNotGood(f"This token was good until {minute_words(known.expires_at)}.")
    limits_of(request).take_token(str(known.credential_id))
    if known.bound is not None and request.method not in SAFE_METHODS:
        known.bound.check_writes(request.method, request.scope["path"])
    today = local_day(now, "UTC")
    if known.last_used_on != today:
        # Knowing the day a token was last used is not worth failing a read for.
        with contextlib.suppress(NotSaved):
            await request.app.state.writer.write(actions.mark_token_used, None, known.credential_id, today)
    asker = _asker(known, may_of(known.roles) & (known.scopes or frozenset()), via="token")
    return _known_to(request, asker, known, other_id)


def _is_over(known: Known, now: datetime) -> bool:
    return known.expires_at is not None and known.expires_at <= now


async def _look_up(request: Request, query: Any, secret: str, other_id: UUID | None) -> Known | None:
    database: Database = request.app.state.database

    def look() -> Known | None:
        # A bare connection: a session around one question costs as much as the question.
        with database.reader.connect() as connection:
            found: Known | None = query(connection, digest_of(secret), other_id)
            return found

    # A short indexed read: inline where no network is waited for.
    return look() if database.is_sqlite else await anyio.to_thread.run_sync(look)


def _other_in(form: FormData | None) -> str:
    """For whom a form of a page says that it is: an id, or a name as it was typed."""
    told = form.get(ON_BEHALF_OF) if form is not None else None
    return told.strip() if isinstance(told, str) else ""


def _is_id(told: str) -> bool:
    try:
        return bool(UUID(told))
    except ValueError:
        return False


async def _for_named(request: Request, asker: Asker, typed: str) -> Asker:
    """Names are looked up only for those who may act for others, and see the names on the form."""
    if May.ACT_FOR not in asker.may:
        raise CannotActFor(lacking(May.ACT_FOR), right=May.ACT_FOR.value)

    def look() -> UUID:
        with request.app.state.database.reading() as session:
            return queries.party_named(session, typed, ON_BEHALF_OF)

    request.state.acting_for_id = await anyio.to_thread.run_sync(look)
    return replace(asker, acting_for_id=request.state.acting_for_id)


def _known_to(request: Request, asker: Asker, known: Known, other_id: UUID | None) -> Asker:
    # Kept with the request before anything is refused, so that a page of what went wrong knows whom it is shown to.
    request.state.asker, request.state.acting_for_id = asker, asker.acting_for_id
    if other_id is not None:
        asker = _for_other(asker, other_id, is_known=known.other_is_known)
        request.state.acting_for_id = asker.acting_for_id
    return asker


def find_asker(request: Request) -> Asker | None:
    """Who is signed in at this browser, for a page made outside any route (an address that leads nowhere)."""
    asker: Asker | None = getattr(request.state, "asker", None)
    cookie = request.cookies.get(SESSION_COOKIE)
    if asker is not None or not cookie:
        return asker
    with request.app.state.database.reading() as session:
        known = queries.known_by_session(session, digest_of(cookie), None)
    if known is None or known.ended or _is_over(known, request.app.state.clock.now()):
        return None
    return _asker(known, may_of(known.roles), via="session")


def _asker(known: Known, rights: frozenset[May], *, via: str) -> Asker:
    return Asker(
        account_id=known.account_id, party_id=known.party_id, name=known.name, roles=known.roles, may=rights,
        acting_for_id=known.party_id, via=via, csrf_token=known.csrf_token, credential_id=known.credential_id, bound=known.bound,
    )  # fmt: skip


def _for_other(asker: Asker, other_id: UUID, *, is_known: bool) -> Asker:
    if other_id == asker.party_id:
        return asker
    if May.ACT_FOR not in asker.may:
        raise CannotActFor(lacking(May.ACT_FOR), right=May.ACT_FOR.value)
    if not is_known:
        raise UnknownParty("Nobody goes by this id, or they were forgotten.", field=ON_BEHALF_OF)
    return replace(asker, acting_for_id=other_id)


MaybeSignedIn = Annotated[Asker | None, Depends(_who)]


async def _signed_in(request: Request, asker: MaybeSignedIn) -> Asker:
    return _known_or_refused(request, asker)


def _known_or_refused(request: Request, asker: Asker | None) -> Asker:
    if asker is None:
        if getattr(request.state, "sign_in_ended", False):
            raise SignInEnded("It was signed out, revoked, or is older than thirty days.")
        raise NotSignedIn
    return asker


SignedIn = Annotated[Asker, Depends(_signed_in)]


async def _at_browser(asker: SignedIn) -> Asker:
    if asker.via != "session":
        raise NeedsBrowser("Passwords, sessions and tokens are looked after by a signed-in person only.")
    return asker


AtBrowser = Annotated[Asker, Depends(_at_browser)]


def may(*rights: May, to: str = "") -> Any:
    """A dependency: the member who asks, refused unless they may do one of these; `to`: what for, where the rights do not say."""

    async def allowed(request: Request, asker: MaybeSignedIn) -> Asker:
        asker = _known_or_refused(request, asker)
        if asker.may.isdisjoint(rights):
            if asker.via == "token" and not may_of(asker.roles).isdisjoint(rights):
                raise TokenLacksScope(
                    f"It was made without '{rights[0].value}'; you yourself may do it.", right=rights[0].value
                )
            raise NotAllowed(lacking(*rights, to=to), right=rights[0].value)
        return asker

    allowed.__rights__ = rights  # type: ignore[attr-defined]
    return Depends(allowed)


def who_may(calls: Iterable[object]) -> str:
    """Whom a route lets in, told by what it depends on."""
    known = list(calls)
    for call in known:
        rights: tuple[May, ...] | None = getattr(call, "__rights__", None)
        if rights is not None:
            roles = [role.value.replace("_", " ") for role in Role if not ROLE_MAY[role].isdisjoint(rights)]
            named = ", ".join(f"`{right.value}`" for right in rights)
            return f"{', '.join(roles)} (the right {named})"
    if _at_browser in known:
        return "whoever is signed in at a browser; no token"
    if _signed_in in known:
        return "whoever is signed in"
    return "anybody; who is signed in is told more" if _who in known else "anybody"
