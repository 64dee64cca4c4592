"""The one way to change anything: `await write(action, member, body)`.

An action runs in a savepoint of its own. On SQLite one thread owns the only writing session and commits
many actions at once with full durability (group commit), after telling the hooks once of all they touched; on
PostgreSQL every action has a session and a transaction of its own. Either way the answer leaves only after the
commit. A request's idempotency key is claimed first and its answer kept last, in the same transaction as the
change itself.
"""

from __future__ import annotations

import asyncio
import contextlib
import hashlib
import queue
import threading
import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache, lru_cache
from typing import Any, Protocol, TypeVar, cast, get_type_hints
from uuid import UUID

import anyio.to_thread
from pydantic import BaseModel, TypeAdapter
from pydantic_core import to_json
from sqlalchemy import Insert, Uuid, bindparam, insert, select, update
from sqlalchemy.exc import DataError, DBAPIError, IntegrityError, OperationalError
from sqlmodel import Field, Session, SQLModel

from service.lib.clock import Clock
from service.lib.database import Database, UtcInstant, insert_for
from service.lib.errors import AlreadyKnown, KeyReused, MaybeSaved, NotSaved, Problem, Refused, Unusable

T = TypeVar("T")
Hook = Callable[[Session, frozenset[UUID]], None]
GROUP_LIMIT = 256
RETRIES = 4


class KeptAnswer(SQLModel, table=True):
    """What was answered to a key, so that the same request twice is done once. Never expires."""

    __tablename__ = "kept_answer"
    owner_id: UUID = Field(primary_key=True, sa_type=Uuid)
    key: str = Field(primary_key=True, max_length=200)
    fingerprint: str = Field(max_length=64)
    body: str | None = None
    made_at: datetime = Field(sa_type=cast(Any, UtcInstant))


class Asking(Protocol):
    """Who asks, as far as writing cares: whose key it is, and for whom they act."""

    @property
    def account_id(self) -> UUID: ...
    @property
    def acting_for_id(self) -> UUID: ...


def recorded_at(session: Session) -> datetime:
    """The server's time of this action: the same for every row it writes."""
    return cast(datetime, session.info["now"])


def touch_bundles(session: Session, bundle_ids: Iterable[UUID]) -> None:
    """Note bundles whose answer card must be renewed before this action is saved."""
    session.info.setdefault("touched", set()).update(bundle_ids)


def once_only(action: Callable[..., T]) -> Callable[..., T]:
    """Mark an action whose answer holds a secret: it is shown once and never kept for a repeat."""
    action.__once_only__ = True  # type: ignore[attr-defined]
    return action


@dataclass
class _Job:
    action: Callable[..., Any]
    member: Asking | None
    args: tuple[Any, ...]
    key: str | None
    done: Future[Any] = field(default_factory=Future)
    result: Any = None
    problem: BaseException | None = None
    touched: frozenset[UUID] = frozenset()


class Writer:
    """Runs actions so that no answer can leave before it is saved."""

    def __init__(self, database: Database, clock: Clock, *, group_wait_ms: float = 0.0) -> None:
        self.database = database
        self.clock = clock
        self.hooks: list[Hook] = []
        # Tests set this to stop the process at a named point; in service it does nothing.
        self.reached: Callable[[str], None] = lambda _point: None
        self._wait = group_wait_ms / 1000
        self._queue: queue.SimpleQueue[_Job | None] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None
        self._limiter: anyio.CapacityLimiter | None = None

    def start(self) -> None:
        if self.database.is_sqlite and self._thread is None:
            self._thread = threading.Thread(target=self._serve, name="writer", daemon=True)
            self._thread.start()

    def stop(self) -> None:
        if self._thread is not None:
            self._queue.put(None)
            self._thread.join()
            self._thread = None

    async def write(
        self, action: Callable[..., T], member: Asking | None, *args: Any, key: str | None = None
    ) -> T:
        """Run one action and give its answer once it is saved. Raises the action's own problem, or `NotSaved`."""
        job = _Job(action, member, args, key)
        if self.database.is_sqlite:
            self._queue.put(job)
            return cast(T, await asyncio.wrap_future(job.done))
        if self._limiter is None:
            self._limiter = anyio.CapacityLimiter(8)
        return cast(T, await anyio.to_thread.run_sync(self._alone, job, limiter=self._limiter))

    def write_now(
        self, action: Callable[..., T], member: Asking | None, *args: Any, key: str | None = None
    ) -> T:
        """The same for a caller that is not asynchronous: the command line, start-up, tests."""
        job = _Job(action, member, args, key)
        if self._thread is not None:
            self._queue.put(job)
            return cast(T, job.done.result())
        return cast(T, self._alone(job))

    # -- PostgreSQL, and callers without a running thread ---------------------------------------------------

    def _alone(self, job: _Job) -> Any:
        for attempt in range(RETRIES):
            with self.database.writing_session() as session:
                saving = False
                try:
                    job.result = self._perform(session, job)
                    self._tell_hooks(session, job.touched)
                    saving = True
                    self.reached("before commit")
                    session.commit()
                except Exception as error:
                    with contextlib.suppress(DBAPIError):
                        session.rollback()
                    if _worth_another_try(error, saving=saving) and attempt + 1 < RETRIES:
                        time.sleep(0.01 * 2**attempt)
                        continue
                    raise _explain(error, whole=saving, sent=saving, key=job.key) from error
                self.reached("after commit")
                return job.result
        raise AssertionError("unreachable")

    # -- SQLite ----------------------------------------------------------------------------------------------

    def _serve(self) -> None:
        with self.database.writing_session() as session:
            while (first := self._queue.get()) is not None:
                group, last = self._gather(first)
                self._commit_group(session, group)
                if last:
                    return

    def _gather(self, first: _Job) -> tuple[list[_Job], bool]:
        group = _still_wanted(first)
        if self._wait:
            time.sleep(self._wait)
        while len(group) < GROUP_LIMIT:
            try:
                job = self._queue.get_nowait()
            except queue.Empty:
                break
            if job is None:
                return group, True
            group += _still_wanted(job)
        return group, False

    def _commit_group(self, session: Session, group: Sequence[_Job]) -> None:
        saving = False
        try:
            for place, job in enumerate(group):
                self._in_savepoint(session, job)
                if place == 0 and len(group) > 1:
                    self.reached("in mid-group")
            if not self._hooks_agree(session, group):
                return
            saving = True
            self.reached("before commit")
            session.commit()
        except BaseException as error:  # whatever broke the transaction broke it for all of the group
            with contextlib.suppress(Exception):
                session.rollback()
            for job in group:
                job.done.set_exception(_explain(error, whole=True, sent=saving, key=job.key))
            return
        finally:
            session.expunge_all()
        self.reached("after commit")
        for job in group:
            if job.problem is not None:
                job.done.set_exception(job.problem)
            else:
                job.done.set_result(job.result)

    def _in_savepoint(self, session: Session, job: _Job) -> None:
        savepoint = session.begin_nested()
        try:
            job.result = self._perform(session, job)
            savepoint.commit()
        except Exception as error:
            savepoint.rollback()  # fails where the whole transaction is gone; then the group fails
            job.problem = _explain(error)

    def _hooks_agree(self, session: Session, group: Sequence[_Job]) -> bool:
        """Tell the hooks once of all that a group touched. Where one refuses, each action is tried by itself."""
        touched = frozenset[UUID]().union(*(job.touched for job in group if job.problem is None))
        try:
            self._tell_hooks(session, touched)
        except Exception as error:
            session.rollback()
            if len(group) == 1:
                group[0].done.set_exception(_explain(error))
                return False
            for job in group:
                job.problem = None
                self._commit_group(session, [job])
            return False
        return True

    # -- one action -------------------------------------------------------------------------------------------

    def _tell_hooks(self, session: Session, touched: frozenset[UUID]) -> None:
        if touched:
            for hook in self.hooks:
                hook(session, touched)
            session.flush()

    def _perform(self, session: Session, job: _Job) -> Any:
        session.info.update(now=self.clock.now(), touched=set())
        job.touched = frozenset()
        fingerprint = _fingerprint(job) if job.key and job.member else ""
        if fingerprint:
            known, answer = _claim_key(session, job, fingerprint)
            if known:
                return answer
        result = job.action(session, *(() if job.member is None else (job.member,)), *job.args)
        session.flush()
        job.touched = frozenset(session.info["touched"])
        if fingerprint:
            _keep_answer(session, job, result)
        return result


def _still_wanted(job: _Job) -> list[_Job]:
    # From here on nobody can cancel it: a cancelled future would refuse its answer and end the thread.
    return [job] if job.done.set_running_or_notify_cancel() else []


@lru_cache(maxsize=512)
def _adapter(action: Callable[..., Any]) -> TypeAdapter[Any]:
    return TypeAdapter(cast(Any, get_type_hints(action).get("return")))


def _fingerprint(job: _Job) -> str:
    assert job.member is not None
    name = f"{job.action.__module__}.{job.action.__qualname__}"
    said = to_json([name, str(job.member.acting_for_id), _as_sent(job.args)], fallback=str)
    return hashlib.sha256(said).hexdigest()


def _as_sent(value: Any) -> Any:
    """What a person sent, without what was filled in: an id made here differs each time the same body comes."""
    if isinstance(value, BaseModel):
        return value.model_dump(mode="json", exclude_unset=True)
    return [_as_sent(part) for part in value] if isinstance(value, list | tuple) else value


# These run with every change, so they are built once, and below the ORM.
_KEPT = KeptAnswer.__table__.c  # type: ignore[attr-defined]
_OWN = _KEPT.owner_id == bindparam("owner"), _KEPT.key == bindparam("of_key")
_READ_KEPT = select(_KEPT.fingerprint, _KEPT.body).where(*_OWN)
_KEEP = update(KeptAnswer.__table__).where(*_OWN).values(body=bindparam("answer"))  # type: ignore[attr-defined]


@cache
def _claim(dialect: str) -> Any:
    told: dict[str, Any] = {name: bindparam(name) for name in ("owner_id", "key", "fingerprint", "made_at")}
    statement = insert_for(dialect, KeptAnswer).values(told)
    return statement.on_conflict_do_nothing().returning(_KEPT.key)


def _claim_key(session: Session, job: _Job, fingerprint: str) -> tuple[bool, Any]:
    assert job.member is not None
    connection = session.connection()
    row = {
        "owner_id": job.member.account_id,
        "key": job.key,
        "fingerprint": fingerprint,
        "made_at": session.info["now"],
    }
    if connection.execute(_claim(connection.dialect.name), row).first() is not None:
        return False, None
    kept = connection.execute(_READ_KEPT, {"owner": job.member.account_id, "of_key": job.key}).one()
    if kept.fingerprint != fingerprint:
        raise KeyReused("This Idempotency-Key was used before for something else.", key=job.key)
    if kept.body is None:
        raise AlreadyKnown("This was done before, and its answer held a secret that is shown only once.")
    return True, _adapter(job.action).validate_json(kept.body)


def _keep_answer(session: Session, job: _Job, result: Any) -> None:
    if getattr(job.action, "__once_only__", False):
        return
    assert job.member is not None
    body = _adapter(job.action).dump_json(result).decode()
    told = {"owner": job.member.account_id, "of_key": job.key, "answer": body}
    session.connection().execute(_KEEP, told)


# -- what went wrong, in words ----------------------------------------------------------------------------------

_RETRY_STATES = {"40001", "40P01"}  # serialisation failure, deadlock


def _worth_another_try(error: BaseException, *, saving: bool) -> bool:
    if not isinstance(error, DBAPIError):
        return False
    # A connection that broke before the commit took its transaction with it: a new one may do it all again.
    return getattr(error.orig, "sqlstate", None) in _RETRY_STATES or (
        error.connection_invalidated and not saving
    )


def _may_be_saved(error: BaseException) -> bool:
    """Whether the database may have kept what it never answered for.

    A connection that breaks in the middle of COMMIT says nothing of its end; nor does a disk that fails while SQLite
    writes the last page of its log. Everything else is refused by the database itself.
    """
    return isinstance(error, DBAPIError) and (
        error.connection_invalidated
        or str(getattr(error.orig, "sqlite_errorname", "")).startswith("SQLITE_IOERR")
    )


def _explain(
    error: BaseException, *, whole: bool = False, sent: bool = False, key: str | None = None
) -> BaseException:
    """`whole`: it broke the transaction and not an action in it; `sent`: COMMIT was on its way by then."""
    if isinstance(error, Problem):
        return error
    if isinstance(error, IntegrityError) and not whole:
        return _explain_integrity(error)
    if isinstance(error, DataError):
        return Unusable("The database takes no such value.", todo="Check what you sent.")
    if sent and _may_be_saved(error):
        todo = "" if key else "Read it again: if your change stands there it was saved, else make it again."
        return MaybeSaved("The connection to the database broke while this was being saved.", todo=todo)
    if isinstance(error, OperationalError) or (whole and isinstance(error, Exception)):
        return NotSaved("The database could not save this; nothing of it was written.")
    return error


def _explain_integrity(error: IntegrityError) -> Problem:
    text = str(error.orig).lower()
    if "foreign key" in text:
        return Unusable("Something this refers to does not exist.", todo="Check the ids you sent.")
    if "unique" in text or "duplicate" in text:
        return AlreadyKnown("Something with this id, code or name stands already.")
    if "check" in text:
        return Refused(
            "The counts would not add up.", todo="Read the bundle again: somebody may have been quicker."
        )
    return Unusable("The database refused a value.", todo="Check what you sent.")


def insert_rows(session: Session, table: type[SQLModel], rows: Sequence[dict[str, Any]]) -> None:
    """Add many rows, each with the same columns, with one statement, whatever their number."""
    if rows:
        assert all(row.keys() == rows[0].keys() for row in rows), "a row without a column"
        # Below the ORM, which would look at each value of each row.
        session.connection().execute(_insert_into(table), list(rows))


@cache
def _insert_into(table: type[SQLModel]) -> Insert:
    return insert(table.__table__)  # type: ignore[attr-defined]
