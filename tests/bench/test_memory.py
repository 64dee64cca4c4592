"""What a serving process keeps for itself in memory does not grow with the record."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from service.lib.clock import SystemClock
from service.lib.database import Database
from service.lib.write import Writer
from tests.bench.asking import Connection, Server, serving
from tests.bench.figures import Figures, by_turns, ms
from tests.bench.memory import resident_kb
from tests.builders.big_club import BigClub, fill_club
from tests.builders.catalogue import load_catalogue
from tests.infra.cast import Cast, put_cast

FEW, MANY = 1_000, 1_000_000
FAMILY = 300  # descendants of the tree whose trace is asked for, the same in both
BOUND = 1.3


def typical(server: Server, cast: Cast, club: BigClub) -> list[bytes]:
    """A morning's requests: lists, bundles, scans by strangers and members, a timeline, traces, a search."""
    paths = [
        "/api/bundles?limit=50", "/api/bundles?on_hand=true", "/api/trees", "/api/cultivars/search?q=gravenstein", "/",
        f"/api/trace/tree/{club.mother_tree}", f"/api/trace/bundle/{club.deepest_bundle}?direction=back",
        *(f"/api/bundles/{one}" for one in club.some_bundles[:100]),
        *(f"/api/bundles/{one}/timeline" for one in club.some_bundles[:20]),
        *(f"/T/{code}" for code in club.some_codes[:300]),
    ]  # fmt: skip
    return [
        *(server.get(cast, path) for path in paths),
        *(server.get(None, f"/T/{code}") for code in club.some_codes[:300]),
    ]


@pytest.mark.heavy
def test_a_thousand_times_the_bundles_take_little_more_memory(
    new_database_url: Callable[..., str], tmp_path: Path, figures: Figures
) -> None:
    """Private resident memory of the serving process after a warm-up of typical requests, with 1,000,000 bundles.

    Ceiling: the same process and requests with 1,000 bundles. Also shown: what lists, scans and searches cost in the large record
    against an empty route.
    """
    kept = {}
    for bundles in (FEW, MANY):
        url = new_database_url("sqlite")
        database = Database(url)
        cast = put_cast(database)
        load_catalogue(Writer(database, SystemClock()))
        club = fill_club(database, bundles, descendants=FAMILY)
        database.close()
        folder = tmp_path / str(bundles)
        folder.mkdir(mode=0o700)
        with serving(url, folder) as server, Connection(server.port) as connection:
            for _ in range(3):
                for request in typical(server, cast, club):
                    connection.ask(request)
            kept[bundles] = resident_kb(server.process.pid)
            show_costs(server, connection, cast, club, figures)
    ratio = kept[MANY] / kept[FEW]
    figures.add(
        "private resident memory, 1,000,000 bundles",
        f"{kept[MANY] / 1024:.1f} MiB",
        f"{kept[FEW] / 1024:.1f} MiB",
        ratio,
        f"<= {BOUND}",
    )

    assert ratio <= BOUND


def show_costs(server: Server, connection: Connection, cast: Cast, club: BigClub, figures: Figures) -> None:
    asked = {
        "scan by a stranger": server.get(None, f"/T/{club.some_codes[0]}"),
        "scan by a steward": server.get(cast, f"/T/{club.some_codes[0]}"),
        "first page of all bundles": server.get(cast, "/api/bundles"),
        "search by name": server.get(cast, "/api/cultivars/search?q=gravenstien"),
        "start page of a steward": server.get(cast, "/"),
    }
    empty = server.get(None, "/bench/empty")
    found = by_turns(
        9,
        {
            name: lambda request=request: connection.seconds(request)
            for name, request in {**asked, "empty": empty}.items()
        },
        2,
    )
    for name in asked:
        figures.add(
            f"{name}, {club.bundles:,} bundles",
            ms(found[name]),
            ms(found["empty"]),
            found[name] / found["empty"],
        )
