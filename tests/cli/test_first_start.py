"""The first start: its printed link opens, and the description of the API is whole."""

from __future__ import annotations

import shutil
from pathlib import Path

import httpx
import pytest

from service.app import create_app
from service.catalogue.actions import load_reference
from service.cli.upkeep import first_link, prepare, reached_at
from service.lib.settings import Settings
from tests.infra.web import live


def test_the_first_link_opens_the_page_that_makes_the_administrator(tmp_path: Path) -> None:
    settings = Settings(data_dir=tmp_path / "club")
    prepare(settings)
    link = first_link(settings, "")
    assert link is not None
    with live(create_app(settings)) as address:
        answer = httpx.get(address + link, headers={"accept": "text/html"}, timeout=60)

    assert answer.status_code == 200
    assert 'name="password"' in answer.text


@pytest.mark.parametrize(
    "host, told",
    [
        ("127.0.0.1", "http://127.0.0.1:8000"), ("0.0.0.0", "http://127.0.0.1:8000"), ("::", "http://[::1]:8000"),
        ("::1", "http://[::1]:8000"), ("orchard.example", "http://orchard.example:8000"),
    ],
    ids=["loopback", "every", "every-6", "loopback-6", "name"],
)  # fmt: skip
def test_the_address_of_the_first_link_can_be_opened(host: str, told: str) -> None:
    assert reached_at(host, 8000) == told


def test_the_description_of_the_api_names_its_routes_and_no_pages(tmp_path: Path) -> None:
    settings = Settings(data_dir=tmp_path / "club")
    prepare(settings)
    paths = create_app(settings).openapi()["paths"]

    assert {"/api/hand-overs", "/api/bundles/{bundle_id}", "/api/stops", "/api/grafts"} <= set(paths)
    assert [path for path in paths if not path.startswith("/api/")] == []


def test_a_start_takes_the_reference_files_over_only_where_they_changed(tmp_path: Path) -> None:
    reference = tmp_path / "reference"
    shutil.copytree(Settings().reference_dir, reference)
    settings = Settings(data_dir=tmp_path / "club", reference_dir=reference)

    assert taken_over(settings) > 0
    assert taken_over(settings) == 0
    (reference / "notes.txt").write_text("A further file stands beside them.")
    assert taken_over(settings) > 0
    (settings.data_dir / "club.sqlite3").unlink()
    assert taken_over(settings) > 0


def test_a_start_looks_into_the_database_it_finds_for_what_it_has(tmp_path: Path) -> None:
    reference = tmp_path / "reference"
    shutil.copytree(Settings().reference_dir, reference)
    settings = Settings(data_dir=tmp_path / "club", reference_dir=reference)
    prepare(settings)
    shutil.copy(settings.data_dir / "club.sqlite3", tmp_path / "older.sqlite3")
    (reference / "notes.txt").write_text("A further file stands beside them.")
    prepare(settings)
    assert taken_over(settings) == 0

    shutil.copy(tmp_path / "older.sqlite3", settings.data_dir / "club.sqlite3")

    assert taken_over(settings) > 0
    assert taken_over(settings) == 0


def taken_over(settings: Settings) -> int:
    """How often a start reads the reference files through the catalogue's own action."""
    calls = []

    def counted(*args: object) -> object:
        calls.append(args)
        return load_reference(*args)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("service.cli.upkeep.load_reference", counted)
        prepare(settings)
    return len(calls)
