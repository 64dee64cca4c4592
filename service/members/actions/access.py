"""Signing in and out, passwords, and tokens for programs."""

from __future__ import annotations

import secrets
from datetime import date, timedelta
from uuid import UUID

from sqlalchemy import delete, or_, select, update
from sqlmodel import Session, col

from service.lib.clock import minute_words
from service.lib.database import new_id
from service.lib.errors import NotFound, Stale
from service.lib.write import once_only, recorded_at
from service.members.queries.access import can_bind_to
from service.members.rules import EndsInThePast, Member, check_scopes, digest_of, sign_in_until
from service.members.rules.access import NothingToBindTo, check_bond_fits
from service.members.schemas import SignedInNow, TokenCreate, TokenMade
from service.members.tables import Account, ApiToken, SignIn

_NO_SYNC = {"synchronize_session": False}
KEPT_AFTER_END = timedelta(days=30)


def start_sign_in(session: Session, account_id: UUID, party_id: UUID, device: str) -> SignedInNow:
    """A new session of an account; what ended long ago is swept out on the way."""
    now = recorded_at(session)
    long_ago = now - KEPT_AFTER_END
    over = or_(col(SignIn.expires_at) < long_ago, col(SignIn.revoked_at) < long_ago)
    session.execute(
        delete(SignIn).where(col(SignIn.account_id) == account_id, over).execution_options(**_NO_SYNC)
    )
    made = SignedInNow(
        id=new_id(), account_id=account_id, party_id=party_id, token=secrets.token_urlsafe(32),
        csrf_token=secrets.token_urlsafe(24), expires_at=sign_in_until(now),
    )  # fmt: skip
    session.add(
        SignIn(
            id=made.id, account_id=account_id, token_sha256=digest_of(made.token), csrf_token=made.csrf_token,
            device=device[:300], created_at=now, expires_at=made.expires_at,
        )
    )  # fmt: skip
    return made


def end_sign_in(session: Session, member: Member, sign_in_id: UUID) -> None:
    """Sign out one of one's own browsers. Raises `NotFound`."""
    ended = session.execute(
        update(SignIn)
        .where(
            col(SignIn.id) == sign_in_id,
            col(SignIn.account_id) == member.account_id,
            col(SignIn.revoked_at).is_(None),
        )
        .values(revoked_at=recorded_at(session))
        .returning(SignIn.id)  # type: ignore[call-overload]
        .execution_options(**_NO_SYNC)
    ).first()
    if ended is None:
        raise NotFound("You are not signed in there.", id=str(sign_in_id))


def end_all_sign_ins(session: Session, member: Member) -> None:
    """Sign out everywhere."""
    revoke_sign_ins(session, member.account_id)


def revoke_sign_ins(session: Session, account_id: UUID) -> None:
    session.execute(
        update(SignIn)
        .where(col(SignIn.account_id) == account_id, col(SignIn.revoked_at).is_(None))
        .values(revoked_at=recorded_at(session))
        .execution_options(**_NO_SYNC)
    )


def renew_password_hash(session: Session, account_id: UUID, old_hash: str, new_hash: str) -> None:
    """The same password under newer parameters; nothing where it was changed meanwhile."""
    session.execute(
        update(Account)
        .where(col(Account.id) == account_id, col(Account.password_hash) == old_hash)
        .values(password_hash=new_hash)
        .execution_options(**_NO_SYNC)
    )


def change_password(
    session: Session, member: Member, old_hash: str, new_hash: str, device: str
) -> SignedInNow:
    """A new password: signed out everywhere, and signed in afresh here."""
    changed = session.execute(
        update(Account)
        .where(col(Account.id) == member.account_id, col(Account.password_hash) == old_hash)
        .values(password_hash=new_hash, version=Account.version + 1)
        .returning(Account.id)  # type: ignore[call-overload]
        .execution_options(**_NO_SYNC)
    ).first()
    if changed is None:
        raise Stale("Your password was changed at the same moment elsewhere.")
    revoke_sign_ins(session, member.account_id)
    return start_sign_in(session, member.account_id, member.party_id, device)


@once_only
def make_token(session: Session, member: Member, body: TokenCreate) -> TokenMade:
    """A token for a program; its text is in this answer and nowhere else.

    Raises `ScopeNotYours`, `EndsInThePast`, `BondDoesNotFit`, `NothingToBindTo`.
    """
    check_scopes(member.may, body.scopes)
    _check_bond(session, body)
    now = recorded_at(session)
    if body.expires_at is not None and body.expires_at <= now:
        raise EndsInThePast(f"{minute_words(body.expires_at)} lies behind us.", field="expires_at")
    scopes = sorted(set(body.scopes))
    text = secrets.token_urlsafe(32)
    row = ApiToken(
        id=body.id or new_id(), account_id=member.account_id, name=body.name, token_sha256=digest_of(text),
        scopes=",".join(scopes), created_at=now, expires_at=body.expires_at, bound_kind=body.bound_kind, bound_id=body.bound_id,
    )  # fmt: skip
    session.add(row)
    return TokenMade(
        id=row.id,
        name=row.name,
        scopes=scopes,
        created_at=now,
        expires_at=body.expires_at,
        last_used_on=None,
        revoked_at=None,
        bound_kind=body.bound_kind,
        bound_id=body.bound_id,
        token=text,
    )


def _check_bond(session: Session, body: TokenCreate) -> None:
    check_bond_fits(body.bound_kind, body.scopes)
    if body.bound_kind and body.bound_id and not can_bind_to(session, body.bound_kind, body.bound_id):
        raise NothingToBindTo(f"There is no {body.bound_kind.value} under this id.", field="bound_id")


def revoke_token(session: Session, member: Member, token_id: UUID) -> None:
    """End one of one's own tokens; twice does no harm. Raises `NotFound`."""
    own = (col(ApiToken.id) == token_id, col(ApiToken.account_id) == member.account_id)
    ended = session.execute(
        update(ApiToken)
        .where(*own, col(ApiToken.revoked_at).is_(None))
        .values(revoked_at=recorded_at(session))
        .returning(ApiToken.id)  # type: ignore[call-overload]
        .execution_options(**_NO_SYNC)
    ).first()
    if ended is None and session.execute(select(col(ApiToken.id)).where(*own)).first() is None:
        raise NotFound("You have no such token.", id=str(token_id))


def mark_token_used(session: Session, token_id: UUID, day: date) -> None:
    session.execute(
        update(ApiToken)
        .where(col(ApiToken.id) == token_id)
        .values(last_used_on=day)
        .execution_options(**_NO_SYNC)
    )
