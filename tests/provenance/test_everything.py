"""The whole record as plain tables, in one ZIP of CSV and in one workbook."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Event, Thread

import anyio
import openpyxl
import pytest
from sqlalchemy import LargeBinary, func, select

import service.migrations.tables  # noqa: F401  (every stage's tables)
from service.cli.exporting import export_everything
from service.lib.database import Database, metadata
from service.lib.sending import send_made
from service.lib.settings import Settings
from service.lib.write import Writer
from service.provenance.queries import write_everything
from service.provenance.queries.everything import tables_to_take_away
from service.provenance.rules.taking_away import READINGS, STAYS, NoRoomToWrite, TakenAs
from service.storage import actions
from service.storage.rules import TempUnit
from tests.builders.loggers import batch, make_logger, send
from tests.builders.provenance import Yard
from tests.builders.storage import make_ground
from tests.builders.trees import change, make_tree, read_tree
from tests.infra.demo import kept_demo

AT = datetime(2026, 2, 14, 10, tzinfo=UTC)
Tables = dict[str, list[dict[str, str]]]


def read_zip(path: Path) -> Tables:
    """By the standard library alone, as a stranger to the service would."""
    with zipfile.ZipFile(path) as packed:
        assert packed.testzip() is None
        names = [name for name in packed.namelist() if name.endswith(".csv")]
        return {
            name.removesuffix(".csv"): list(
                csv.DictReader(io.TextIOWrapper(packed.open(name), "utf-8-sig", newline=""))
            )
            for name in names
        }


def counts_of(database: Database) -> dict[str, int]:
    with database.reading() as session:
        return {
            name: session.execute(select(func.count()).select_from(table)).scalar_one()
            for name, table in metadata.tables.items()
            if name not in STAYS
        }


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Settings:
    return kept_demo(tmp_path_factory.mktemp("demo"))


@pytest.fixture
def demo(kept: Settings) -> Iterator[Database]:
    database = Database(kept.resolved_database_url())
    yield database
    database.close()


def test_every_table_and_column_is_taken_or_stays_for_a_reason() -> None:
    taken = {table.name: table.header for table in tables_to_take_away()}

    assert set(taken) - {READINGS} == set(metadata.tables) - set(STAYS)
    assert all(table.words for table in tables_to_take_away())
    for name, table in metadata.tables.items():
        if name in STAYS:
            continue
        wanted = {column.name for column in table.columns if not isinstance(column.type, LargeBinary)}
        assert wanted <= set(taken[name]), name
        assert len(set(taken[name])) == len(taken[name]), name
    secret = re.compile(r"password|csrf|token|secret|hash")
    assert [head for header in taken.values() for head in header if secret.search(head)] == []


@pytest.mark.databases("sqlite")
def test_a_whole_season_is_the_same_in_the_record_in_the_zip_and_in_the_workbook(
    demo: Database, tmp_path: Path
) -> None:
    zipped, book = tmp_path / "all.zip", tmp_path / "all.xlsx"

    assert write_everything(demo, zipped, TakenAs.ZIP, AT) == write_everything(demo, book, TakenAs.XLSX, AT)

    tables, counts = read_zip(zipped), counts_of(demo)
    assert {name: len(rows) for name, rows in tables.items() if name != READINGS} == counts
    assert counts["bundle"] > 300 and len(tables[READINGS]) > 1000
    # XlsxWriter wrote it; openpyxl reads it.
    sheets = openpyxl.load_workbook(book, read_only=True)
    told = {
        name: max(0, sum(1 for _ in sheets[name].iter_rows()) - 1)
        for name in sheets.sheetnames
        if name != "about"
    }
    assert told == {name[:31]: len(rows) for name, rows in tables.items()}
    trees = {row["number"]: row for row in tables["source_tree"]}
    names = {row["id"]: row["name"] for row in tables["party"]}
    assert {row["owner"] for row in trees.values()} == {names[row["owner_id"]] for row in trees.values()}
    cut = next(row for row in tables["collection"] if row["kind"] == "cut")
    assert trees[cut["tree"]]["id"] == cut["tree_id"]
    with zipfile.ZipFile(zipped) as packed:
        about = packed.read("README.txt").decode()
    assert all(name in about for name in (*tables, *STAYS))


def test_readings_are_told_digit_by_digit_as_they_came(writer: Writer, tmp_path: Path) -> None:
    ground = make_ground(writer)
    logger = make_logger(writer, ground, "Under the stairs")
    told = [
        (AT - timedelta(minutes=5 * turn), value)
        for turn, value in enumerate(("3.40", ("-0.5", "91"), "4", "28.75"))
    ]
    send(writer, ground, logger.id, told[:3])
    writer.write_now(actions.send_readings, ground.host, logger.id, batch(told[3:], TempUnit.F))

    write_everything(writer.database, tmp_path / "all.zip", TakenAs.ZIP, AT)

    rows = read_zip(tmp_path / "all.zip")[READINGS]
    assert [(row["logger"], row["at"], float(row["temp_as_given"]), row["unit"], row["humidity_pct"]) for row in rows] == [
        ("Under the stairs", "2026-02-14T09:45:00Z", 28.75, "F", ""), ("Under the stairs", "2026-02-14T09:50:00Z", 4.0, "C", ""),
        ("Under the stairs", "2026-02-14T09:55:00Z", -0.5, "C", "91"), ("Under the stairs", "2026-02-14T10:00:00Z", 3.4, "C", ""),
    ]  # fmt: skip


def test_what_begins_like_a_formula_is_text_in_both_and_nothing_else_is_changed(
    yard: Yard, tmp_path: Path
) -> None:
    tree = make_tree(yard.writer, yard.cast.steward, yard.orchard)
    note = '=HYPERLINK("http://elsewhere.example","a prize")'
    change(
        yard.writer,
        yard.cast.steward,
        read_tree(yard.database, tree.id),
        note=note,
        where_on_site="row 3, “Ä”, 木; -2",
    )

    write_everything(yard.database, tmp_path / "all.zip", TakenAs.ZIP, AT)
    write_everything(yard.database, tmp_path / "all.xlsx", TakenAs.XLSX, AT)

    (row,) = (row for row in read_zip(tmp_path / "all.zip")["source_tree"] if row["id"] == str(tree.id))
    assert (row["note"], row["where_on_site"]) == ("'" + note, "row 3, “Ä”, 木; -2")
    sheet = openpyxl.load_workbook(tmp_path / "all.xlsx")["source_tree"]
    heads = [cell.value for cell in sheet[1]]
    (cells,) = (
        cells for cells in sheet.iter_rows(min_row=2) if cells[heads.index("id")].value == str(tree.id)
    )
    assert (cells[heads.index("note")].data_type, cells[heads.index("note")].value) == ("s", note)
    assert cells[heads.index("number")].data_type == "n"


def test_it_is_one_state_of_the_record_however_much_is_written_meanwhile(yard: Yard, tmp_path: Path) -> None:
    yard.cut(*[4] * 20)
    done, made = Event(), []

    def cut_on() -> None:
        while not done.is_set() and len(made) < 200:
            made.append(yard.cut(2, 3))

    cutter = Thread(target=cut_on)
    cutter.start()
    try:
        for turn in range(5):
            write_everything(yard.database, tmp_path / f"{turn}.zip", TakenAs.ZIP, AT)
    finally:
        done.set()
        cutter.join()

    assert len(made) > 1
    for turn in range(5):
        tables = read_zip(tmp_path / f"{turn}.zip")
        came_in: Counter[str] = Counter()
        for move in tables["stick_move"]:
            came_in[move["bundle_id"]] += int(move["came_in"])
        assert came_in == Counter({row["id"]: int(row["came_in"]) for row in tables["bundle"]})
        assert {row["thing_id"] for row in tables["tag"]} >= {row["id"] for row in tables["bundle"]}


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("form", list(TakenAs))
def test_a_full_disk_is_told_and_leaves_nothing(yard: Yard, tmp_path: Path, form: TakenAs) -> None:
    full = tmp_path / f"all.{form.value}"
    full.symlink_to("/dev/full")  # where every write is refused for want of room

    with pytest.raises(NoRoomToWrite):
        write_everything(yard.database, full, form, AT)

    assert list(tmp_path.iterdir()) == []


@pytest.mark.databases("sqlite")
def test_the_command_writes_a_new_file_whole_or_none(
    kept: Settings, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    taken = tmp_path / "all.zip"

    assert export_everything(taken, kept) == 0
    assert "Wrote" in capsys.readouterr().out
    assert len(read_zip(taken)["source_tree"]) > 100
    assert taken.stat().st_mode & 0o077 == 0
    assert export_everything(taken, kept) == 1
    assert export_everything(tmp_path / "all.ods", kept) == 2
    assert export_everything(tmp_path, kept) == 0
    nowhere = Settings(database_url=f"sqlite:///{tmp_path}/none.sqlite3", data_dir=tmp_path / "data")
    assert export_everything(tmp_path / "none.zip", nowhere) == 1
    assert not list(tmp_path.glob("*none*")) and not list(tmp_path.glob(".*"))


@pytest.mark.parametrize("wanted", ["bytes=0-3", "bytes=99-", "nonsense"])
def test_a_file_that_was_sent_is_gone_whatever_part_of_it_was_asked_for(portal, wanted: str) -> None:
    made: list[Path] = []

    def make(path: Path) -> None:
        made.append(path)
        path.write_bytes(b"a record")

    async def serve() -> int:
        answer, heard = await send_made(make, "everything.zip", "application/zip"), list[int]()

        async def send(message) -> None:
            heard.append(message.get("status", 0))

        scope = {"type": "http", "method": "GET", "headers": [(b"range", wanted.encode())], "extensions": {}}

        async def receive():
            await anyio.sleep_forever()

        await answer(scope, receive, send)
        return heard[0]

    assert portal.call(serve) in (200, 206, 400, 416)
    assert made[0].name == "everything.zip" and not made[0].parent.exists()
