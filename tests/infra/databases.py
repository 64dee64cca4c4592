"""Clean, migrated databases of both kinds: one is migrated per worker, every test gets a copy of its own."""

from __future__ import annotations

import contextlib
import importlib
import pkgutil
import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path

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


class PostgresMaker:
    """Copies of one migrated database on a running server."""

    def __init__(self, folder: str, worker: str) -> None:
        self.folder = folder
        self.worker = worker
        self._made = 0
        self._has_template = False

    def _create(self, template: str = "template0") -> str:
        self._made += 1
        name = f"club_{self.worker}_{self._made}"
        self._run(f'CREATE DATABASE "{name}" TEMPLATE "{template}"')
        return name

    def _run(self, statement: str) -> None:
        with psycopg.connect(
            host=self.folder, user=postgres.USER, dbname="postgres", autocommit=True
        ) as connection:
            connection.execute(statement.encode())

    def empty(self) -> str:
        """The address of a database without any table."""
        return postgres.url(self.folder, self._create())

    def migrated(self) -> str:
        """The address of a fresh database with every table."""
        template = f"template_{self.worker}"
        if not self._has_template:
            self._run(f'CREATE DATABASE "{template}" TEMPLATE template0')
            migrate(postgres.url(self.folder, template))
            self._has_template = True
        return postgres.url(self.folder, self._create(template))

    def drop(self, url: str) -> None:
        name = url.partition("@/")[2].partition("?")[0]
        self._run(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')


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
