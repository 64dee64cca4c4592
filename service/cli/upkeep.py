"""Migrating, starting, proving: what a club's administrator runs from a shell."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from service.bundles import queries as bundle_queries
from service.bundles.schemas import AuditRead
from service.catalogue.actions import digest_of_reference, load_reference
from service.catalogue.queries import reference_taken
from service.lib.clock import Clock, SystemClock
from service.lib.database import Database
from service.lib.settings import CHECKOUT, Settings
from service.lib.write import Writer
from service.members.actions import make_first_invitation, supply_all_bundles
from service.members.queries import any_account
from service.migrations.running import UnknownTables, drift, migrate
from service.provenance.actions import follow_changes
from service.provenance.queries import all_bundles


def prepare(settings: Settings, clock: Clock | None = None) -> None:
    """Everything a start needs: the data folder, the newest tables, the reference files."""
    if settings.data_dir.resolve().is_relative_to(CHECKOUT) and ".cache" not in settings.data_dir.parts:
        sys.exit(
            f"The data folder {settings.data_dir} lies inside the program's own folder; set SCION_DATA_DIR to one outside it."
        )
    settings.prepare()
    settings.secret()
    try:
        migrate(settings.resolved_database_url())
    except UnknownTables as unknown:
        sys.exit(str(unknown))
    database = Database(settings.resolved_database_url(), synchronous=settings.sqlite_synchronous)
    try:
        with database.reading() as session:
            if reference_taken(session) == digest_of_reference(settings.reference_dir):
                return
        writer = Writer(database, clock or SystemClock())
        follow_changes(writer)
        supply_all_bundles(all_bundles)
        writer.write_now(load_reference, None, settings.reference_dir)
    finally:
        database.close()


_EVERY = {"0.0.0.0": "127.0.0.1", "::": "::1"}  # noqa: S104 - told where it was set, never set here


def reached_at(host: str, port: int) -> str:
    """What a browser on this machine can open. A host that means every address of it leads nowhere as it stands."""
    host = _EVERY.get(host, host)
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def first_link(settings: Settings, address: str) -> str | None:
    """The first administrator's one-time link, while nobody can sign in."""
    database = Database(settings.resolved_database_url())
    try:
        with database.reading() as session:
            if any_account(session):
                return None
        made = Writer(database, SystemClock()).write_now(make_first_invitation, None)
        return address + made.path
    finally:
        database.close()


def migrate_club() -> int:
    prepare(Settings())
    print("The database is up to date.")
    return 0


def check_drift() -> int:
    """Migrate a database that is thrown away and compare it with the tables."""
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'drift.sqlite3'}"
        migrate(url)
        found = drift(url)
    if found:
        print(f"Tables and migrations differ: {found}\nWrite a migration for the change.", file=sys.stderr)
        return 1
    print("Tables and migrations agree.")
    return 0


def print_first_link() -> int:
    settings = Settings()
    prepare(settings)
    link = first_link(settings, reached_at(settings.host, settings.port))
    print(link or "Somebody can sign in already: an administrator makes invitations on the people page.")
    return 0 if link else 1


# -- proof ---------------------------------------------------------------------------------------------------------


def check_ledger() -> int:
    found = audit(Settings().resolved_database_url())
    print(f"{found.bundles} bundles, {found.moves} lines in the ledger.")
    for line in (*found.wrong_counters, *found.wrong_stops, *found.wrong_balances):
        print(f"  wrong: {line}", file=sys.stderr)
    print("Everything adds up." if found.clean else "Something does not add up.")
    return 0 if found.clean else 1


def audit(url: str) -> AuditRead:
    database = Database(url)
    try:
        with database.reading() as session:
            return bundle_queries.audit(session)
    finally:
        database.close()
