"""Clean, migrated databases of both kinds: one is migrated per worker, every test gets a copy of its own."""

from __future__ import annotations

import contextlib
import importlib
import pkgutil
import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psycopg
from alembic import command
from alembic.config import Config

import service
from service.lib.database import Database, metadata
from tests.infra import postgres

MIGRATIONS = Path(service.__path__[0]) / "migrations"
KINDS = ("sqlite", "postgres")


class SqliteMaker:
    """Copies of one migrated file."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.template = folder / "template.sqlite3"
        self._made = 0

    def _next(self) -> Path:
        self._made += 1
        return self.folder / f"club{self._made}.sqlite3"

    def empty(self) -> str:
        """The address of a database without any table."""
        return f"sqlite:///{self._next()}"

    def migrated(self) -> str:
        """The address of a fresh database with every table."""
        if not self.template.exists():
            migrate(f"sqlite:///{self.template}")
            # Fold the log into the file, so that a copy of the file alone is whole.
            with contextlib.closing(sqlite3.connect(self.template)) as connection:
                connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        path = self._next()
        shutil.copyfile(self.template, path)
        return f"sqlite:///{path}"

    def drop(self, url: str) -> None:
        path = Path(url.removeprefix("sqlite:///"))
        for end in ("", "-wal", "-shm"):
            path.with_name(path.name + end).unlink(missing_ok=True)

    def close(self) -> None:
        """Nothing is held."""


MOST_USES = (
    25  # deleted rows stay in a table's pages, which would make a database slow in the end: it is swept then
)


class PostgresMaker:
    """Copies of one migrated database on a running server.

    Making one creates hundreds of files, which takes most of a second on some machines. So a database whose tables are
    as they were is emptied and used again; one that a test rebuilt is thrown away. Whoever empties stays connected, since
    a new connection reads the catalogue anew, which takes longer than emptying.
    """

    def __init__(self, folder: str, worker: str) -> None:
        self.folder = folder
        self.worker = worker
        self._made = 0
        self._has_template = False
        self._shape: object = None
        self._free: list[str] = []
        self._uses: dict[str, int] = {}
        self._sweepers: dict[str, psycopg.Connection[Any]] = {}

    def _connect(self, name: str = "postgres") -> psycopg.Connection[Any]:
        return psycopg.connect(host=self.folder, user=postgres.USER, dbname=name, autocommit=True)

    def _create(self, template: str = "template0") -> str:
        self._made += 1
        name = f"club_{self.worker}_{self._made}"
        self._run(f'CREATE DATABASE "{name}" TEMPLATE "{template}"')
        return name

    def _run(self, statement: str) -> None:
        with self._connect() as connection:
            connection.execute(statement.encode())

    def empty(self) -> str:
        """The address of a database without any table."""
        return postgres.url(self.folder, self._create())

    def migrated(self) -> str:
        """The address of a database with every table, and no row but what the migrations wrote."""
        template = f"template_{self.worker}"
        if not self._has_template:
            self._run(f'CREATE DATABASE "{template}" TEMPLATE template0')
            migrate(postgres.url(self.folder, template))
            with self._connect(template) as connection:
                self._shape = _shape(connection)
                assert not _filled(connection), "a migration wrote rows: emptying would lose them"
            self._has_template = True
        name = self._free.pop() if self._free else self._create(template)
        self._uses[name] = self._uses.get(name, 0) + 1
        return postgres.url(self.folder, name)

    def drop(self, url: str) -> None:
        name = url.partition("@/")[2].partition("?")[0]
        if name in self._uses and self._emptied(name):
            self._free.append(name)
            return
        if name in self._sweepers:
            self._sweepers.pop(name).close()
        self._run(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')

    def close(self) -> None:
        while self._sweepers:
            self._sweepers.popitem()[1].close()

    def _emptied(self, name: str) -> bool:
        """Whether a database is again as its template is."""
        if name not in self._sweepers:
            self._sweepers[name] = self._connect(name)
        connection = self._sweepers[name]
        try:
            connection.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )
        except psycopg.OperationalError:  # a test closed every connection, or the database
            return False
        if _shape(connection) != self._shape:
            return False
        _empty(connection)
        if self._uses[name] % MOST_USES == 0:
            connection.execute("VACUUM")
        return True


_COLUMNS = """
SELECT md5(string_agg(t::text, '|' ORDER BY t::text)) FROM (
  SELECT c.relname, a.attname, format_type(a.atttypid, a.atttypmod), a.attnotnull, pg_get_expr(d.adbin, d.adrelid)
  FROM pg_class AS c JOIN pg_attribute AS a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped
  LEFT JOIN pg_attrdef AS d ON d.adrelid = c.oid AND d.adnum = a.attnum
  WHERE c.relnamespace = 'public'::regnamespace AND c.relkind IN ('r', 'v', 'm', 'S')
) AS t
"""
_REST = """
SELECT md5(string_agg(t::text, '|' ORDER BY t::text)) FROM (
  SELECT conrelid::regclass::text, conname::text, pg_get_constraintdef(oid) FROM pg_constraint WHERE connamespace = 'public'::regnamespace
  UNION ALL SELECT tablename::text, indexname::text, indexdef FROM pg_indexes WHERE schemaname = 'public'
  UNION ALL SELECT tgrelid::regclass::text, tgname::text, tgenabled::text FROM pg_trigger WHERE NOT tgisinternal
) AS t
"""


def _shape(connection: psycopg.Connection[Any]) -> object:
    """What the tables of a database are like, and what the migrations wrote into it."""
    version = (
        connection.execute("SELECT version_num FROM alembic_version").fetchall() if _has(connection) else []
    )
    return [connection.execute(_COLUMNS).fetchone(), connection.execute(_REST).fetchone(), version]


def _has(connection: psycopg.Connection[Any]) -> bool:
    found = connection.execute("SELECT to_regclass('alembic_version') IS NOT NULL").fetchone()
    return bool(found and found[0])


def _filled(connection: psycopg.Connection[Any]) -> list[str]:
    """The tables that hold a row."""
    rows = connection.execute(
        "SELECT tablename FROM pg_tables WHERE schemaname = 'public' AND tablename <> 'alembic_version'"
    )
    tables = [name for (name,) in rows]
    asked = " UNION ALL ".join(
        f"(SELECT '{name}' WHERE EXISTS (SELECT 1 FROM \"{name}\"))" for name in tables
    )
    return [name for (name,) in connection.execute(asked.encode())]


def _empty(connection: psycopg.Connection[Any]) -> None:
    filled = _filled(connection)
    with connection.transaction():
        connection.execute("SET LOCAL session_replication_role = replica")  # references are not looked at
        for name in filled:
            connection.execute(f'DELETE FROM "{name}"'.encode())
        connection.execute(
            "SELECT setval(quote_ident(sequencename)::regclass, start_value, false) FROM pg_sequences WHERE schemaname = 'public'"
        )


Maker = SqliteMaker | PostgresMaker


def migrate(url: str) -> None:
    """Run every migration, as a club does when it starts the service."""
    if not (MIGRATIONS / "env.py").exists():
        _create_all(url)
        return
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    config.set_main_option("sqlalchemy.url", url.replace("%", "%%"))
    command.upgrade(config, "head")


def _create_all(url: str) -> None:
    for found in pkgutil.walk_packages(service.__path__, "service."):
        if found.name.endswith((".tables", ".write")):
            importlib.import_module(found.name)
    database = Database(url)
    metadata.create_all(database.writer)
    database.close()


@contextlib.contextmanager
def one_of(maker: Maker, *, migrated: bool = True) -> Iterator[str]:
    """A database for as long as the block runs."""
    url = maker.migrated() if migrated else maker.empty()
    try:
        yield url
    finally:
        maker.drop(url)
