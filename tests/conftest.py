"""What every test may ask for. The makers of databases, browsers and servers stand in `tests/infra`."""

from __future__ import annotations

import asyncio
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import hypothesis
import pytest
from anyio.from_thread import BlockingPortal, start_blocking_portal
from fastapi import FastAPI
from hypothesis.configuration import set_hypothesis_home_dir
from playwright.sync_api import Browser, Page, expect, sync_playwright

from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.settings import Settings
from service.lib.write import Writer
from service.members.signin import SESSION_COOKIE
from tests.infra import chromium as chromium_programs
from tests.infra import demo, postgres
from tests.infra.browser_checks import PHONE
from tests.infra.cast import Cast, put_cast
from tests.infra.databases import KINDS, Maker, PostgresMaker, SqliteMaker, one_of
from tests.infra.durations import Durations
from tests.infra.statements import Statements, counting
from tests.infra.turns import kind_of, others_in_turn
from tests.infra.web import Client, live, running

# The same cases on every run and machine; a longer, random search is `pytest --hypothesis-profile=search`.
set_hypothesis_home_dir(Path(__file__).resolve().parents[1] / ".cache" / "hypothesis")
hypothesis.settings.register_profile("suite", deadline=None, derandomize=True, print_blob=True)
hypothesis.settings.register_profile("search", deadline=None, max_examples=1000, print_blob=True)
hypothesis.settings.load_profile("suite")

# A machine that does much else answers late; what is right stays right.
expect.set_options(timeout=20_000)

TODAY = datetime(2026, 2, 14, 10, 0, tzinfo=UTC)
_server_key = pytest.StashKey[postgres.Server]()


# -- options, and the one PostgreSQL server for all workers -----------------------------------------------------


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--db",
        choices=(*KINDS, "both", "in-turn"),
        default="in-turn",
        help="which databases to test on (default: both, but in the largest folders one of them each, in turn)",
    )


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line(
        "markers", "databases(*kinds): the databases a test of `database` runs on; both without it"
    )
    # Settings of a club that runs on this machine are no business of the tests.
    for name in [
        name for name in os.environ if name.startswith("SCION_") and not name.startswith("SCION_TEST_")
    ]:
        del os.environ[name]
    if not hasattr(config, "workerinput"):
        config.pluginmanager.register(Durations(), "durations")
        os.environ[demo.FOLDER] = tempfile.mkdtemp(prefix="told-demo-")


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node: Any) -> None:
    if node.config.getoption("db") != "sqlite":
        node.workerinput["postgres_folder"] = str(_server_of(node.config).folder)


def _server_of(config: pytest.Config) -> postgres.Server:
    if _server_key not in config.stash:
        config.stash[_server_key] = postgres.start()
    return config.stash[_server_key]


def pytest_unconfigure(config: pytest.Config) -> None:
    if _server_key in config.stash:
        config.stash[_server_key].stop()
    if not hasattr(config, "workerinput"):
        shutil.rmtree(os.environ.pop(demo.FOLDER, ""), ignore_errors=True)


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    if "database_kind" in metafunc.fixturenames:
        marker = metafunc.definition.get_closest_marker("databases")
        metafunc.parametrize("database_kind", marker.args if marker else KINDS)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    wanted = config.getoption("db")
    if wanted == "both":
        return
    if wanted == "in-turn":
        other = others_in_turn(items)
    else:
        other = [item for item in items if kind_of(item) not in (None, wanted)]
    config.hook.pytest_deselected(items=other)
    items[:] = [item for item in items if item not in set(other)]


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    item.user_properties.append(("database", kind_of(item) or "none"))


# -- databases ---------------------------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def makers(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Callable[[str], Maker]]:
    """Makes databases of a kind; a PostgreSQL that is missing fails every test that asks for it."""
    made: dict[str, Maker] = {}
    told: dict[str, str] = getattr(request.config, "workerinput", {})

    def maker(kind: str) -> Maker:
        if kind not in made:
            if kind == "sqlite":
                made[kind] = SqliteMaker(tmp_path_factory.mktemp("sqlite"))
            else:
                folder = told.get("postgres_folder") or str(_server_of(request.config).folder)
                made[kind] = PostgresMaker(folder, told.get("workerid", "main"))
        return made[kind]

    yield maker
    for each in made.values():
        each.close()


@pytest.fixture
def new_database_url(makers: Callable[[str], Maker]) -> Iterator[Callable[..., str]]:
    """Addresses of as many fresh databases as a test wants: `new_database_url("postgres", migrated=False)`."""
    with ExitStack() as stack:
        yield lambda kind, *, migrated=True: stack.enter_context(one_of(makers(kind), migrated=migrated))


@pytest.fixture
def database_url(database_kind: str, new_database_url: Callable[..., str]) -> str:
    """The address of a clean, migrated database; the test runs once per kind."""
    return new_database_url(database_kind)


@pytest.fixture
def empty_database_url(database_kind: str, new_database_url: Callable[..., str]) -> str:
    """The address of a database without a table; the test runs once per kind."""
    return new_database_url(database_kind, migrated=False)


@pytest.fixture
def database(database_url: str) -> Iterator[Database]:
    """A clean, migrated database; the test runs once on SQLite and once on PostgreSQL."""
    opened = Database(database_url)
    yield opened
    opened.close()


@pytest.fixture
def statements(database: Database) -> Iterator[Statements]:
    """The SQL sent to `database`: `with statements.at_most(3): ...`, or `statements.clear()` and `len(statements)`."""
    with counting(database) as heard:
        yield heard


@pytest.fixture
def clock() -> FixedClock:
    """A clock that stands at ten in the morning (UTC) of 14 February 2026 until a test moves it."""
    return FixedClock(TODAY)


@pytest.fixture
def writer(database: Database, clock: FixedClock) -> Iterator[Writer]:
    """The one way to change `database`, started: `writer.write_now(action, asker, body)`."""
    made = Writer(database, clock)
    made.start()
    yield made
    made.stop()


@pytest.fixture
def cast(database: Database) -> Cast:
    """One asker per role, a guest and the stranger, standing in `database`."""
    return put_cast(database)


# -- browsers ----------------------------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def browser_and_loop() -> Iterator[tuple[Browser, asyncio.AbstractEventLoop]]:
    chromium_programs.check_driver()
    with sync_playwright() as playwright:
        loop = asyncio.get_running_loop()
        browser = chromium_programs.launch(playwright)
        asyncio._set_running_loop(None)
        yield browser, loop
        asyncio._set_running_loop(loop)
        browser.close()


@pytest.fixture
def chromium(browser_and_loop: tuple[Browser, asyncio.AbstractEventLoop]) -> Iterator[Browser]:
    """A headless Chromium, one per worker; a machine without one fails, it never skips.

    A test that uses it cannot call `asyncio.run`: the browser's driver marks its own loop as running in this
    thread for as long as the browser may be used. The mark is taken off between tests.
    """
    browser, loop = browser_and_loop
    asyncio._set_running_loop(loop)
    yield browser
    asyncio._set_running_loop(None)


@pytest.fixture
def phone(chromium: Browser) -> Iterator[Page]:
    """A page in a window of a phone's size, with nothing kept from the test before."""
    context = chromium.new_context(**PHONE)
    yield context.new_page()
    context.close()


@pytest.fixture(scope="session")
def portal() -> Iterator[BlockingPortal]:
    """A loop in a thread of its own, on which apps run while plain tests ask them."""
    with start_blocking_portal() as opened:
        yield opened


@pytest.fixture
def app(database: Database, clock: FixedClock, data_dir: Path, portal: BlockingPortal) -> Iterator[FastAPI]:
    """The whole app on `database` and `clock`, started; ask it through `client`."""
    from service.app import create_app

    settings = Settings(data_dir=data_dir, database_url=database.url)
    with running(create_app(settings, database=database, clock=clock), portal) as started:
        yield started


@pytest.fixture
def client(app: FastAPI, cast: Cast, portal: BlockingPortal) -> Iterator[Callable[[str], Client]]:
    """Somebody's browser: `client("steward")`, `client("stranger")`; one per name, signed in where they can be."""
    opened: dict[str, Client] = {}

    def of(who: str = "stranger") -> Client:
        if who not in opened:
            asker, token = cast.asker(who), cast.token(who)
            cookie = (SESSION_COOKIE, token) if token else None
            opened[who] = Client(app, portal, cookie=cookie, csrf_token=asker.csrf_token if asker else "")
        return opened[who]

    yield of
    for one in opened.values():
        one.close()


@pytest.fixture
def live_server(database: Database, clock: FixedClock, data_dir: Path) -> Iterator[str]:
    """The address of the whole app on a real server, for browsers and streams; same `database` and `clock`."""
    from service.app import create_app

    settings = Settings(data_dir=data_dir, database_url=database.url)
    with live(create_app(settings, database=database, clock=clock)) as address:
        yield address


@pytest.fixture
def data_dir(tmp_path: Path) -> Path:
    """An empty data folder, outside the checkout."""
    folder = tmp_path / "data"
    folder.mkdir(mode=0o700)
    return folder
