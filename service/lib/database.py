"""Engines and sessions for SQLite and PostgreSQL, and the column types both share."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import cache
from typing import Any
from uuid import UUID, uuid4

from sqlalchemy import DateTime, Engine, MetaData, String, create_engine, event
from sqlalchemy.dialects.postgresql import insert as postgres_insert
from sqlalchemy.dialects.sqlite import insert as sqlite_insert
from sqlalchemy.engine import make_url
from sqlalchemy.engine.interfaces import Dialect
from sqlalchemy.pool import QueuePool
from sqlalchemy.types import TypeDecorator
from sqlmodel import Field, Session, SQLModel

LEAST_SQLITE = (3, 35, 0)  # RETURNING
# A club's record lies in memory or on a disk without moving parts, so that a look-up costs little more than reading on; and
# compiling a recursive statement takes ten times as long as running it, because PostgreSQL cannot foresee how short it is.
POSTGRES_PLANS = "-c jit=off -c random_page_cost=1.1"

SQLModel.metadata.naming_convention = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}
metadata: MetaData = SQLModel.metadata
# Few tables are ever filled from a schema: how to check one is worked out when it first is, and not at each start.
SQLModel.model_config["defer_build"] = True


class UtcInstant(TypeDecorator[datetime]):
    """An instant, stored in UTC; given back aware on both databases."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("an instant needs a zone")
        at = value.astimezone(UTC)
        return at.replace(tzinfo=None) if dialect.name == "sqlite" else at

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        return (
            None
            if value is None
            else (value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC))
        )


@cache
def insert_for(dialect: str, table: type[SQLModel]) -> Any:
    """An insert in the words of one database, below the ORM, which can say what becomes of a row that is there already.

    Both took the same words for that, so whoever asks need not know which one it is.
    """
    insert = sqlite_insert if dialect == "sqlite" else postgres_insert
    return insert(table.__table__)  # type: ignore[attr-defined]


def insert_of(session: Session, table: type[SQLModel]) -> Any:
    """The same in the words of the session's database."""
    return insert_for(session.get_bind().dialect.name, table)


def new_id() -> UUID:
    """An identity for a row that nobody sees."""
    return uuid4()


class Database:
    """One club's database: one writing engine, one reading engine that cannot write."""

    def __init__(self, url: str, *, synchronous: str = "FULL", pool_size: int = 8) -> None:
        self.url = url
        self.is_sqlite = make_url(url).get_backend_name() == "sqlite"
        if self.is_sqlite and sqlite3.sqlite_version_info < LEAST_SQLITE:
            raise RuntimeError(
                f"SQLite {'.'.join(map(str, LEAST_SQLITE))} or newer is needed; this is {sqlite3.sqlite_version}."
            )
        if self.is_sqlite:
            self.writer = self._sqlite_engine("BEGIN IMMEDIATE", synchronous, pool_size=2, read_only=False)
            self.reader = self._sqlite_engine("BEGIN", synchronous, pool_size=pool_size, read_only=True)
        else:
            self.writer = create_engine(
                url, pool_size=pool_size, max_overflow=4, isolation_level="READ COMMITTED",
                connect_args={"options": POSTGRES_PLANS},
            )  # fmt: skip
            self.reader = create_engine(
                # The writer tries again by itself; a reader's question cannot, so its connection is tried before it is lent.
                url, pool_size=pool_size, max_overflow=4, isolation_level="REPEATABLE READ", pool_pre_ping=True,
                connect_args={"options": f"-c default_transaction_read_only=on {POSTGRES_PLANS}"},
            )  # fmt: skip

    def _sqlite_engine(self, begin: str, synchronous: str, *, pool_size: int, read_only: bool) -> Engine:
        engine = create_engine(
            self.url, poolclass=QueuePool, pool_size=pool_size, max_overflow=64,
            connect_args={"check_same_thread": False, "timeout": 5},
        )  # fmt: skip

        @event.listens_for(engine, "connect")
        def _on_connect(connection: Any, _record: Any) -> None:
            # The driver's own transaction handling starts too late for savepoints; we begin ourselves.
            connection.isolation_level = None
            run = connection.execute
            run("PRAGMA journal_mode=WAL")
            run("PRAGMA foreign_keys=ON")
            run("PRAGMA busy_timeout=5000")
            run("PRAGMA mmap_size=0")
            # Each reader's cache is memory of its own, up to eight times over; the system keeps the file in memory anyway.
            run(f"PRAGMA cache_size={-2000 if read_only else -16000}")
            run("PRAGMA temp_store=MEMORY")
            run(f"PRAGMA synchronous={synchronous}")
            if read_only:
                run("PRAGMA query_only=ON")

        @event.listens_for(engine, "begin")
        def _on_begin(connection: Any) -> None:
            connection.exec_driver_sql(begin)

        return engine

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session that sees one consistent state and cannot write."""
        with Session(self.reader, autoflush=False, expire_on_commit=False) as session:
            yield session

    def writing_session(self) -> Session:
        """A session for the one place that commits (`lib.write`), for migrations' data and for start-up."""
        return Session(self.writer, autoflush=False, expire_on_commit=False)

    def close(self) -> None:
        self.writer.dispose()
        self.reader.dispose()


def instant(**extra: Any) -> Any:
    """A column that holds an instant."""
    return Field(sa_type=UtcInstant, **extra)


def word(length: int = 24, **extra: Any) -> Any:
    """A column for one word of a fixed list; kept as text so that a new word needs no type change."""
    return Field(sa_type=String(length), **extra)


def refers_to(column: str, **extra: Any) -> Any:
    """A column that points at another row; deleting what is pointed at is refused."""
    return Field(foreign_key=column, **extra)
