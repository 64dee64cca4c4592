"""Accounts, sessions, tokens and invitations: who is behind a secret."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Select, Uuid, bindparam, func, null, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.lib.database import metadata
from service.lib.errors import NotFound
from service.lib.paging import Page, Paging, page_of
from service.members.queries.people import read_roles
from service.members.rules import InvitationFacts, May, Role, state_of_invitation
from service.members.rules.access import Bound, BoundTo
from service.members.schemas import InvitationRead, SessionSummary, TokenRead
from service.members.tables import Account, ApiToken, Invitation, Party, PartyRole, SignIn


@dataclass(frozen=True)
class Known:
    """Who stands behind a session or a token, and the party they want to act for."""

    credential_id: UUID
    account_id: UUID
    party_id: UUID
    name: str
    roles: frozenset[Role]
    expires_at: datetime | None
    ended: bool  # revoked, or the account is closed
    csrf_token: str = ""
    scopes: frozenset[May] | None = None
    last_used_on: date | None = None
    other_is_known: bool = False
    bound: Bound | None = None


@dataclass(frozen=True)
class AccountFacts:
    id: UUID
    party_id: UUID
    name: str
    sign_in_name: str
    password_hash: str
    disabled: bool
    version: int


@cache
def _known(credential: Any, extra: tuple[str, ...], *, for_other: bool) -> Select[Any]:
    """Built once and kept: it runs before every signed-in request, and building it takes longer than running it."""
    other = aliased(Party)
    roles = select(func.aggregate_strings(col(PartyRole.role), ",")).where(
        col(PartyRole.party_id) == col(Party.id)
    )
    statement = (
        select(
            credential.id.label("credential_id"), credential.expires_at, credential.revoked_at,
            *(getattr(credential, name) for name in extra),
            Account.id.label("account_id"), Account.disabled_at, Party.id.label("party_id"), Party.name,  # type: ignore[attr-defined]
            roles.correlate(Party).scalar_subquery().label("roles"),
            (col(other.id) if for_other else null()).label("other_id"),
        )
        .join(Account, col(Account.id) == credential.account_id)
        .join(Party, col(Party.id) == col(Account.party_id))
        .where(credential.token_sha256 == bindparam("digest"))
    )  # fmt: skip
    if not for_other:
        return statement
    asked = bindparam("other_id", type_=Uuid())
    return statement.outerjoin(other, (col(other.id) == asked) & col(other.forgotten_at).is_(None))


def _look_up(
    session: Session | Connection, credential: Any, extra: tuple[str, ...], digest: str, other_id: UUID | None
) -> Any:
    asked = {"digest": digest} if other_id is None else {"digest": digest, "other_id": other_id}
    return session.execute(_known(credential, extra, for_other=other_id is not None), asked).first()


def _as_known(row: Any, **more: Any) -> Known:
    return Known(
        credential_id=row.credential_id, account_id=row.account_id, party_id=row.party_id, name=row.name,
        roles=frozenset(read_roles(row.roles)), expires_at=row.expires_at,
        ended=row.revoked_at is not None or row.disabled_at is not None, other_is_known=row.other_id is not None, **more,
    )  # fmt: skip


def known_by_session(session: Session | Connection, digest: str, other_id: UUID | None) -> Known | None:
    """Who signed in with this token, in one statement."""
    row = _look_up(session, SignIn, ("csrf_token",), digest, other_id)
    return None if row is None else _as_known(row, csrf_token=row.csrf_token)


def known_by_token(session: Session | Connection, digest: str, other_id: UUID | None) -> Known | None:
    """Whose API token this is, in one statement."""
    row = _look_up(session, ApiToken, ("scopes", "last_used_on", "bound_kind", "bound_id"), digest, other_id)
    return (
        None
        if row is None
        else _as_known(
            row,
            scopes=read_scopes(row.scopes),
            last_used_on=row.last_used_on,
            bound=Bound(BoundTo(row.bound_kind), row.bound_id) if row.bound_kind else None,
        )
    )


def can_bind_to(session: Session, kind: BoundTo, one: UUID) -> bool:
    """Whether there is such a logger, store or site; they belong to later stages, so their tables are known by name alone."""
    table = metadata.tables[kind.value]
    return session.execute(select(table.c.id).where(table.c.id == one)).first() is not None


def read_scopes(joined: str) -> frozenset[May]:
    return frozenset(May(word) for word in joined.split(",") if word)


def any_account(session: Session) -> bool:
    return session.execute(select(Account.id).limit(1)).first() is not None


def _accounts() -> Select[Any]:
    return select(  # type: ignore[no-any-return]
        Account.id,
        Account.party_id,
        Account.sign_in_name,
        Account.password_hash,
        Account.disabled_at,
        Account.version,
        Party.name,
    ).join(Party, col(Party.id) == col(Account.party_id))  # type: ignore[call-overload]


def _account(row: Any) -> AccountFacts | None:
    if row is None:
        return None
    return AccountFacts(
        row.id,
        row.party_id,
        row.name,
        row.sign_in_name,
        row.password_hash,
        row.disabled_at is not None,
        row.version,
    )


def find_account(session: Session, sign_in_folded: str) -> AccountFacts | None:
    return _account(session.execute(_accounts().where(col(Account.sign_in_folded) == sign_in_folded)).first())


def find_account_by_id(session: Session, account_id: UUID) -> AccountFacts | None:
    return _account(session.execute(_accounts().where(col(Account.id) == account_id)).first())


def list_sessions(
    session: Session, account_id: UUID, this: UUID | None, now: datetime
) -> list[SessionSummary]:
    """Where somebody is signed in now, the newest first."""
    rows = session.execute(
        select(SignIn.id, SignIn.device, SignIn.created_at, SignIn.expires_at)  # type: ignore[call-overload]
        .where(
            col(SignIn.account_id) == account_id,
            col(SignIn.revoked_at).is_(None),
            col(SignIn.expires_at) > now,
        )
        .order_by(col(SignIn.created_at).desc(), col(SignIn.id))
        .limit(200)
    )
    return [SessionSummary(**row._asdict(), is_this=row.id == this) for row in rows]


def list_tokens(session: Session, account_id: UUID) -> list[TokenRead]:
    """Somebody's tokens, also those that are over, the newest first."""
    columns: list[Any] = [
        ApiToken.id, ApiToken.name, ApiToken.scopes, ApiToken.created_at, ApiToken.expires_at, ApiToken.last_used_on,
        ApiToken.revoked_at, ApiToken.bound_kind, ApiToken.bound_id,
    ]  # fmt: skip
    rows = session.execute(
        select(*columns)
        .where(col(ApiToken.account_id) == account_id)
        .order_by(col(ApiToken.created_at).desc(), col(ApiToken.id))
        .limit(200)
    )
    return [TokenRead(**{**row._asdict(), "scopes": sorted(read_scopes(row.scopes))}) for row in rows]


def find_invitation(session: Session, digest: str) -> InvitationFacts | None:
    """What an invitation's token leads to."""
    columns: list[Any] = [
        Invitation.id, Invitation.party_id, Invitation.roles, Invitation.expires_at, Invitation.used_at,
        Invitation.revoked_at, Invitation.made_by_party_id,
        Party.name, Party.forgotten_at, col(Account.id).label("account_id"), Account.sign_in_name,
    ]  # fmt: skip
    row = session.execute(
        select(*columns)
        .outerjoin(Party, col(Party.id) == col(Invitation.party_id))
        .outerjoin(Account, col(Account.party_id) == col(Invitation.party_id))
        .where(col(Invitation.token_sha256) == digest)
    ).first()
    if row is None:
        return None
    return InvitationFacts(
        id=row.id, party_id=row.party_id, party_name=row.name or "", roles=read_roles(row.roles), expires_at=row.expires_at,
        used_at=row.used_at, revoked_at=row.revoked_at, account_id=row.account_id, sign_in_name=row.sign_in_name or "",
        party_forgotten=row.forgotten_at is not None, is_first=row.made_by_party_id is None,
    )  # fmt: skip


def _invitations() -> Select[Any]:
    return select(  # type: ignore[no-any-return]
        Invitation.id, Invitation.party_id, Invitation.roles, Invitation.note, Invitation.created_at, Invitation.expires_at,
        Invitation.used_at, Invitation.revoked_at, Party.name,
    ).outerjoin(Party, col(Party.id) == col(Invitation.party_id))  # type: ignore[call-overload]  # fmt: skip


def _invitation(row: Any, now: datetime) -> InvitationRead:
    return InvitationRead(
        id=row.id, party_id=row.party_id, party_name=row.name or "", roles=list(read_roles(row.roles)), note=row.note,
        created_at=row.created_at, expires_at=row.expires_at,
        state=state_of_invitation(row.used_at, row.revoked_at, row.expires_at, now),
    )  # fmt: skip


def get_invitation(session: Session, invitation_id: UUID, now: datetime) -> InvitationRead:
    row = session.execute(_invitations().where(col(Invitation.id) == invitation_id)).first()
    if row is None:
        raise NotFound("There is no such invitation.", id=str(invitation_id))
    return _invitation(row, now)


def list_invitations(session: Session, paging: Paging, now: datetime) -> Page[InvitationRead]:
    """All invitations, the newest first."""
    keys = [(col(Invitation.created_at), True), (col(Invitation.id), False)]
    return page_of(session, _invitations(), keys, paging, lambda row: _invitation(row, now))
