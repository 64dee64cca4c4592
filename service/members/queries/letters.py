"""Letters that the service wrote to people."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Select, func, select
from sqlmodel import Session, col

from service.lib.paging import Page, Paging, page_of
from service.members.rules import LetterKind, MailState
from service.members.schemas import LetterRead
from service.members.tables import Letter, Party


@dataclass(frozen=True)
class LetterToMail:
    """A letter with the address it goes to today."""

    id: UUID
    subject: str
    text: str
    path: str
    made_at: datetime
    email: str
    wanted: bool


def mail_addresses(session: Session, party_ids: Iterable[UUID]) -> dict[UUID, tuple[str, bool]]:
    """E-mail of each, and whether they want mail; the forgotten are left out. One statement."""
    rows = session.execute(
        select(Party.id, Party.email, Party.mail_wanted).where(
            col(Party.id).in_(set(party_ids)), col(Party.forgotten_at).is_(None)
        )
    )
    return {row.id: (row.email, row.mail_wanted) for row in rows}


def letter_to_mail(session: Session, letter_id: UUID) -> LetterToMail | None:
    """None where it is gone, or not waiting for its mail any more; one statement."""
    row = session.execute(
        select(
            Letter.id,
            Letter.subject,
            Letter.text,
            Letter.path,
            Letter.made_at,
            Party.email,
            Party.mail_wanted,
        )
        .join(Party, col(Party.id) == col(Letter.party_id))
        .where(col(Letter.id) == letter_id, col(Letter.mail) == MailState.WAITING)
    ).first()
    return (
        None
        if row is None
        else LetterToMail(row.id, row.subject, row.text, row.path, row.made_at, row.email, row.mail_wanted)
    )


def _letters() -> Select[Any]:
    return (
        select(Letter, Party.name)
        .join(Party, col(Party.id) == col(Letter.party_id))
        .order_by(col(Letter.made_at).desc(), col(Party.name), col(Letter.id))
    )


def _letter(row: Any) -> LetterRead:
    return LetterRead(**row.Letter.model_dump(), party_name=row.name)


def list_letters(session: Session, party_id: UUID, paging: Paging) -> Page[LetterRead]:
    """All that somebody got, the latest first; two statements."""
    statement = select(Letter, Party.name).join(Party, col(Party.id) == col(Letter.party_id))
    keys = [(col(Letter.made_at), True), (col(Letter.id), False)]
    return page_of(session, statement.where(col(Letter.party_id) == party_id), keys, paging, _letter)


def last_letter(session: Session, party_id: UUID, kind: LetterKind) -> LetterRead | None:
    """The latest of a kind that somebody got; one statement."""
    own = (col(Letter.party_id) == party_id, col(Letter.kind) == kind)
    row = session.execute(_letters().where(*own).limit(1)).first()
    return None if row is None else _letter(row)


def last_made(session: Session, kind: LetterKind, party_ids: Iterable[UUID]) -> dict[UUID, datetime]:
    """When each of these got their latest of a kind; one statement."""
    rows = session.execute(
        select(Letter.party_id, func.max(Letter.made_at).label("at"))
        .where(col(Letter.kind) == kind, col(Letter.party_id).in_(list(party_ids)))
        .group_by(col(Letter.party_id))
    )
    return {row.party_id: row.at for row in rows}


def letters_about(session: Session, about_ids: Iterable[UUID]) -> dict[UUID, list[LetterRead]]:
    """Who was told of things, by thing, in the order of their names; one statement."""
    found: dict[UUID, list[LetterRead]] = {}
    for row in session.execute(_letters().where(col(Letter.about_id).in_(list(about_ids)))):
        found.setdefault(row.Letter.about_id, []).append(_letter(row))
    for letters in found.values():
        letters.sort(key=lambda each: each.party_name.casefold())  # no collation of a database
    return found


def mail_in_trouble(session: Session, since: datetime, most: int = 10) -> list[LetterRead]:
    """Letters whose mail failed, or went wrong so far, the latest first; one statement."""
    unsent = (col(Letter.mail_error) != "", col(Letter.mail) != MailState.SENT, col(Letter.made_at) >= since)
    statement = _letters().where(*unsent)
    return [_letter(row) for row in session.execute(statement.limit(most))]
