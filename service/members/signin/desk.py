"""Signing in, accepting an invitation, a new password: hashed outside the writer, saved inside it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import anyio.to_thread
from fastapi import Request, Response
from sqlmodel import Session

from service.lib.errors import NotFound
from service.members import actions, queries
from service.members.queries import AccountFacts, CalendarReader
from service.members.rules import (
    SIGN_IN_DAYS,
    InvitationFacts,
    WrongPassword,
    WrongSignIn,
    check_can_accept,
    check_password,
    digest_of,
    fold_person,
    name_device,
)
from service.members.schemas import InvitationAccept, PasswordUpdate, SessionCreate, SignedInNow
from service.members.signin.asker import SESSION_COOKIE, Asker
from service.members.signin.limits import address_of, limits_of
from service.members.signin.origins import check_origin
from service.members.signin.passwords import NOBODYS_HASH

T = TypeVar("T")


def set_session_cookie(request: Request, response: Response, signed_in: SignedInNow) -> None:
    response.set_cookie(
        SESSION_COOKIE, signed_in.token, max_age=SIGN_IN_DAYS * 86_400, path="/",
        httponly=True, samesite="lax", secure=request.app.state.settings.secure_cookies,
    )  # fmt: skip
    response.headers["Cache-Control"] = "no-store"


def clear_session_cookie(request: Request, response: Response) -> None:
    response.delete_cookie(
        SESSION_COOKIE,
        path="/",
        httponly=True,
        samesite="lax",
        secure=request.app.state.settings.secure_cookies,
    )


async def sign_in(request: Request, body: SessionCreate) -> SignedInNow:
    """A new session for a name and a password. Raises `WrongSignIn`, `TooMany`, `WrongOrigin`."""
    check_origin(request)
    limits, address, folded = limits_of(request), address_of(request), fold_person(body.name)
    limits.check_address(address)
    limits.take_name(folded)
    account = await _read(request, queries.find_account, folded)
    await _verify(request, account, body.password, address)
    assert account is not None
    limits.clear_name(folded)
    return await request.app.state.writer.write(  # type: ignore[no-any-return]
        actions.start_sign_in, None, account.id, account.party_id, _device(request)
    )


async def _verify(request: Request, account: AccountFacts | None, password: str, address: str) -> None:
    """Take the same time for a name nobody has. Raises `WrongSignIn`."""
    limits = limits_of(request)
    usable = account is not None and not account.disabled
    kept = account.password_hash if account is not None and usable else NOBODYS_HASH
    right, renewed = await limits.hashing.verify(password, kept)
    if not right or not usable or account is None:
        limits.count_failure(address)
        raise WrongSignIn("No account has this name and password.")
    if renewed is not None:
        await request.app.state.writer.write(actions.renew_password_hash, None, account.id, kept, renewed)


async def find_open_invitation(request: Request, token: str) -> InvitationFacts:
    """The invitation behind a link, if it can be used. Raises `NotFound`, `InvitationGone`, `TooMany`."""
    limits, address = limits_of(request), address_of(request)
    limits.check_address(address)
    invitation = await _read(request, queries.find_invitation, digest_of(token))
    if invitation is None:
        limits.count_failure(address)
        raise NotFound(
            "There is no such invitation.", todo="Check that the whole link was copied, or ask for a new one."
        )
    check_can_accept(invitation, request.app.state.clock.now())
    return invitation


def find_calendar_reader(request: Request, session: Session, secret: str) -> CalendarReader:
    """Whose calendar reads its dates under an address. Raises `NotFound`, `TooMany`."""
    limits, address, digest = limits_of(request), address_of(request), digest_of(secret)
    limits.check_address(address)
    reader = queries.find_calendar_reader(session, digest)
    if reader is None:
        limits.count_failure(address)
        raise NotFound(
            "There is no calendar at this address, or it was taken back.",
            todo="Make a new address on your account page, and give that one to your calendar.",
        )
    limits.take_calendar(digest)
    return reader


async def accept_invitation(request: Request, body: InvitationAccept) -> SignedInNow:
    """Use an invitation and sign in with what it made. Raises what its action raises, `WeakPassword`, `TooMany`."""
    check_origin(request)
    invitation = await find_open_invitation(request, body.token)
    check_password(
        body.password, (body.name, body.sign_in_name, invitation.party_name, invitation.sign_in_name)
    )
    kept = await limits_of(request).hashing.hash(body.password)
    return await request.app.state.writer.write(  # type: ignore[no-any-return]
        actions.accept_invitation, None, body, kept, _device(request)
    )


async def change_password(request: Request, asker: Asker, body: PasswordUpdate) -> SignedInNow:
    """A new password; every session ends, and a new one begins here. Raises `WrongPassword`, `WeakPassword`."""
    limits, address = limits_of(request), address_of(request)
    limits.check_address(address)
    account = await _read(request, queries.find_account_by_id, asker.account_id)
    assert account is not None
    limits.take_name(fold_person(account.sign_in_name))
    check_password(body.password, (asker.name, account.sign_in_name))
    right, _renewed = await limits.hashing.verify(body.old_password, account.password_hash)
    if not right:
        limits.count_failure(address)
        raise WrongPassword("What you typed as your present password is not it.", field="old_password")
    kept = await limits.hashing.hash(body.password)
    return await request.app.state.writer.write(  # type: ignore[no-any-return]
        actions.change_password, asker, account.password_hash, kept, _device(request)
    )


async def _read(request: Request, query: Callable[..., T], *args: Any) -> T:
    def read() -> T:
        session: Session
        with request.app.state.database.reading() as session:
            return query(session, *args)

    return await anyio.to_thread.run_sync(read)


def _device(request: Request) -> str:
    """How people know their sessions apart."""
    return name_device(request.headers.get("user-agent", ""))
