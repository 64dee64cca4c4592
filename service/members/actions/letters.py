"""Letters that the service writes to people by itself, and their mail."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from sqlalchemy import delete, select, update
from sqlmodel import Session, col

from service.lib.jobs import Ending, Kind, Task, drop_jobs, enqueue
from service.lib.mail import Mail, Post
from service.lib.write import insert_rows, recorded_at
from service.members import queries
from service.members.rules import MailState, NewLetter, mail_state
from service.members.tables import Letter

MAIL = "mail"
MOST_TRIES = 20  # with waits that double up to four hours: about two days, a weekend without the mail server
_NO_SYNC = {"synchronize_session": False}


def write_letters(session: Session, letters: Sequence[NewLetter]) -> None:
    """Write letters to people who stand in the record; each is on their page at once, and its mail waits where it goes out."""
    if not letters:
        return
    known = queries.mail_addresses(session, {letter.party_id for letter in letters})
    at = recorded_at(session)
    rows: list[dict[str, Any]] = []
    for letter in letters:
        if letter.party_id not in known:
            continue
        email, wanted = known[letter.party_id]
        state = mail_state(email=email, wanted=wanted, quiet=letter.quiet)
        rows.append({**vars(letter), "made_at": at, "mail": state, "mail_error": ""})
        if state is MailState.WAITING:
            enqueue(session, MAIL, {"letter": str(letter.id)}, job_id=letter.id)
    insert_rows(session, Letter, rows)


def drop_letters(session: Session, party_id: UUID) -> None:
    """All that was written to somebody, with what of it waits to be mailed."""
    ids = list(session.execute(select(col(Letter.id)).where(col(Letter.party_id) == party_id)).scalars())
    if ids:
        drop_jobs(session, ids)
        session.execute(delete(Letter).where(col(Letter.id).in_(ids)).execution_options(**_NO_SYNC))


# -- mailing -----------------------------------------------------------------------------------------------------------


def mailing(post: Post | None, links_to: str = "") -> Kind:
    """The kind of job that mails one letter; without a mail server it only notes that none was sent."""

    def do(task: Task) -> Ending | None:
        letter_id = UUID(task.what["letter"])
        with task.database.reading() as session:
            letter = queries.letter_to_mail(session, letter_id)
        if letter is None:
            return None
        state = (
            MailState.OFF
            if post is None
            else mail_state(email=letter.email, wanted=letter.wanted, quiet=False)
        )
        if post is not None and state is MailState.WAITING:
            link = f"\n\n{links_to.rstrip('/')}{letter.path}\n" if links_to and letter.path else "\n"
            post.send(Mail(letter.id, letter.email, letter.subject, letter.text + link, letter.made_at))
            state = MailState.SENT
        return lambda session: note_mail(session, letter_id, state)

    return Kind(MAIL, do, failed=_note_failure, most_tries=MOST_TRIES, outside=True)


def note_mail(session: Session, letter_id: UUID, state: MailState, error: str = "") -> None:
    """What became of a letter's mail."""
    session.execute(
        update(Letter)
        .where(col(Letter.id) == letter_id)
        .values(mail=state, mail_error=error[:300], mailed_at=recorded_at(session) if state is MailState.SENT else None)
        .execution_options(**_NO_SYNC)
    )  # fmt: skip


def _note_failure(session: Session, task: Task, words: str, last: bool) -> None:
    note_mail(session, UUID(task.what["letter"]), MailState.FAILED if last else MailState.WAITING, words)
