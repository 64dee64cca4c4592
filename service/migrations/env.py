"""Runs the migrations on either database; SQLite rebuilds tables, so its foreign keys are checked after."""

from __future__ import annotations

from alembic import context
from sqlalchemy import create_engine, event, pool, text
from sqlalchemy.engine import Connection

import service.migrations.tables  # noqa: F401  (every stage's tables, for comparing)
from service.lib.database import metadata

config = context.config


def _run(connection: Connection) -> None:
    context.configure(
        connection=connection, target_metadata=metadata, render_as_batch=True, compare_type=True, transaction_per_migration=False,
    )  # fmt: skip
    with context.begin_transaction():
        context.run_migrations()


def run() -> None:
    given = config.attributes.get("connection")
    if given is not None:  # inside a transaction of whoever gave it
        _run(given)
        return
    url = config.get_main_option("sqlalchemy.url") or ""
    engine = create_engine(url, poolclass=pool.NullPool)
    if engine.dialect.name == "sqlite":

        @event.listens_for(engine, "connect")
        def _on_connect(connection: object, _record: object) -> None:
            connection.isolation_level = None  # type: ignore[attr-defined]
            connection.execute("PRAGMA foreign_keys=OFF")  # type: ignore[attr-defined]
            connection.execute("PRAGMA journal_mode=WAL")  # type: ignore[attr-defined]

        @event.listens_for(engine, "begin")
        def _on_begin(connection: Connection) -> None:
            connection.exec_driver_sql("BEGIN IMMEDIATE")

    # Begun here, so that nothing is committed before the references were looked at.
    with engine.connect() as connection, connection.begin():
        _run(connection)
        if engine.dialect.name == "sqlite":
            broken = connection.execute(text("PRAGMA foreign_key_check")).fetchall()
            if broken:
                raise RuntimeError(f"foreign keys are broken after the migration: {broken[:5]}")


run()
