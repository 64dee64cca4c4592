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
from tests.builders.bundles import cut_again, make_bundles
from tests.builders.trees import make_orchard, make_tree
from tests.infra.cast import Cast, put_cast

HANDS = 32
EACH = 8  # requests of a hand in a round
ROUNDS = 5
Club = tuple[str, Cast, list[str], list[str]]


@pytest.fixture
def club(new_database_url: Callable[..., str]) -> Club:
    """A database with a tree and a bundle for each hand, not yet served."""
    url = new_database_url("sqlite")
    database = Database(url)
    cast = put_cast(database)
    writer = Writer(database, SystemClock())
    orchard = make_orchard(writer, cast.steward)
    trees = [str(make_tree(writer, cast.steward, orchard).id) for _ in range(HANDS)]
    cutting = cut_again(writer, cast.steward, orchard)
    bundles = [str(one.id) for one in make_bundles(writer, cast.steward, cutting, HANDS, sticks=900)]
    database.close()
    return url, cast, trees, bundles


@pytest.fixture
def servers(club: Club, tmp_path: Path) -> Iterator[dict[str, Server]]:
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
    servers: dict[str, Server], club: Club, figures: Figures
) -> None:
    """32 hands write at once, through HTTP, to a server process of its own: each throws sticks away, the shortest of all movements.

    Ceilings: the same service with a group limit of one, which commits each action by itself in the same process, thread
    and route with full durability; and the same service with grouping at SQLite's normal durability. Recording a cut with
    its tagged bundle is shown beside it: that is five times the work for the same one commit.
    """
    _, cast, trees, bundles = club

    def seconds_per_action(server: Server, path: str, bodies: list[Any], each: int) -> float:
        hands = [[server.post(cast, path, body) for _ in range(each)] for body in bodies]
        return seconds_at_once(server.port, hands) / (HANDS * each)

    def compare(path: str, bodies: list[Any], rounds: int, each: int) -> dict[str, float]:
        asked = {
            name: lambda one=server: seconds_per_action(one, path, bodies, each)
            for name, server in servers.items()
        }
        return by_turns(rounds, asked)

    thrown = compare("/api/discards", [discard(one) for one in bundles], ROUNDS, EACH)
    faster, kept = thrown["full, one by one"] / thrown["full"], thrown["normal"] / thrown["full"]
    figures.add(
        "group commit against one by one, both full",
        ms(thrown["full"]),
        ms(thrown["full, one by one"]),
        faster,
        ">= 2",
    )
    figures.add("group commit, full against normal", ms(thrown["full"]), ms(thrown["normal"]), kept, ">= 0.8")
    tagged = compare("/api/labelled-cuts", [cut(tree) for tree in trees], 3, 2)
    alone = tagged["full, one by one"] / tagged["full"]
    figures.add(
        "  the same for a cut with a tagged bundle", ms(tagged["full"]), ms(tagged["full, one by one"]), alone
    )
    figures.add(
        "  its full against normal",
        ms(tagged["full"]),
        ms(tagged["normal"]),
        tagged["normal"] / tagged["full"],
    )

    assert faster >= 2
    assert kept >= 0.8


def discard(bundle_id: str) -> dict[str, Any]:
    return {"bundle_id": bundle_id, "sticks": 1, "reason": "mould"}


def cut(tree_id: str) -> list[dict[str, Any]]:
    told = {"tree_id": tree_id, "sticks": 12, "stage": "00", "leaves_down": True, "disinfected": True}
    return [{"cut": told, "bundles": []}]
