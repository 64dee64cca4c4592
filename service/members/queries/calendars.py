"""Whose calendar an address is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from sqlalchemy import func, select
from sqlmodel import Session, col

from service.members.queries.people import read_roles
from service.members.rules import May, Role, may_of
from service.members.tables import Account, CalendarAddress, Club, Party, PartyRole


@dataclass(frozen=True)
class CalendarReader:
    """Somebody whose calendar reads their dates, with what they may see by now, and the club's zone and name."""

    party_id: UUID
    roles: frozenset[Role]
    may: frozenset[May]
    zone: str
    club_name: str
    exchange_on: date | None
    grafting_on: date | None


def find_calendar_reader(session: Session, digest: str) -> CalendarReader | None:
    """None for an address that was never made or leads nowhere any more; one statement."""
    roles = (
        select(func.aggregate_strings(col(PartyRole.role), ","))
        .where(col(PartyRole.party_id) == col(Party.id))
        .correlate(Party)
        .scalar_subquery()
    )
    row = session.execute(
        select(
            col(Party.id), roles.label("roles"), col(Club.zone), col(Club.name).label("club_name"), col(Club.exchange_on),
            col(Club.grafting_on),
        )
        .select_from(CalendarAddress)
        .join(Account, col(Account.id) == col(CalendarAddress.account_id))
        .join(Party, col(Party.id) == col(Account.party_id))
        .outerjoin(Club, col(Club.id) == 1)
        .where(
            col(CalendarAddress.secret_sha256) == digest,
            col(Account.disabled_at).is_(None),
            col(Party.forgotten_at).is_(None),
        )
    ).first()  # fmt: skip
    if row is None:
        return None
    has = frozenset(read_roles(row.roles))
    return CalendarReader(
        row.id, has, may_of(has), row.zone or "UTC", row.club_name or "", row.exchange_on, row.grafting_on
    )


def calendar_made_at(session: Session, account_id: UUID) -> datetime | None:
    """When somebody made their calendar's address; None where they have none. One statement."""
    statement = select(col(CalendarAddress.made_at)).where(col(CalendarAddress.account_id) == account_id)
    return session.execute(statement).scalar_one_or_none()
