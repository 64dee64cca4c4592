"""The database's history: it leads to the tables, back to nothing, and keeps what a club wrote."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Inspector, create_engine, inspect

import service.migrations
from service.lib.clock import FixedClock
from service.lib.database import Database, metadata
from service.lib.write import Writer
from service.migrations.running import UnknownTables, config_for, drift, migrate
from tests.builders.bundles import audit_of, make_bundles, make_cutting
from tests.infra.cast import put_cast

FOLDER = Path(service.migrations.__path__[0])


def inspected(url: str) -> dict[str, Any]:
    """Every table with its columns, keys, checks and indexes, as the database tells them."""
    engine = create_engine(url)
    try:
        inspector = inspect(engine)
        return {
            table: _told_of(inspector, table)
            for table in inspector.get_table_names()
            if table != "alembic_version"
        }
    finally:
        engine.dispose()


def _told_of(inspector: Inspector, table: str) -> dict[str, Any]:
    def names(rows: list[Any]) -> list[str]:
        return sorted(str(row["name"]) for row in rows)

    return {
        "columns": {c["name"]: (str(c["type"]), c["nullable"]) for c in inspector.get_columns(table)},
        "primary key": inspector.get_pk_constraint(table)["constrained_columns"],
        "foreign keys": names(inspector.get_foreign_keys(table)),
        "checks": {str(c["name"]): c["sqltext"] for c in inspector.get_check_constraints(table)},
        "unique": names(inspector.get_unique_constraints(table)),
        "indexes": names(inspector.get_indexes(table)),
    }


def test_the_migrations_lead_to_the_tables(database_url: str) -> None:
    assert drift(database_url) == ""


def test_a_migrated_database_equals_one_made_from_the_tables(
    database_url: str, empty_database_url: str
) -> None:
    made = Database(empty_database_url)
    metadata.create_all(made.writer)
    made.close()

    assert inspected(database_url) == inspected(empty_database_url)
    assert len(inspected(database_url)) > 30


def test_a_table_that_no_migration_knows_is_told(database_url: str) -> None:
    engine = create_engine(database_url)
    with engine.begin() as connection:
        connection.exec_driver_sql("alter table club add column motto varchar(20)")
    engine.dispose()

    assert "motto" in drift(database_url)


def test_migrating_twice_changes_nothing(database_url: str) -> None:
    before = inspected(database_url)

    migrate(database_url)

    assert inspected(database_url) == before


def test_a_database_of_a_newer_program_is_left_alone_and_said_so(database_url: str) -> None:
    engine = create_engine(database_url)
    with engine.begin() as connection:
        connection.exec_driver_sql("update alembic_version set version_num = '20991231_00_later'")
    engine.dispose()
    before = inspected(database_url)

    with pytest.raises(UnknownTables, match=r"20991231_00_later.*Nothing was changed.*back-up"):
        migrate(database_url)

    assert inspected(database_url) == before


def test_every_migration_can_be_taken_back(database_url: str) -> None:
    command.downgrade(config_for(database_url), "base")
    assert inspected(database_url) == {}

    migrate(database_url)

    assert drift(database_url) == ""


def test_the_history_is_one_line_and_its_files_are_dated() -> None:
    script = ScriptDirectory.from_config(config_for("sqlite://"))
    files = sorted(path.name for path in (FOLDER / "versions").glob("2*.py"))

    assert len(script.get_heads()) == len(script.get_bases()) == 1
    assert [Path(each.path).name for each in reversed(list(script.walk_revisions()))] == files


# -- a filled table that is rebuilt -------------------------------------------------------------------------------------

REBUILD = """
import sqlalchemy as sa
from alembic import op

revision, down_revision, branch_labels, depends_on = "rebuild", "{head}", None, None


def upgrade() -> None:
    for table in ("bundle", "party"):
        with op.batch_alter_table(table, recreate="{recreate}") as batch:
            batch.add_column(sa.Column("scent", sa.String(20), nullable=False, server_default="faint"))
    {further}


def downgrade() -> None:
    for table in ("bundle", "party"):
        with op.batch_alter_table(table) as batch:
            batch.drop_column("scent")
"""


@pytest.fixture
def with_a_further_migration(tmp_path: Path) -> Callable[..., Config]:
    """The service's own history with one more step that rebuilds two tables others refer to."""

    def configured(url: str, further: str = "pass", recreate: str = "auto") -> Config:
        folder = tmp_path / "migrations"
        shutil.copytree(FOLDER, folder, ignore=shutil.ignore_patterns("__pycache__"))
        head = ScriptDirectory.from_config(config_for(url)).get_current_head()
        text = REBUILD.format(head=head, further=further, recreate=recreate)
        (folder / "versions" / "2999-01-01-0000_rebuild.py").write_text(text)
        config = config_for(url)
        config.set_main_option("script_location", str(folder))
        return config

    return configured


def fill(url: str, clock: FixedClock) -> tuple[int, int]:
    database = Database(url)
    cast = put_cast(database)
    writer = Writer(database, clock)
    make_bundles(writer, cast.steward, make_cutting(writer, cast.steward), 5)
    found = audit_of(database)
    database.close()
    assert found.clean
    return found.bundles, found.moves


def counted(url: str) -> tuple[int, int]:
    engine = create_engine(url)
    with engine.connect() as connection:
        bundles, moves = (
            connection.exec_driver_sql(f"select count(*) from {table}").scalar_one()
            for table in ("bundle", "stick_move")
        )
    engine.dispose()
    return bundles, moves


def test_a_filled_table_survives_being_rebuilt(
    database_url: str, clock: FixedClock, with_a_further_migration: Callable[..., Config]
) -> None:
    before = fill(database_url, clock)
    constraints = inspected(database_url)["bundle"]
    config = with_a_further_migration(database_url, recreate="always" if "sqlite" in database_url else "auto")

    command.upgrade(config, "head")

    assert counted(database_url) == before
    rebuilt = inspected(database_url)["bundle"]
    assert rebuilt["columns"].pop("scent")[1] is False
    assert rebuilt == constraints
    command.downgrade(config, "-1")
    assert counted(database_url) == before
    assert drift(database_url) == ""
    database = Database(database_url)
    assert audit_of(database).clean
    database.close()


@pytest.mark.databases("sqlite")
def test_a_migration_that_breaks_references_is_taken_back_whole(
    database_url: str, clock: FixedClock, with_a_further_migration: Callable[..., Config]
) -> None:
    before, columns = fill(database_url, clock), inspected(database_url)
    config = with_a_further_migration(database_url, further='op.execute("delete from bundle")')

    with pytest.raises(RuntimeError, match="foreign keys are broken"):
        command.upgrade(config, "head")

    assert counted(database_url) == before
    assert inspected(database_url) == columns
    assert drift(database_url) == ""


@pytest.mark.databases("sqlite")
def test_the_service_itself_keeps_references_whole(database_url: str) -> None:
    database = Database(database_url)
    with database.writing_session() as session, pytest.raises(Exception, match="FOREIGN KEY"):
        session.connection().exec_driver_sql(
            "insert into party_role (party_id, role, given_at) values ('x', 'y', '2026')"
        )
    database.close()
    with contextlib.closing(sqlite3.connect(database_url.removeprefix("sqlite:///"))) as connection:
        assert connection.execute("pragma foreign_key_check").fetchall() == []
