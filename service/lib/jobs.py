"""Background work: jobs that stand in the database and are done by a thread of the serving process.

A job is added in the transaction of the change that wants it, so there is never one without the other. Whoever does it
claims it first, by a guarded UPDATE that holds for a while (a lease): two never do one job at the same time, and where a
process dies in the midst, the lease runs out and another takes it. What a job writes is saved in the transaction that
takes the job away: it is done once. What it sends outside may go out twice where a process dies between sending and
saving; the job's id is the same each time, so that the other side can tell.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import JSON, case, delete, literal, or_, select, update
from sqlmodel import Field, Session, SQLModel, col

from service.lib.database import Database, insert_of, instant, new_id, word
from service.lib.write import Writer, recorded_at

POLL_SECONDS = 5.0
TICK_SECONDS = 60.0
STOP_SECONDS = 10.0
AT_ONCE = 20
FIRST_WAIT, LONGEST_WAIT = timedelta(minutes=1), timedelta(hours=4)
AT_ONE_GO = timedelta(0)
GIVEN_UP_FOR = timedelta(days=1)  # before time itself asks again for what was given up
LONGEST_NAME = 80
ENDED_IN_THE_MIDST = "It was begun again and again and never came to an end."
_NO_SYNC = {"synchronize_session": False}
_log = logging.getLogger(__name__)


class Job(SQLModel, table=True):
    """Work that waits, is being done, or was given up. What is done is gone."""

    __tablename__ = "job"
    id: UUID = Field(default_factory=new_id, primary_key=True)
    kind: str = word(40)
    what: dict[str, Any] = Field(sa_type=JSON)
    # Of those that wait there is one of a name; while it is being done, its id stands before the name, which is free meanwhile.
    once: str | None = Field(default=None, max_length=120, unique=True)
    made_at: datetime = instant()
    due_at: datetime = instant(index=True)
    tries: int = 0
    claim: UUID | None = None  # of whoever does it now
    lease_until: datetime | None = instant(default=None)
    last_error: str = Field(default="", max_length=500)
    given_up_at: datetime | None = instant(default=None)


@dataclass(frozen=True)
class Task:
    """A job in the hands of whoever does it. Its id stays the same however often it is tried."""

    id: UUID
    claim: UUID
    kind: str
    what: Mapping[str, Any]
    tries: int
    now: datetime
    database: Database


Ending = Callable[[Session], None]


@dataclass(frozen=True)
class Kind:
    """A kind of job. `do` reads and sends, outside of any transaction, and gives what is to be written as its ending.

    `failed` writes what somebody should know of a try that went wrong: its words, and whether it was the last. What goes to a
    server `outside` waits for all that does not; where that server is away, the rest waits for the next pass: it holds up nothing.
    """

    name: str
    do: Callable[[Task], Ending | None]
    failed: Callable[[Session, Task, str, bool], None] | None = None
    most_tries: int = 8
    lease: timedelta = timedelta(minutes=10)
    outside: bool = False


@dataclass(frozen=True)
class Wanted:
    """A job that time itself asks for; of those that wait there is one of each name."""

    kind: str
    what: Mapping[str, Any]
    once: str
    wait: timedelta = AT_ONE_GO


Tick = Callable[[Session, datetime], Iterable[Wanted]]


class NotWorthAnotherTry(Exception):
    """What went wrong would go wrong again: the job is given up at once, with these words."""


class TryLater(Exception):
    """What is away now and may be back soon: it is tried again, and nobody need look for a fault of ours."""


class LeaseLost(Exception):
    """It took longer than its lease, and another has it now: nothing of it was written here."""


# -- what actions do ---------------------------------------------------------------------------------------------------


def enqueue(
    session: Session, kind: str, what: Mapping[str, Any], *, once: str | None = None, job_id: UUID | None = None,
    wait: timedelta = AT_ONE_GO,
) -> None:  # fmt: skip
    """Add a job in the transaction of the change that wants it, to be done after a wait; one statement.

    Of those that wait there is one of the same `once`, due when the earliest of them is; one that was given up begins anew. It
    is locked until this is saved, so whoever does it sees this change.
    """
    statement, _ = _added(session, kind, what, once, job_id, wait)
    if once is not None:
        old, new = Job, statement.excluded
        given_up = col(old.given_up_at).is_not(None)
        anew = {
            "due_at": case((given_up | (new.due_at < col(old.due_at)), new.due_at), else_=col(old.due_at)),
            "tries": case((given_up, 0), else_=col(old.tries)),
            "given_up_at": None,
        }
        statement = statement.on_conflict_do_update(index_elements=["once"], set_=anew)
    session.execute(statement)


def _added(
    session: Session, kind: str, what: Mapping[str, Any], once: str | None, job_id: UUID | None, wait: timedelta
) -> tuple[Any, datetime]:  # fmt: skip
    if once is not None and len(once) > LONGEST_NAME:
        raise ValueError("The name of a job is too long.")
    at = recorded_at(session)
    made = insert_of(session, Job).values(
        id=job_id or new_id(), kind=kind, what=dict(what), once=once, made_at=at, due_at=at + wait, tries=0, last_error="",
    )  # fmt: skip
    return made, at


def enqueue_all(session: Session, wanted: Iterable[Wanted]) -> None:
    """What time itself asks for, again and again: what waits for its next try waits on, and what was given up stays so for a day."""
    for each in wanted:
        statement, at = _added(session, each.kind, each.what, each.once, None, each.wait)
        anew = {"due_at": at + each.wait, "tries": 0, "given_up_at": None}
        long_ago = col(Job.given_up_at) <= at - GIVEN_UP_FOR
        session.execute(statement.on_conflict_do_update(index_elements=["once"], set_=anew, where=long_ago))


def drop_jobs(session: Session, job_ids: Iterable[UUID]) -> None:
    """Take back jobs whose reason is gone."""
    session.execute(delete(Job).where(col(Job.id).in_(list(job_ids))).execution_options(**_NO_SYNC))


def drop_kind(session: Session, kind: str) -> None:
    """Take back all jobs of a kind that nobody does: something else does what they were for. One statement."""
    session.execute(
        delete(Job).where(col(Job.kind) == kind, col(Job.claim).is_(None)).execution_options(**_NO_SYNC)
    )


# -- claiming and ending -----------------------------------------------------------------------------------------------


def _free(now: datetime) -> Any:
    return (
        col(Job.given_up_at).is_(None)
        & (col(Job.due_at) <= now)
        & or_(col(Job.lease_until).is_(None), col(Job.lease_until) <= now)
    )


def due_jobs(
    session: Session, kinds: Iterable[str], now: datetime, after_all: Iterable[str] = ()
) -> list[tuple[UUID, str]]:
    """Jobs that nobody does and whose time has come, the longest due first, some kinds after all others; one statement."""
    late = case((col(Job.kind).in_(list(after_all)), 1), else_=0)
    rows = session.execute(
        select(col(Job.id), col(Job.kind))
        .where(_free(now), col(Job.kind).in_(list(kinds)))
        .order_by(late, col(Job.due_at), col(Job.id))
        .limit(AT_ONCE)
    )
    return [(row.id, row.kind) for row in rows]


def given_up(session: Session, since: datetime, most: int = 20) -> list[Job]:
    """What was tried in vain and given up since a moment, the latest first; one statement."""
    statement = select(Job).where(col(Job.given_up_at) >= since).order_by(col(Job.given_up_at).desc())
    return list(session.execute(statement.limit(most)).scalars())


def claim_job(session: Session, job_id: UUID, lease: timedelta) -> dict[str, Any] | None:
    """Take a job for as long as its lease runs. None: somebody else has it, or it is done."""
    now, claim = recorded_at(session), new_id()
    begun = f"{job_id.hex}:"
    once = case((col(Job.once).startswith(begun), col(Job.once)), else_=literal(begun) + col(Job.once))
    row = session.execute(
        update(Job)
        .where(col(Job.id) == job_id, _free(now))
        .values(claim=claim, lease_until=now + lease, tries=Job.tries + 1, once=once)
        .returning(col(Job.kind), col(Job.what), col(Job.tries))
        .execution_options(**_NO_SYNC)
    ).first()
    if row is None:
        return None
    return {"id": job_id, "claim": claim, "kind": row.kind, "what": row.what, "tries": row.tries, "now": now}


def _own(task: Task) -> Any:
    return (col(Job.id) == task.id) & (col(Job.claim) == task.claim)


def end_job(session: Session, task: Task, ending: Ending | None) -> None:
    """Save what a job brought and take it away, in one. Raises `LeaseLost` where it is no longer ours."""
    ended = session.execute(
        delete(Job).where(_own(task)).returning(col(Job.id)).execution_options(**_NO_SYNC)
    ).first()
    if ended is None:
        raise LeaseLost
    if ending is not None:
        ending(session)


def put_job_off(session: Session, task: Task, kind: Kind, words: str, *, last: bool) -> None:
    """Keep what went wrong, and try again later, each time after twice as long; or give it up.

    It waits under its own name again; where another of that name waits already, that one is to do it.
    """
    now = recorded_at(session)
    # Taken away and added anew: so no other of its name can come between.
    held = session.execute(
        delete(Job).where(_own(task)).returning(col(Job.once), col(Job.made_at)).execution_options(**_NO_SYNC)
    ).first()
    if held is None:
        raise LeaseLost
    again = insert_of(session, Job).values(
        id=task.id, kind=task.kind, what=dict(task.what), once=held.once and held.once.partition(":")[2], made_at=held.made_at,
        due_at=now + min(FIRST_WAIT * 2 ** (task.tries - 1), LONGEST_WAIT), tries=task.tries, last_error=words[:500],
        given_up_at=now if last else None,
    )  # fmt: skip
    session.execute(again.on_conflict_do_nothing(index_elements=["once"]))
    if kind.failed is not None:
        kind.failed(session, task, words, last)


# -- the thread --------------------------------------------------------------------------------------------------------


class Worker:
    """Does what is due: in a thread of its own once started, or at once when asked to (`run_due`)."""

    def __init__(
        self, database: Database, writer: Writer, kinds: Iterable[Kind], ticks: Iterable[Tick] = (), *, poll_seconds: float = POLL_SECONDS
    ) -> None:  # fmt: skip
        self.database = database
        self.writer = writer
        self.kinds = {kind.name: kind for kind in kinds}
        self.ticks = list(ticks)
        # Tests set this to stop the process at a named point; in service it does nothing.
        self.reached: Callable[[str], None] = lambda _point: None
        self._poll = poll_seconds
        self._stopping = threading.Event()
        self._left = False
        self._thread: threading.Thread | None = None
        self._ticked = float("-inf")

    def start(self) -> None:
        if self._thread is None:
            self._stopping.clear()
            self._thread = threading.Thread(target=self._serve, name="jobs", daemon=True)
            self._thread.start()

    def stop(self, seconds: float = STOP_SECONDS) -> None:
        """End after the job in hand. One that takes longer than that is left: its lease runs out, and it is done anew."""
        if self._thread is not None:
            self._stopping.set()
            self._thread.join(seconds)
            self._left = self._thread.is_alive()
            self._thread = None

    def _serve(self) -> None:
        wait = self._poll
        while not self._stopping.wait(wait):
            try:
                self.run_due()
                wait = self._poll
            except Exception:
                _log.exception("background work could not go on; it is tried again")
                wait = min(wait * 2, TICK_SECONDS)

    def run_due(self) -> int:
        """Do all that is due, and all that becomes due by it. How many were tried."""
        self._tick()
        tried, away = 0, set[str]()
        outside = [kind.name for kind in self.kinds.values() if kind.outside]
        while not self._stopping.is_set():
            with self.database.reading() as session:
                due = due_jobs(session, self.kinds.keys() - away, self.writer.clock.now(), outside)
            done = self._do_some(due, away)
            if not done:
                return tried
            tried += done
        return tried

    def _do_some(self, due: Iterable[tuple[UUID, str]], away: set[str]) -> int:
        """What is due, up to the first that went outside: what became due meanwhile goes before the next of those."""
        done = 0
        for job_id, name in due:
            kind = self.kinds[name]
            begun, was_away = self._do(job_id, kind)
            done += begun
            if kind.outside and begun:
                away.update([name] if was_away else [])
                break
        return done

    def _tick(self) -> None:
        if not self.ticks or time.monotonic() - self._ticked < TICK_SECONDS:
            return
        self._ticked = time.monotonic()
        self.look_at_the_clock()

    def look_at_the_clock(self) -> None:
        """Add what time itself asks for by now."""
        with self.database.reading() as session:
            now = self.writer.clock.now()
            wanted = [each for tick in self.ticks for each in tick(session, now)]
        if wanted:
            self.writer.write_now(enqueue_all, None, wanted)

    def _do(self, job_id: UUID, kind: Kind) -> tuple[bool, bool]:
        """Whether it was begun here, and whether what it needs was away."""
        if self._stopping.is_set():
            return False, False
        claimed = self.writer.write_now(claim_job, None, job_id, kind.lease)
        if claimed is None:
            return False, False
        task = Task(**claimed, database=self.database)
        self.reached("claimed")
        try:
            return True, self._try(task, kind)
        except LeaseLost:
            _log.warning("a %s took longer than its lease; another has it now", kind.name)
        return True, False

    def _try(self, task: Task, kind: Kind) -> bool:
        """Whether what it needs was away."""
        if task.tries > kind.most_tries:  # each of its tries died before it could tell why
            self._write(put_job_off, task, kind, ENDED_IN_THE_MIDST, last=True)
            return False
        try:
            ending = kind.do(task)
            self.reached("done")
            self._write(end_job, task, ending)
        except LeaseLost:
            raise
        except NotWorthAnotherTry as error:
            self._write(put_job_off, task, kind, str(error), last=True)
        except TryLater as error:
            # Its words may tell an address, and stand in the record: they are for no log.
            _log.warning("what a %s needs was away at its try %s", kind.name, task.tries)
            self._put_off(task, kind, error)
            return True
        except Exception as error:
            _log.warning("a %s went wrong at its try %s: %s", kind.name, task.tries, error, exc_info=error)
            self._put_off(task, kind, error)
        return False

    def _put_off(self, task: Task, kind: Kind, error: Exception) -> None:
        words = str(error) or type(error).__name__
        self._write(put_job_off, task, kind, words, last=task.tries >= kind.most_tries)

    def _write(self, action: Callable[..., None], *args: Any, **more: Any) -> None:
        if self._left:  # the writer may be closed by now
            raise LeaseLost
        self.writer.write_now(lambda session: action(session, *args, **more), None)
