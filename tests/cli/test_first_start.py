"""The first start: its printed link opens, and the description of the API is whole."""

from __future__ import annotations

from pathlib import Path

import httpx

from service.app import create_app
from service.cli.upkeep import first_link, prepare
from service.lib.settings import Settings
from tests.infra.web import live


def test_the_first_link_opens_the_page_that_makes_the_administrator(tmp_path: Path) -> None:
    settings = Settings(data_dir=tmp_path / "club")
    prepare(settings)
    link = first_link(settings, "")
    assert link is not None
    with live(create_app(settings)) as address:
        answer = httpx.get(address + link, headers={"accept": "text/html"})

    assert answer.status_code == 200
    assert 'name="password"' in answer.text


def test_the_description_of_the_api_names_its_routes_and_no_pages(tmp_path: Path) -> None:
    settings = Settings(data_dir=tmp_path / "club")
    prepare(settings)
    paths = create_app(settings).openapi()["paths"]

    assert {"/api/hand-overs", "/api/bundles/{bundle_id}", "/api/stops", "/api/grafts"} <= set(paths)
    assert [path for path in paths if not path.startswith("/api/")] == []
