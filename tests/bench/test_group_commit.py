"""Many hands at once: saving them together, surely, costs little more than not being sure, and far less than one by one."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest

from service.lib.clock import SystemClock
from service.lib.database import Database
from service.lib.write import Writer
from tests.bench.asking import Server, seconds_at_once, serving
from tests.bench.figures import Figures, by_turns, ms
from tests.builders.trees import make_orchard, make_tree
from tests.infra.cast import Cast, put_cast

HANDS = 32
EACH = 3  # requests of a hand in a round
ROUNDS = 7


@pytest.fixture
def club(new_database_url: Callable[..., str]) -> tuple[str, Cast, list[str]]:
    """A database with a tree for each hand, not yet served."""
    url = new_database_url("sqlite")
    database = Database(url)
    cast = put_cast(database)
    writer = Writer(database, SystemClock())
    orchard = make_orchard(writer, cast.steward)
    trees = [str(make_tree(writer, cast.steward, orchard).id) for _ in range(HANDS)]
    database.close()
    return url, cast, trees


@pytest.fixture
def servers(club: tuple[str, Cast, list[str]], tmp_path: Path) -> Iterator[dict[str, Server]]:
    """The same service three times, each on a copy of the club of its own."""
    orders: dict[str, dict[str, Any]] = {
        "full": {}, "full, one by one": {"group_limit": 1}, "normal": {"synchronous": "NORMAL"},
    }  # fmt: skip
    source = Path(club[0].removeprefix("sqlite:///"))
    with ExitStack() as stack:
        started = {}
        for name, order in orders.items():
            folder = tmp_path / name.replace(" ", "-")
            folder.mkdir(mode=0o700)
            shutil.copyfile(source, folder / "club.sqlite3")
            url = f"sqlite:///{folder / 'club.sqlite3'}"
            started[name] = stack.enter_context(serving(url, folder, **order))
        yield started


def test_group_commit_beats_commits_one_by_one_and_keeps_up_with_less_durability(
    servers: dict[str, Server], club: tuple[str, Cast, list[str]], figures: Figures
) -> None:
    """32 hands each record a cut and tie and tag its bundle, through HTTP, on a server process of its own.

    Ceilings: the same service with a group limit of one, which commits each action by itself in the same process, thread
    and route with full durability; and the same service with grouping at SQLite's normal durability.
    """
    _, cast, trees = club

    def seconds_per_action(server: Server) -> float:
        hands = [[server.post(cast, "/api/labelled-cuts", cut(tree)) for _ in range(EACH)] for tree in trees]
        return seconds_at_once(server.port, hands) / (HANDS * EACH)

    found = by_turns(
        ROUNDS, {name: lambda server=server: seconds_per_action(server) for name, server in servers.items()}
    )
    faster, kept = found["full, one by one"] / found["full"], found["normal"] / found["full"]
    figures.add(
        "group commit against one by one, both full",
        ms(found["full"]),
        ms(found["full, one by one"]),
        faster,
        ">= 2",
    )
    figures.add("group commit, full against normal", ms(found["full"]), ms(found["normal"]), kept, ">= 0.8")

    assert faster >= 2
    assert kept >= 0.8


def cut(tree_id: str) -> list[dict[str, Any]]:
    told = {"tree_id": tree_id, "sticks": 12, "stage": "00", "leaves_down": True, "disinfected": True}
    return [{"cut": told, "bundles": []}]
