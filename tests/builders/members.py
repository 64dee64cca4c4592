"""People: areas, parties, and members who can be asked with and signed in."""

from __future__ import annotations

from datetime import datetime
from functools import lru_cache
from uuid import UUID, uuid4

from pwdlib.hashers.argon2 import Argon2Hasher
from sqlmodel import Session

from service.lib.write import Writer, recorded_at
from service.members import actions, queries
from service.members.rules import May, PartyKind, Role, fold_person, in_order, may_of
from service.members.schemas import (
    AreaCreate,
    AreaPermitCreate,
    AreaPermitRead,
    AreaRead,
    InvitationCreate,
    InvitationMade,
    PartyCreate,
    PartyRead,
    SignedInNow,
    TokenCreate,
    TokenMade,
)
from service.members.signin import Asker
from service.members.tables import Account, Party, PartyRole

PASSWORD = "rowan ladder frost twine"
_SOMEBODY = UUID("00000000-0000-4000-8000-000000000001")

# Writes what a test needs without being anybody in the record.
OFFICE = Asker(
    account_id=_SOMEBODY, party_id=_SOMEBODY, name="The office", roles=frozenset(Role),
    may=frozenset(May), acting_for_id=_SOMEBODY,
)  # fmt: skip


@lru_cache(maxsize=1)
def quick_hash() -> str:
    """A hash of `PASSWORD` with parameters that cost a test nothing."""
    return Argon2Hasher(time_cost=1, memory_cost=8, parallelism=1).hash(PASSWORD)


def make_area(writer: Writer, name: str = "North Vale", **told: object) -> AreaRead:
    return writer.write_now(actions.add_areas, OFFICE, [AreaCreate(name=name, **told)])[0]


def make_party(
    writer: Writer, name: str = "Marta Quill", kind: PartyKind = PartyKind.MEMBER, **told: object
) -> PartyRead:
    return writer.write_now(actions.add_parties, OFFICE, [PartyCreate(name=name, kind=kind, **told)])[0]


def make_permit(
    writer: Writer, member: Asker, from_area: UUID, to_area: UUID, **told: object
) -> AreaPermitRead:
    known = {"reference": "PH 26/104", "allows": True, "answered_on": "2026-02-01", **told}
    body = AreaPermitCreate(from_area_id=from_area, to_area_id=to_area, **known)
    return writer.write_now(actions.record_permits, member, [body])[0]


def make_asker(
    writer: Writer,
    *roles: Role,
    name: str = "",
    kind: PartyKind = PartyKind.MEMBER,
    area_id: UUID | None = None,
) -> Asker:
    """A party with an account (its name to sign in with is `name`) and these roles."""
    asker = new_asker(*roles, name=name)
    writer.write_now(_add_asker, None, asker, kind, area_id)
    return asker


def new_asker(*roles: Role, name: str = "") -> Asker:
    """An asker whom no database knows yet."""
    party_id = uuid4()
    told = name or f"{' and '.join(in_order(roles)) or 'guest'} {party_id.hex[:6]}"
    return Asker(
        account_id=uuid4(), party_id=party_id, name=told, roles=frozenset(roles), may=may_of(roles),
        acting_for_id=party_id,
    )  # fmt: skip


def add_asker(session: Session, asker: Asker, now: datetime, kind: PartyKind = PartyKind.MEMBER) -> None:
    """Write an asker's party, account and roles with a session of one's own."""
    _rows_of(session, asker, kind, None, now)


def _add_asker(session: Session, asker: Asker, kind: PartyKind, area_id: UUID | None) -> None:
    _rows_of(session, asker, kind, area_id, recorded_at(session))


def _rows_of(session: Session, asker: Asker, kind: PartyKind, area_id: UUID | None, now: datetime) -> None:
    session.add(
        Party(
            id=asker.party_id, kind=kind.value, name=asker.name, name_folded=fold_person(asker.name),
            area_id=area_id, created_at=now,
        )
    )  # fmt: skip
    session.flush()
    session.add(
        Account(
            id=asker.account_id, party_id=asker.party_id, sign_in_name=asker.name,
            sign_in_folded=fold_person(asker.name), password_hash=quick_hash(), created_at=now,
        )
    )  # fmt: skip
    session.add_all(PartyRole(party_id=asker.party_id, role=role.value, given_at=now) for role in asker.roles)
    session.flush()


def make_session(writer: Writer, asker: Asker, device: str = "a test's browser") -> SignedInNow:
    """Sign an asker in without a password: the token goes into the cookie, the csrf token into forms."""
    return writer.write_now(actions.start_sign_in, None, asker.account_id, asker.party_id, device)


def make_token(
    writer: Writer, asker: Asker, *scopes: May, expires_at: datetime | None = None, name: str = "a script"
) -> TokenMade:
    body = TokenCreate(name=name, scopes=list(scopes or asker.may), expires_at=expires_at)
    return writer.write_now(actions.make_token, asker, body)


def calendar_secret(writer: Writer, asker: Asker) -> str:
    """The secret of the address under which an asker's calendar reads their dates, made anew."""
    path = writer.write_now(actions.make_calendar_address, asker).path
    return path.removeprefix("/calendar/").removesuffix(".ics")


def make_invitation(writer: Writer, asker: Asker, **told: object) -> InvitationMade:
    return writer.write_now(actions.make_invitation, asker, InvitationCreate(**told))


def party_version(writer: Writer, party_id: UUID) -> int:
    with writer.database.reading() as session:
        return queries.get_party(session, party_id).version
