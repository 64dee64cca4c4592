"""The weekly letter to each host: written by a job when its moment has come."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlmodel import Session, col

from service.lib.jobs import Ending, Kind, Task, Wanted
from service.members import queries as member_queries
from service.members.actions import write_letters
from service.members.rules import LetterKind, NewLetter
from service.storage import queries
from service.storage.rules import week_begins, weekly_text, weekly_title
from service.storage.tables import Store

WEEKLY = "weekly"


def weekly_wanted(session: Session, now: datetime) -> Iterable[Wanted]:
    """The letters for which time has come, and first ones, that wait for theirs; three statements."""
    return [
        Wanted(WEEKLY, {"host": str(host)}, f"weekly:{host}")
        if moment <= now
        # Where the club changes its day meanwhile, another stands beside it.
        else Wanted(
            WEEKLY,
            {"host": str(host), "moment": moment.isoformat()},
            f"weekly:{host}:{moment:%y%m%d%H%M}",
            moment - now,
        )
        for host, moment in queries.hosts_to_write_to(session, now).items()
    ]


def weekly_letters() -> Kind:
    """The kind of job that writes one host's weekly letter."""

    def do(task: Task) -> Ending | None:
        host_id = UUID(task.what["host"])
        with task.database.reading() as session:
            if host_id not in queries.hosts_to_write_to(session, task.now):
                return None  # it was written meanwhile
            moment = task.what.get("moment")
            if moment is not None and queries.last_weekly_moment(session, task.now) < datetime.fromisoformat(
                moment
            ):
                return None  # the club has another day by now, which is waited for
            letter = weekly_letter(session, host_id, task.now)
        return lambda session: _write_once(session, letter, task.now)

    return Kind(WEEKLY, do)


def _write_once(session: Session, letter: NewLetter, now: datetime) -> None:
    """Two services that were asked at the same time write one letter."""
    session.execute(
        select(col(Store.id))
        .where(col(Store.host_id) == letter.party_id)
        .order_by(col(Store.id))
        .with_for_update()
    )
    if letter.party_id in queries.hosts_to_write_to(session, now):
        write_letters(session, [letter])


def weekly_letter(session: Session, host_id: UUID, now: datetime) -> NewLetter:
    """A host's letter as it would be written now."""
    last = member_queries.last_made(session, LetterKind.WEEKLY, [host_id]).get(host_id)
    begins = week_begins(now, last)
    zone = ZoneInfo(member_queries.club(session).zone)
    weeks = queries.weeks_of_host(session, host_id, begins, now)
    return NewLetter(
        host_id, LetterKind.WEEKLY, weekly_title(weeks), weekly_text(weeks, begins.astimezone(zone), now.astimezone(zone))[:20_000],
        path="/my-fridge", quiet=not any(week.asks for week in weeks),
    )  # fmt: skip
