"""The ground the other tests stand on: clean databases, honest counts, a browser that runs."""

import asyncio
import os
import re
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest
from anyio.from_thread import BlockingPortal
from fastapi import FastAPI, Request, Response
from playwright.sync_api import Browser, Page
from sqlalchemy import text

from service.lib.database import Database
from tests.infra import chromium as chromium_programs
from tests.infra import postgres
from tests.infra.browser_checks import accessibility_faults, check_page
from tests.infra.cast import Cast
from tests.infra.statements import Statements
from tests.infra.turns import others_in_turn
from tests.infra.web import ORIGIN, Client, live


async def _two() -> int:
    await asyncio.sleep(0)
    return 2


def _fill(database: Database) -> None:
    with database.writing_session() as session:
        session.execute(
            text(
                "insert into area (id, name, authority, note, version) values ('1', 'North', '', '', 1)"
                if database.is_sqlite
                else "insert into area (id, name, authority, note, version) values (gen_random_uuid(), 'North', '', '', 1)"
            )
        )
        session.commit()


def _areas(database: Database) -> int:
    with database.reading() as session:
        return int(session.execute(text("select count(*) from area")).scalar_one())


def test_a_database_starts_clean(database: Database) -> None:
    before = _areas(database)
    _fill(database)

    assert (before, _areas(database)) == (0, 1)


def test_the_next_test_sees_nothing_of_the_one_before(database: Database) -> None:
    assert _areas(database) == 0


def test_the_database_is_of_the_kind_asked_for(database: Database, database_kind: str) -> None:
    assert database.writer.dialect.name.startswith(database_kind)


def test_statements_are_counted_without_those_of_transactions(
    database: Database, statements: Statements
) -> None:
    _fill(database)
    with statements.exactly(1):
        _areas(database)

    assert len(statements) == 2


def test_a_browser_opens_a_page(chromium: Browser) -> None:
    page = chromium.new_page()
    page.set_content("<h1>Cut</h1>")

    assert page.inner_text("h1") == "Cut"
    page.close()


def test_a_driver_that_does_not_start_is_told_with_what_to_do(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    broken = tmp_path / "node"
    broken.write_text("#!/bin/sh\necho 'cannot open libatomic.so.1' >&2\nexit 127\n")
    broken.chmod(0o755)
    monkeypatch.setenv("PLAYWRIGHT_NODEJS_PATH", str(broken))

    with pytest.raises(chromium_programs.NoChromium, match=r"libatomic\.so\.1\s+Install the library"):
        chromium_programs.check_driver()


def test_postgresql_starts_as_the_account_that_its_package_brought(monkeypatch: pytest.MonkeyPatch) -> None:
    mine, before = os.geteuid(), 65534 if os.geteuid() == 0 else os.geteuid()
    accounts = iter([{"user": before, "group": -1}, {"user": mine, "group": -1}])
    found: Iterator[Path | None] = iter([None, Path("/programs")])
    asked: list[str] = []

    def programs(_folder: Path, _account: object) -> Path:
        here = next(found)
        if here is None:
            raise postgres.NoPostgres
        return here

    monkeypatch.setattr(postgres, "_account", lambda: next(accounts))
    monkeypatch.setattr(postgres, "_programs", programs)
    monkeypatch.setattr(postgres, "apt_get", lambda package, _saying: asked.append(package))
    monkeypatch.setattr(postgres, "_start", lambda folder, *_: folder)

    folder = cast(Path, postgres.start())

    assert asked == ["postgresql"]
    assert folder.stat().st_uid == mine
    folder.rmdir()


def test_asyncio_runs_after_a_browser_test() -> None:
    assert asyncio.run(_two()) == 2


def test_a_fault_planted_on_a_page_is_found(phone: Page) -> None:
    phone.set_content(
        "<html lang=en><title>A</title><main><h1>A</h1><img src=x><div style='width:900px'>w</div></main></html>"
    )

    assert [fault.partition(":")[0] for fault in accessibility_faults(phone)] == ["image-alt"]


def test_a_sound_page_passes(phone: Page) -> None:
    phone.set_content(
        "<html lang=en><meta name=viewport content='width=device-width'><title>A</title><main><h1>A</h1></main></html>"
    )

    check_page(phone)


def test_the_cast_stands_in_the_database(database: Database, cast: Cast) -> None:
    with database.reading() as session:
        roles = session.execute(text("select count(*) from party_role")).scalar_one()

    assert roles == 11
    assert cast.asker("stranger") is None
    assert cast.steward.party_id == cast.steward.acting_for_id


@pytest.fixture
def tiny_app() -> FastAPI:
    app = FastAPI()

    @app.post("/api/echo")
    async def echo(request: Request) -> dict[str, str | None]:
        return {"key": request.headers.get("idempotency-key"), "origin": request.headers.get("origin")}

    @app.get("/hello")
    def hello() -> Response:
        return Response("<!doctype html><title>Hello</title><h1>Hello</h1>", media_type="text/html")

    return app


def test_a_client_gives_every_change_a_key_of_its_own(tiny_app: FastAPI, portal: BlockingPortal) -> None:
    client = Client(tiny_app, portal)
    first, second = client.post("/api/echo").json(), client.post("/api/echo").json()
    told = client.post("/api/echo", headers={"Idempotency-Key": "given-by-the-test"}).json()

    assert first["key"] != second["key"]
    assert first["origin"] == ORIGIN
    assert told["key"] == "given-by-the-test"


def test_a_live_server_answers_a_browser(tiny_app: FastAPI, phone: Page) -> None:
    with live(tiny_app) as address:
        phone.goto(f"{address}/hello")

        assert phone.inner_text("h1") == "Hello"


def test_of_a_pair_of_page_tests_one_runs_and_both_kinds_have_their_turn() -> None:
    """A stage's own tests keep both; what runs on one kind alone keeps it."""
    names = [
        f"tests/pages/test_one.py::test_{n}[{kind}]" for n in range(40) for kind in ("sqlite", "postgres")
    ]
    lone = ["tests/pages/test_one.py::test_lone[sqlite]"]
    lone += [f"tests/bundles/test_one.py::test_a[{kind}]" for kind in ("sqlite", "postgres")]
    items = [
        cast(pytest.Item, SimpleNamespace(nodeid=name, callspec=SimpleNamespace(params={"database_kind": kind})))
        for name in [*names, *lone]
        for kind in re.findall(r"\[(\w+)\]", name)
    ]  # fmt: skip

    left_out = {item.nodeid for item in others_in_turn(items)}

    kept = [name for name in names if name not in left_out]
    assert len(kept) == 40 and len({name.split("[")[0] for name in kept}) == 40
    assert 8 < sum("sqlite" in name for name in kept) < 32
    assert left_out.isdisjoint(lone)
    assert others_in_turn(list(reversed(items)))[-1].nodeid in left_out
