"""The demo as a person meets it: one command, this machine alone, its own today, gone afterwards; and its drill."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import httpx
import pytest

from service.cli import demo_folder, demonstrating
from service.cli.copying import contents_of
from service.cli.demonstrating import load_demo, settings_for
from service.cli.season import DEMO_DIR, read_settings
from service.cli.upkeep import prepare
from service.lib.database import Database
from service.lib.settings import CHECKOUT, Settings
from tests.infra.demo import kept_demo

pytestmark = pytest.mark.usefixtures("no_port_set")


@pytest.fixture
def no_port_set(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("PORT", raising=False)


@contextmanager
def started(
    temporary: Path, *words: str, until: str = "Ctrl-C", **environment: str
) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """The demo in a process of its own, and all it said before it began to serve."""
    settings = {**os.environ, "TMPDIR": str(temporary), "PYTHONUNBUFFERED": "1", **environment}
    process = subprocess.Popen(
        [sys.executable, "-m", "service", "demo", *words], cwd=CHECKOUT, env=settings, stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    said = ""
    try:
        for line in process.stdout:
            said += line
            if line.startswith(until):
                break
        yield process, said
    finally:
        process.kill()
        process.wait(10)
        process.stdout.close()


def test_the_demo_runs_shows_the_way_in_and_leaves_nothing(tmp_path: Path) -> None:
    with started(tmp_path, PORT="0", SCION_HOST="0.0.0.0") as (process, said):
        address = re.search(r"The demo is at (http://127\.0\.0\.1:\d+) \(loaded in \d+\.\d s\)", said)
        assert address is not None, said
        for role in ("member", "collector", "host", "steward", "health steward", "administrator"):
            assert re.search(rf"(?m)^  \w+ +{role}: ", said)
        for path in re.findall(rf"{re.escape(address[1])}(/T/\w+)", said):
            assert httpx.get(address[1] + path, headers={"accept": "text/html"}).status_code == 200
        assert len(list(tmp_path.glob("scion-demo-*"))) == 1
        process.send_signal(signal.SIGINT)
        last, _ = process.communicate(timeout=20)

    assert process.returncode == 0
    assert "The demo has stopped." in last
    assert "Traceback" not in last
    assert list(tmp_path.iterdir()) == []


def test_a_demo_that_is_ended_while_it_loads_leaves_nothing(tmp_path: Path) -> None:
    with started(tmp_path, until="Loading", PORT="0") as (process, _):
        while not list(tmp_path.glob("scion-demo-*/*.sqlite3")):
            assert process.poll() is None
            time.sleep(0.05)
        process.send_signal(signal.SIGTERM)
        last, _ = process.communicate(timeout=20)

    assert "The demo has stopped." in last
    assert "Traceback" not in last
    assert list(tmp_path.iterdir()) == []


def test_it_listens_on_this_machine_alone(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("SCION_HOST", "0.0.0.0")

    assert settings_for(tmp_path).host == "127.0.0.1"


@pytest.mark.parametrize(
    "port, environment, expected",
    [(None, None, 8000), (None, "8017", 8017), (8023, "8017", 8023), (0, "8017", 0)],
)
def test_the_port_told_goes_before_the_environment(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, port: int | None, environment: str | None, expected: int
) -> None:
    if environment is not None:
        monkeypatch.setenv("PORT", environment)

    assert settings_for(tmp_path, port).port == expected


def test_the_folder_that_was_set_is_used_and_kept(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("SCION_DATA_DIR", str(tmp_path / "mine"))

    with demonstrating._folder(drill=False) as told, demonstrating._folder(drill=True) as own:
        assert told == tmp_path / "mine"
        assert own.is_relative_to(tempfile.gettempdir())
    assert not own.exists()


# -- kept and opened again ---------------------------------------------------------------------------------------------


def opened(settings: Settings, *, fresh: bool = False) -> demonstrating.Loaded:
    loaded = load_demo(settings, fresh=fresh)
    loaded.app.state.database.close()
    return loaded


def test_a_kept_demo_is_opened_again_as_it_was_left(tmp_path: Path) -> None:
    settings = kept_demo(tmp_path / "demo")
    first = opened(settings)
    codes = contents_of(settings.resolved_database_url())["tag"]
    left = first.season.now + timedelta(hours=3)
    demo_folder.mark_told(settings, first.season, left)

    again = opened(settings)

    assert again.again
    assert contents_of(settings.resolved_database_url())["tag"] == codes
    assert again.season == replace(first.season, now=left)
    assert left <= again.app.state.clock.now() < left + timedelta(minutes=5)
    assert "opened again in" in demonstrating.welcome(again, "http://here")
    assert (
        f"{first.season.now:%Y-%m-%d}"
        == f"{read_settings(DEMO_DIR)['now']:%Y-%m-%d}"
        == f"{settings.fixed_now:%Y-%m-%d}"
    )


def test_a_kept_demo_can_begin_anew_and_what_was_cut_off_is_told_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings = kept_demo(tmp_path / "demo")
    first = opened(settings)
    (settings.data_dir / "notes.txt").write_text("mine")
    with monkeypatch.context() as patched, pytest.raises(ZeroDivisionError):
        patched.setattr(demonstrating, "load_season", lambda *_: 1 / 0)
        load_demo(settings, fresh=True)

    anew = opened(settings)

    assert (first.again, anew.again) == (True, False)
    assert anew.season.codes.keys() == first.season.codes.keys()
    assert anew.season.codes != first.season.codes
    assert (settings.data_dir / "notes.txt").read_text() == "mine"


@pytest.mark.parametrize("fresh", [False, True])
def test_a_club_is_never_touched(tmp_path: Path, *, fresh: bool) -> None:
    settings = settings_for(tmp_path / "club", 0)
    prepare(settings)
    before = contents_of(settings.resolved_database_url())

    with pytest.raises(SystemExit, match="holds a club already"):
        load_demo(settings, fresh=fresh)

    assert contents_of(settings.resolved_database_url()) == before
    assert not (settings.data_dir / "demo.json").exists()


def test_a_mark_of_another_database_opens_no_club(tmp_path: Path) -> None:
    settings = settings_for(tmp_path / "demo", 0)
    demo_folder.mark_begun(
        settings.model_copy(update={"database_url": "postgresql+psycopg://somewhere/else"})
    )
    prepare(settings)

    with pytest.raises(SystemExit, match="it is no demo"):
        load_demo(settings, fresh=True)


def test_two_starts_in_one_folder_at_once_are_one_too_many(tmp_path: Path) -> None:
    kept = kept_demo(tmp_path / "kept").data_dir
    with started(tmp_path, PORT="0", SCION_DATA_DIR=str(kept)) as (first, said):
        assert "(opened again in" in said
        with started(tmp_path, PORT="0", SCION_DATA_DIR=str(kept)) as (second, refused):
            assert second.wait(20) == 1
        assert "served by another process already" in refused
        first.send_signal(signal.SIGTERM)
        last, _ = first.communicate(timeout=20)
        assert first.returncode == 0
        assert "The demo has stopped." in last and "Traceback" not in last
    with started(tmp_path, PORT="0", SCION_DATA_DIR=str(kept)) as (_, said):
        assert "(opened again in" in said


# -- the drill ---------------------------------------------------------------------------------------------------------


def test_the_drill_brings_back_every_row(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    kept_demo(tmp_path / "club")

    assert demonstrating._drill(tmp_path) == 0

    said = capsys.readouterr().out
    assert "430 bundles and 742 lines of the ledger" in said
    assert re.search(r"Compared \d+ tables and [\d,]+ rows: all the same\.", said)


def test_the_drill_tells_a_difference(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    restore = demonstrating.restore_from

    def lose_a_row(source: Path, settings: object) -> int:
        done = restore(source, settings)  # type: ignore[arg-type]
        database = Database(settings.resolved_database_url())  # type: ignore[attr-defined]
        with database.writing_session() as session:
            session.connection().exec_driver_sql("DELETE FROM bundle_check WHERE note = 'Use these first'")
            session.commit()
        database.close()
        return done

    monkeypatch.setattr(demonstrating, "restore_from", lose_a_row)
    kept_demo(tmp_path / "club")

    assert demonstrating._drill(tmp_path) == 1

    said = capsys.readouterr()
    assert "NOT the same" in said.out
    assert "differs: bundle_check" in said.err
