"""The address under which somebody's own calendar reads their dates."""

from __future__ import annotations

import secrets
from uuid import UUID

from sqlalchemy import delete
from sqlmodel import Session, col

from service.lib.write import once_only, recorded_at
from service.members.rules import Member, digest_of
from service.members.schemas import CalendarAddressMade
from service.members.tables import CalendarAddress


def calendar_path(secret: str) -> str:
    return f"/calendar/{secret}.ics"


@once_only
def make_calendar_address(session: Session, member: Member) -> CalendarAddressMade:
    """A new address, in this answer and nowhere else; the one before leads nowhere from now on."""
    drop_calendar_address(session, member.account_id)
    secret, now = secrets.token_urlsafe(32), recorded_at(session)
    session.add(CalendarAddress(account_id=member.account_id, secret_sha256=digest_of(secret), made_at=now))
    session.flush()
    return CalendarAddressMade(path=calendar_path(secret), made_at=now)


def take_back_calendar_address(session: Session, member: Member) -> None:
    """Twice does no harm."""
    drop_calendar_address(session, member.account_id)


def drop_calendar_address(session: Session, account_id: UUID) -> None:
    session.execute(
        delete(CalendarAddress)
        .where(col(CalendarAddress.account_id) == account_id)
        .execution_options(synchronize_session=False)
    )
