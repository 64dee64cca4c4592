"""One club per kind of database for all tests of bad input, and a fresh one where a test breaks things."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import pytest
from anyio.from_thread import BlockingPortal

from service.app import create_app
from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.settings import Settings
from tests.bad_input.desk import Club, Clubs, open_club
from tests.conftest import TODAY
from tests.infra.databases import Maker, one_of
from tests.infra.web import running


@contextmanager
def opened(maker: Maker, portal: BlockingPortal, data_dir: Path) -> Iterator[Club]:
    with one_of(maker) as url:
        database, clock = Database(url), FixedClock(TODAY)
        settings = Settings(data_dir=data_dir, database_url=url, token_calls_per_minute=10**6)
        settings.prepare()
        with running(create_app(settings, database=database, clock=clock), portal) as app:
            club = open_club(app, database, clock, portal, data_dir)
            yield club
            for browser in club.browsers.values():
                browser.close()


@pytest.fixture(scope="session")
def clubs(
    makers: Callable[[str], Maker], portal: BlockingPortal, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Clubs]:
    made: dict[str, Club] = {}
    with ExitStack() as stack:

        def of(kind: str) -> Club:
            if kind not in made:
                made[kind] = stack.enter_context(
                    opened(makers(kind), portal, tmp_path_factory.mktemp("club"))
                )
            return made[kind]

        yield of


@pytest.fixture
def club(clubs: Clubs, database_kind: str) -> Club:
    """The club that all tests of one kind of database share: what they are refused leaves nothing behind."""
    return clubs(database_kind)


@pytest.fixture
def fresh_club(
    makers: Callable[[str], Maker], database_kind: str, portal: BlockingPortal, tmp_path: Path
) -> Iterator[Club]:
    """A club of one's own, to break."""
    with opened(makers(database_kind), portal, tmp_path / "data") as made:
        yield made
