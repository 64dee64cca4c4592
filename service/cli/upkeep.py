"""Migrating, backing up, restoring, proving: what a club's administrator runs from a shell."""

from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing
from pathlib import Path

from sqlalchemy.engine import make_url

from service.bundles import queries as bundle_queries
from service.bundles.schemas import AuditRead
from service.catalogue.actions import load_reference
from service.lib.clock import Clock, SystemClock
from service.lib.database import Database
from service.lib.settings import CHECKOUT, Settings
from service.lib.write import Writer
from service.members.actions import make_first_invitation, supply_all_bundles
from service.members.queries import any_account
from service.migrations.running import drift, migrate
from service.provenance.actions import follow_changes
from service.provenance.queries import all_bundles

DATABASE_FILE = "club.sqlite3"
LIST = "contents.json"


def prepare(settings: Settings, clock: Clock | None = None) -> None:
    """Everything a start needs: the data folder, the newest tables, the reference files."""
    if settings.data_dir.resolve().is_relative_to(CHECKOUT) and ".cache" not in settings.data_dir.parts:
        sys.exit(
            f"The data folder {settings.data_dir} lies inside the program's own folder; set SCION_DATA_DIR to one outside it."
        )
    settings.prepare()
    settings.secret()
    migrate(settings.resolved_database_url())
    database = Database(settings.resolved_database_url(), synchronous=settings.sqlite_synchronous)
    try:
        writer = Writer(database, clock or SystemClock())
        follow_changes(writer)
        supply_all_bundles(all_bundles)
        writer.write_now(load_reference, None, settings.reference_dir)
    finally:
        database.close()


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
    link = first_link(settings, f"http://{settings.host}:{settings.port}")
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


# -- back-up and restore -------------------------------------------------------------------------------------------


def back_up(target: Path, settings: Settings | None = None) -> int:
    """Write the club into a new folder while it serves, then prove the copy."""
    settings = settings or Settings()
    if target.exists():
        print(f"{target} exists already; name a folder that does not.", file=sys.stderr)
        return 1
    work = target.with_name(target.name + ".unfinished")
    shutil.rmtree(work, ignore_errors=True)
    work.mkdir(parents=True, mode=0o700)
    _dump_database(settings.resolved_database_url(), work)
    for name in ("secret", "pictures"):
        source = settings.data_dir / name
        if source.is_dir():
            shutil.copytree(source, work / name)
        elif source.exists():
            shutil.copy2(source, work / name)
    files = sorted(path for path in work.rglob("*") if path.is_file())
    (work / LIST).write_text(json.dumps({str(p.relative_to(work)): _digest(p) for p in files}, indent=1))
    if _prove(work):
        return 1
    work.rename(target)
    print(
        f"Backed up into {target}: {len(files)} files, {sum(p.stat().st_size for p in target.rglob('*') if p.is_file()):,} bytes."
    )
    print("Keep it as safe as the club's own papers: it holds names, contacts and the service's secret.")
    return 0


def _dump_database(url: str, work: Path) -> None:
    parsed = make_url(url)
    if parsed.get_backend_name() == "sqlite":
        with (
            closing(sqlite3.connect(str(parsed.database))) as source,
            closing(sqlite3.connect(work / DATABASE_FILE)) as copy,
        ):
            source.backup(copy)
            copy.execute("PRAGMA journal_mode=DELETE")
        return
    plain = parsed.set(drivername="postgresql").render_as_string(hide_password=False)
    subprocess.run(["pg_dump", "--format=custom", f"--file={work / 'club.pgdump'}", plain], check=True)  # noqa: S603, S607


def restore_from(source: Path, settings: Settings | None = None) -> int:
    """Bring a back-up into an empty data folder (and an empty database, where it is PostgreSQL), then prove it."""
    settings = settings or Settings()
    if not (source / LIST).is_file():
        print(f"{source} is no finished back-up: it has no {LIST}.", file=sys.stderr)
        return 1
    if _prove(source):
        return 1
    url = settings.resolved_database_url()
    taken = [name for name in (DATABASE_FILE, "secret") if (settings.data_dir / name).exists()]
    if taken:
        print(
            f"{settings.data_dir} holds a club already ({', '.join(taken)}); restore into an empty folder.",
            file=sys.stderr,
        )
        return 1
    settings.prepare()
    if (source / DATABASE_FILE).exists():
        shutil.copy2(source / DATABASE_FILE, settings.data_dir / DATABASE_FILE)
    else:
        plain = make_url(url).set(drivername="postgresql").render_as_string(hide_password=False)
        dump = str(source / "club.pgdump")
        subprocess.run(["pg_restore", "--no-owner", "--exit-on-error", f"--dbname={plain}", dump], check=True)  # noqa: S603, S607
    if (source / "pictures").is_dir():
        shutil.copytree(source / "pictures", settings.data_dir / "pictures", dirs_exist_ok=True)
    if (source / "secret").exists():
        shutil.copy2(source / "secret", settings.data_dir / "secret")
        (settings.data_dir / "secret").chmod(0o600)
    migrate(url)
    found = audit(url)
    print(f"Restored {found.bundles} bundles and {found.moves} lines of the ledger.")
    print("Everything adds up." if found.clean else "Restored, but something does not add up: run `check`.")
    return 0 if found.clean else 1


def _prove(folder: Path) -> int:
    """Compare a back-up with its own list, and the database file with itself."""
    told = json.loads((folder / LIST).read_text())
    wrong = [
        name
        for name, digest in told.items()
        if not (folder / name).is_file() or _digest(folder / name) != digest
    ]
    if wrong:
        print(f"The back-up is damaged: {', '.join(wrong)}. Nothing was changed.", file=sys.stderr)
        return 1
    if (folder / DATABASE_FILE).exists():
        with closing(sqlite3.connect(f"file:{folder / DATABASE_FILE}?mode=ro", uri=True)) as copy:
            said = copy.execute("PRAGMA integrity_check").fetchone()[0]
        if said != "ok":
            print(f"The database in the back-up is damaged: {said}", file=sys.stderr)
            return 1
    return 0


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
