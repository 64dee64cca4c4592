"""What a restore refuses, and what is left by a run that was cut off: never half a club, never half a file."""

from __future__ import annotations

import io
import json
import os
import shutil
import signal
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from service.cli.copying import back_up, contents_of, restore_from
from service.lib import copies
from service.lib.clock import SystemClock
from service.lib.copies.archive import seal
from service.lib.copies.problems import DamagedBackup
from service.lib.database import Database
from service.lib.settings import CHECKOUT, Settings
from service.lib.write import Writer
from service.members.actions import ensure_club
from tests.cli.copying.conftest import PICTURE, SHA, Kept

Parts = dict[str, bytes]


def rewritten(source: Path, target: Path, change: Callable[[Parts], None]) -> Path:
    """A back-up whose parts were changed; sealed again, so that only what was changed is wrong."""
    with zipfile.ZipFile(source) as opened:
        parts = {name: opened.read(name) for name in opened.namelist()}
    change(parts)
    with target.open("w+b") as file:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as out:
            out.comment = b"0" * 64
            for name, part in parts.items():
                out.writestr(name, part)
        seal(file)
    return target


def in_manifest(**told: object) -> Callable[[Parts], None]:
    def change(parts: Parts) -> None:
        parts["manifest.json"] = json.dumps({**json.loads(parts["manifest.json"]), **told}).encode()

    return change


def lose_a_line(parts: Parts) -> None:
    parts["tables/bundle.jsonl"] = b"".join(parts["tables/bundle.jsonl"].splitlines(keepends=True)[1:])


def change_a_stick(parts: Parts) -> None:
    parts["tables/stick_move.jsonl"] = parts["tables/stick_move.jsonl"].replace(b",12,", b",13,", 1)


def repaint(parts: Parts) -> None:
    parts[f"pictures/{SHA}.jpg"] = b"other"


def rename_a_table(parts: Parts) -> None:
    parts["manifest.json"] = parts["manifest.json"].replace(b'"name": "bundle"', b'"name": "bundle; drop"')


DAMAGE: dict[str, tuple[Callable[[Parts], None], str]] = {
    "a line is lost": (lose_a_line, "the table bundle"),
    "a number is changed": (change_a_stick, "the table stick_move"),
    "a table is missing": (lambda parts: parts.__delitem__("tables/party.jsonl"), "tables/party.jsonl"),
    "there is one too many": (lambda parts: parts.update({"tables/../x": b""}), "tables/../x"),
    "a picture is another": (repaint, f"the picture {SHA}"),
    "the secret is another": (lambda parts: parts.update(secret=b"0" * 32), "the secret"),
    "the manifest is no JSON": (lambda parts: parts.update({"manifest.json": b"{"}), "cannot be read"),
    "the manifest misses a field": (lambda parts: parts.update({"manifest.json": b'{"format": 1}'}), "cannot be read"),
    "a table has a strange name": (rename_a_table, "names things that no back-up has"),
    "the form is newer": (in_manifest(format=2), "form 2"),
    "the audit told something else": (
        in_manifest(audit={"bundles": 1, "moves": 1, "wrong_counters": [], "wrong_stops": [], "wrong_balances": []}),
        "ledger audit differs",
    ),
    "the tables are newer": (in_manifest(revision="29990101_01"), "newer than the program"),
}  # fmt: skip


def untouched(settings: Settings) -> bool:
    return copies.is_empty(settings.resolved_database_url()) and not (settings.data_dir / "secret").exists()


@pytest.mark.parametrize("case", sorted(DAMAGE))
def test_a_damaged_file_is_refused_and_nothing_is_changed(
    case: str,
    kept: Kept,
    empty: Callable[[str], Settings],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    change, said = DAMAGE[case]
    file = rewritten(kept.file, tmp_path / "damaged.zip", change)
    target = empty("sqlite")

    assert restore_from(file, target) == 1

    assert said in capsys.readouterr().err
    assert untouched(target)


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9, 0.9999])
def test_a_file_that_was_cut_off_is_refused(
    share: float,
    kept: Kept,
    empty: Callable[[str], Settings],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    raw = kept.file.read_bytes()
    (tmp_path / "cut.zip").write_bytes(raw[: int(len(raw) * share)])

    assert restore_from(tmp_path / "cut.zip", empty("sqlite")) == 1
    assert "cut off" in capsys.readouterr().err


def small_back_up(kind: str, folder: Path, new_database_url: Callable[..., str]) -> bytes:
    """Everything a back-up has, in few bytes: a club's row, a picture, a secret, and tables without a row."""
    settings = Settings(data_dir=folder / kind, database_url=new_database_url(kind))
    settings.prepare()
    settings.secret()
    path = settings.data_dir / "pictures" / SHA[:2] / f"{SHA}.jpg"
    path.parent.mkdir()
    path.write_bytes(PICTURE)
    database = Database(settings.database_url)
    Writer(database, SystemClock()).write_now(ensure_club, None)
    database.close()
    assert back_up(folder / f"{kind}.zip", settings) == 0
    return (folder / f"{kind}.zip").read_bytes()


@pytest.mark.parametrize("kind", ["sqlite", "postgres"])
def test_every_byte_of_a_back_up_is_covered_by_its_seal(
    kind: str, new_database_url: Callable[..., str], tmp_path: Path
) -> None:
    whole = small_back_up(kind, tmp_path, new_database_url)
    copies.Archive(io.BytesIO(whole)).verify()
    passed = []
    for place in range(len(whole)):
        for bit in range(8):
            flipped = bytearray(whole)
            flipped[place] ^= 1 << bit
            try:
                copies.Archive(io.BytesIO(flipped))
            except DamagedBackup:
                continue
            passed.append((place, bit))

    assert len(whole) > 5_000
    assert passed == []


@pytest.mark.parametrize(("before", "behind"), [(b"", b"0"), (b"0", b""), (b"", b"0" * 64)])
def test_nothing_may_be_put_before_or_behind_a_back_up(
    before: bytes, behind: bytes, kept: Kept, empty: Callable[[str], Settings], tmp_path: Path
) -> None:
    (tmp_path / "longer.zip").write_bytes(before + kept.file.read_bytes() + behind)
    target = empty("sqlite")

    assert restore_from(tmp_path / "longer.zip", target) == 1
    assert untouched(target)


@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.9, 1.0])
def test_a_bit_that_flipped_is_found_before_anything_is_written(
    share: float,
    kept: Kept,
    empty: Callable[[str], Settings],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    raw = bytearray(kept.file.read_bytes())
    raw[int(share * (len(raw) - 1))] ^= 0x10
    (tmp_path / "flipped.zip").write_bytes(raw)
    target = empty("sqlite")

    assert restore_from(tmp_path / "flipped.zip", target) == 1
    assert "damaged" in capsys.readouterr().err
    assert untouched(target)


def test_what_is_no_back_up_is_refused(
    empty: Callable[[str], Settings], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert restore_from(tmp_path / "nothing.zip", empty("sqlite")) == 1
    assert "There is no file" in capsys.readouterr().err


# -- only into what is empty -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["sqlite", "postgres"])
def test_a_database_that_holds_anything_is_refused(
    kind: str,
    kept: Kept,
    new_database_url: Callable[..., str],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    target = Settings(data_dir=tmp_path / "there", database_url=new_database_url(kind))
    before = contents_of(target.database_url)

    assert restore_from(kept.file, target) == 1

    assert "holds something already" in capsys.readouterr().err
    assert contents_of(target.database_url) == before
    assert not target.data_dir.exists()


def test_a_folder_with_another_club_s_secret_is_refused(
    kept: Kept, empty: Callable[[str], Settings], capsys: pytest.CaptureFixture[str]
) -> None:
    target = empty("sqlite")
    have = target.secret()

    assert restore_from(kept.file, target) == 1

    assert "another club’s secret" in capsys.readouterr().err
    assert target.secret() == have


def test_a_back_up_never_overwrites_and_never_makes_a_club(
    kept: Kept, empty: Callable[[str], Settings], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = kept.file.read_bytes()

    assert back_up(kept.file, kept.settings) == 1
    assert back_up(tmp_path / "none.zip", empty("sqlite")) == 1

    said = capsys.readouterr().err
    assert "exists already" in said
    assert "no club" in said
    assert kept.file.read_bytes() == before
    assert not (tmp_path / "none.zip").exists()
    assert not empty("sqlite").data_dir.exists()


def test_a_picture_that_rotted_is_told_and_left_out(
    club: Settings, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (club.data_dir / "pictures" / SHA[:2] / f"{SHA}.jpg").write_bytes(b"rotten")

    assert back_up(tmp_path / "back-up.zip", club) == 1

    assert f"{SHA}.jpg" in capsys.readouterr().err
    with copies.Archive.opened(tmp_path / "back-up.zip") as archive:
        archive.verify()
        assert archive.contents.pictures == {}


# -- cut off -----------------------------------------------------------------------------------------------------------

KILLED = """
import os, signal, sys
from pathlib import Path
from service.cli import copying
from service.lib import copies
from service.lib.copies import archive
from service.lib.settings import Settings

def die(*_, **__):
    os.kill(os.getpid(), signal.SIGKILL)

point, what, data_dir, url, file = sys.argv[1:]
if point == "among the tables":
    read = copies.lines_of
    copies.lines_of = lambda connection, shape: die() if shape.name == "stick_move" else read(connection, shape)
    load = copies.load_rows
    copies.load_rows = lambda connection, shape, lines: die() if shape.name == "stick_move" else load(connection, shape, lines)
elif point == "before it is proved":
    archive.Archive.verify = die if what == "backup" else archive.Archive.verify
    copies.sums_of = die
elif point == "before it has its name":
    Path.replace = die
    copying._put_files = die
settings = Settings(data_dir=Path(data_dir), database_url=url)
{"backup": copying.back_up, "restore": copying.restore_from}[what](Path(file), settings)
"""
POINTS = ("among the tables", "before it is proved", "before it has its name")


def killed(point: str, what: str, settings: Settings, file: Path) -> int:
    words = [point, what, str(settings.data_dir), settings.database_url, str(file)]
    return subprocess.run(
        [sys.executable, "-c", KILLED, *words], cwd=CHECKOUT, check=False, capture_output=True
    ).returncode


@pytest.mark.parametrize("point", POINTS)
def test_a_back_up_that_was_killed_leaves_no_file_that_looks_whole(
    point: str, club: Settings, tmp_path: Path
) -> None:
    file = tmp_path / "safe" / "back-up.zip"
    file.parent.mkdir()

    assert killed(point, "backup", club, file) == -signal.SIGKILL

    assert not file.exists()
    assert [path.name for path in file.parent.iterdir()] == [".back-up.zip.unfinished"]
    assert back_up(file, club) == 0
    assert list(file.parent.iterdir()) == [file]


@pytest.mark.parametrize("kind", ["sqlite", "postgres"])
@pytest.mark.parametrize("point", POINTS)
def test_a_restore_that_was_killed_leaves_nothing_and_can_be_done_again(
    point: str, kind: str, kept: Kept, empty: Callable[[str], Settings]
) -> None:
    target = empty(kind)

    assert killed(point, "restore", target, kept.file) == -signal.SIGKILL

    assert copies.is_empty(target.resolved_database_url())
    assert restore_from(kept.file, target) == 0
    assert [path.name for path in target.data_dir.iterdir() if path.name.startswith(".")] == []
    restored = contents_of(target.resolved_database_url())
    assert {**restored, "club": {}} == {**contents_of(kept.settings.resolved_database_url()), "club": {}}


def test_a_full_disk_is_told_and_leaves_nothing(
    club: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(_handle: int) -> None:
        raise OSError(28, os.strerror(28))

    (tmp_path / "safe").mkdir()
    monkeypatch.setattr(os, "fsync", full)

    assert back_up(tmp_path / "safe" / "back-up.zip", club) == 1

    assert os.strerror(28) in capsys.readouterr().err
    assert list((tmp_path / "safe").iterdir()) == []


def test_copies_of_a_back_up_are_as_good(kept: Kept, tmp_path: Path) -> None:
    shutil.copy(kept.file, tmp_path / "copy.zip")

    with copies.Archive.opened(tmp_path / "copy.zip") as archive:
        archive.verify()
        assert archive.contents.rows > 10_000
