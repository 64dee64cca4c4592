"""A back-up brings everything back, on either database and from one to the other, and the record goes on from there."""

from __future__ import annotations

import hashlib
import json
import os
import stat
import subprocess
import sys
import threading
import zipfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from alembic import command

import service.migrations.tables  # noqa: F401  (every stage's tables)
from service.bundles import queries as bundle_queries
from service.cli import copying
from service.cli.copying import back_up, contents_of, restore_from
from service.cli.upkeep import audit
from service.lib import copies
from service.lib.clock import FixedClock
from service.lib.copies.rows import kind_of
from service.lib.database import Database, metadata
from service.lib.settings import CHECKOUT, Settings
from service.lib.write import Writer
from service.migrations.running import config_for, newest_revision
from tests.builders.bundles import Cutting, make_bundle, make_cutting
from tests.cli.copying.conftest import PICTURE, SHA, Kept
from tests.infra.cast import Cast, put_cast
from tests.infra.web import Client


def manifest(file: Path) -> dict[str, Any]:
    with zipfile.ZipFile(file) as opened:
        found: dict[str, Any] = json.loads(opened.read("manifest.json"))
    return found


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


# -- there and back --------------------------------------------------------------------------------------------------


def test_from_sqlite_to_postgresql_and_back_nothing_changes(
    kept: Kept, empty: Callable[[str], Settings], tmp_path: Path
) -> None:
    over, back = empty("postgres"), empty("sqlite")

    assert restore_from(kept.file, over) == 0
    assert back_up(tmp_path / "second.zip", over) == 0
    assert restore_from(tmp_path / "second.zip", back) == 0
    assert back_up(tmp_path / "third.zip", back) == 0

    told = [manifest(file) for file in (kept.file, tmp_path / "second.zip", tmp_path / "third.zip")]
    # The time of the back-up before it is noted in what was backed up then, and so differs.
    for each in told:
        each["tables"] = [table for table in each["tables"] if table["name"] != "club"]
        each["tables"].sort(key=lambda table: table["name"])
        del each["made_at"]
    assert told[0] == told[1] == told[2]
    assert told[0]["audit"]["bundles"] == 430
    assert told[0]["pictures"] == {SHA: len(PICTURE)}
    for settings in (over, back):
        assert settings.secret() == kept.settings.secret()
        assert mode(settings.data_dir / "secret") == 0o600
        assert (settings.data_dir / "pictures" / SHA[:2] / f"{SHA}.jpg").read_bytes() == PICTURE
        assert audit(settings.resolved_database_url()) == audit(kept.settings.resolved_database_url())


def test_the_file_is_plain_text_for_its_owner_alone(kept: Kept) -> None:
    with zipfile.ZipFile(kept.file) as opened:
        names, seal = opened.namelist(), opened.comment
        lines = opened.read("tables/stick_move.jsonl").decode().splitlines()
    (moves,) = [table for table in manifest(kept.file)["tables"] if table["name"] == "stick_move"]

    assert mode(kept.file) == 0o600
    assert {name.split("/")[0] for name in names} == {"tables", "pictures", "secret", "manifest.json"}
    assert seal.decode() == hashlib.sha256(kept.file.read_bytes()[:-64]).hexdigest()
    assert len(lines) == moves["rows"] == 742
    assert dict(zip(moves["columns"], json.loads(lines[0]), strict=True))["kind"] == "collected"
    assert manifest(kept.file)["revision"] == newest_revision()


def test_every_column_is_read_the_same_way_on_both_databases(database: Database) -> None:
    with copies.snapshot(database) as connection:
        shapes = {shape.name: dict(shape.columns) for shape in copies.shapes_of(connection)}

    assert shapes == {
        table.name: {column.name: kind_of(column.type) for column in table.columns}
        for table in metadata.sorted_tables
    }


@pytest.mark.parametrize("kind", ["sqlite", "postgres"])
def test_the_record_goes_on_after_a_restore(
    kind: str, database: Database, writer: Writer, cast: Cast, clock: FixedClock, data_dir: Path,
    empty: Callable[[str], Settings], tmp_path: Path,
) -> None:  # fmt: skip
    cutting = make_cutting(writer, cast.steward)
    make_bundle(writer, cast.steward, cutting)
    source, target = Settings(data_dir=data_dir, database_url=database.url), empty(kind)
    assert back_up(tmp_path / "back-up.zip", source) == 0
    assert restore_from(tmp_path / "back-up.zip", target) == 0

    restored = Database(target.resolved_database_url())
    made = make_bundle(Writer(restored, clock), cast.steward, cutting)
    with restored.reading() as session:
        found = bundle_queries.audit(session)
        facts = bundle_queries.facts_for_bundles(session, [made.id])
    restored.close()

    assert facts[made.id].on_hand == 12
    assert (found.bundles, found.moves, found.clean) == (2, 2, True)


def test_an_older_back_up_is_brought_up_to_date(
    database_url: str, data_dir: Path, tmp_path: Path, empty: Callable[[str], Settings]
) -> None:
    database = Database(database_url)
    put_cast(database)
    database.close()
    command.downgrade(config_for(database_url), "20261125_08_grafting")
    source, target = Settings(data_dir=data_dir, database_url=database_url), empty("sqlite")

    assert back_up(tmp_path / "old.zip", source) == 0
    assert restore_from(tmp_path / "old.zip", target) == 0

    before, after = contents_of(database_url), contents_of(target.resolved_database_url())
    assert manifest(tmp_path / "old.zip")["revision"] != newest_revision()
    assert manifest(tmp_path / "old.zip")["audit"] is None
    # A table that has got columns since has the same rows, and cannot have the same digest.
    grown = {"club", "party"}
    assert {name: after[name] for name in before if name not in grown} == {
        name: told for name, told in before.items() if name not in grown
    }
    assert {name: after[name]["rows"] for name in grown} == {name: before[name]["rows"] for name in grown}
    assert len(after) > len(before)


# -- while clients write -----------------------------------------------------------------------------------------------


def write_on(
    writer: Writer, cast: Cast, cutting: Cutting, stop: threading.Event, done: list[datetime]
) -> None:
    while not stop.is_set():
        make_bundle(writer, cast.steward, cutting)
        done.append(datetime.now(UTC))


def test_a_back_up_made_while_clients_write_is_one_state(
    database: Database, writer: Writer, cast: Cast, data_dir: Path, tmp_path: Path,
    empty: Callable[[str], Settings], monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    cutting = make_cutting(writer, cast.steward)
    settings, target = Settings(data_dir=data_dir, database_url=database.url), empty("sqlite")
    stop, done, seen = threading.Event(), [], []
    read = copies.lines_of

    def slowly(connection: Any, shape: copies.Shape) -> Iterator[bytes]:
        """Each table of the ledger is read only after further bundles were written."""
        if shape.name in {"collection", "bundle", "stick_move"}:
            so_far = len(done)
            while len(done) < so_far + 5:
                stop.wait(0.01)
            seen.append(len(done))
        return read(connection, shape)

    monkeypatch.setattr(copies, "lines_of", slowly)
    thread = threading.Thread(target=write_on, args=(writer, cast, cutting, stop, done))
    thread.start()
    try:
        while len(done) < 5:
            stop.wait(0.01)
        status = back_up(tmp_path / "back-up.zip", settings)
    finally:
        stop.set()
        thread.join()

    assert status == 0
    assert len(seen) == 3
    assert seen == sorted(set(seen))
    assert restore_from(tmp_path / "back-up.zip", target) == 0
    found = audit(target.resolved_database_url())
    assert found.clean
    assert 5 <= found.bundles == found.moves < seen[0]


# -- by command --------------------------------------------------------------------------------------------------------


def test_the_commands_work_from_a_shell(
    kept: Kept, tmp_path: Path, new_database_url: Callable[..., str]
) -> None:
    def run(*words: str | Path, **settings: str) -> subprocess.CompletedProcess[str]:
        clean = {name: value for name, value in os.environ.items() if not name.startswith("SCION_")}
        return subprocess.run(
            [sys.executable, "-m", "service", *words], cwd=CHECKOUT, env={**clean, **settings}, capture_output=True, text=True, check=False,
        )  # fmt: skip

    (tmp_path / "safe").mkdir()
    backed = run("backup", tmp_path / "safe", SCION_DATA_DIR=str(kept.settings.data_dir))
    (file,) = (tmp_path / "safe").iterdir()
    there = {
        "SCION_DATA_DIR": str(tmp_path / "there"),
        "SCION_DATABASE_URL": new_database_url("postgres", migrated=False),
    }
    restored = run("restore", file, **there)

    assert (backed.returncode, backed.stderr) == (0, "")
    assert backed.stdout.startswith(f"Backed up into {file}: ")
    assert file.name.startswith(f"club-{datetime.now(UTC):%Y-%m-%d}")
    assert (restored.returncode, restored.stderr) == (0, "")
    assert "Everything adds up." in restored.stdout


def test_the_time_of_the_last_back_up_is_told(
    client: Callable[[str], Client], database: Database, data_dir: Path, tmp_path: Path
) -> None:
    assert client("steward").get("/api/club").json()["last_backup_at"] is None
    before = datetime.now(UTC)

    assert back_up(tmp_path / "back-up.zip", Settings(data_dir=data_dir, database_url=database.url)) == 0

    told = datetime.fromisoformat(client("steward").get("/api/club").json()["last_backup_at"])
    assert before <= told <= datetime.now(UTC)


class _Terminal:
    def __init__(self) -> None:
        self.said = ""

    def isatty(self) -> bool:
        return True

    def write(self, words: str) -> None:
        self.said += words

    def flush(self) -> None:
        pass


def test_a_long_run_tells_how_far_it_is_on_a_terminal_alone(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    quiet = copying.Progress("Reading")
    quiet("bundle", 2000)
    quiet.end()
    assert capsys.readouterr().err == ""
    terminal = _Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)

    shown = copying.Progress("Reading")
    shown("bundle", 1_234_000)
    shown.end()

    assert "Reading bundle: 1,234,000 rows" in terminal.said
    assert terminal.said.endswith("\r\x1b[K")


# -- memory --------------------------------------------------------------------------------------------------------------

FILL = {
    "sqlite": (
        "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < {rows}) "
        "INSERT INTO kept_answer (owner_id, key, fingerprint, body, made_at) SELECT '00000000000000000000000000000001', "
        "printf('%032d', i), '{sign}', '{body}', '2026-02-14 10:00:00.000000' FROM n"
    ),
    "postgresql": (
        "INSERT INTO kept_answer (owner_id, key, fingerprint, body, made_at) SELECT "
        "'00000000-0000-0000-0000-000000000001', lpad(i::text, 32, '0'), '{sign}', '{body}', '2026-02-14 10:00:00+00' "
        "FROM generate_series(1, {rows}) AS n(i)"
    ),
}
MEASURE = """
import resource, sys
from pathlib import Path
from service.cli.copying import back_up, restore_from
from service.lib.settings import Settings
folder = Path(sys.argv[2])
source, target = Settings(data_dir=folder, database_url=sys.argv[1]), Settings(data_dir=folder / "new", database_url=sys.argv[3])
assert back_up(folder / "back-up.zip", source) == 0 and restore_from(folder / "back-up.zip", target) == 0
# getrusage would tell the peak of whoever started this process, where that was higher.
status = Path("/proc/self/status")
here = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // (1024 if sys.platform == "darwin" else 1)
print("peak", status.read_text().split("VmHWM:")[1].split()[0] if status.exists() else here)
"""


def peak_mib(url: str, folder: Path, target: str, rows: int) -> float:
    database = Database(url)
    with database.writing_session() as session:
        words = FILL[database.writer.dialect.name].format(rows=rows, sign="a" * 64, body="b" * 300)
        session.connection().exec_driver_sql(words)
        session.commit()
    database.close()
    folder.mkdir()
    done = subprocess.run(
        [sys.executable, "-c", MEASURE, url, str(folder), target],
        cwd=CHECKOUT,
        capture_output=True,
        text=True,
        check=True,
    )
    return int(done.stdout.split("peak")[1]) / 1024


def test_memory_stays_flat_however_long_the_record(
    database_kind: str, new_database_url: Callable[..., str], tmp_path: Path
) -> None:
    def peak(rows: int) -> float:
        target = new_database_url(database_kind, migrated=False) if database_kind == "postgres" else ""
        return peak_mib(new_database_url(database_kind), tmp_path / str(rows), target, rows)

    few, many = peak(1_000), peak(60_000)

    # 59,000 rows of 470 signs are 26 MiB as bare text and over 50 as rows of Python; SQLite's page cache may take 16.
    assert many - few < 24
