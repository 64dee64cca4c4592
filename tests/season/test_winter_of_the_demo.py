"""The demo's cuts, judged by the real days of Seattle that its sites are given: how many are fit, and why the others are not."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.cli.demonstrating import load_demo
from service.collection import queries
from service.collection.rules import CollectionKind, Wood
from service.collection.schemas import CollectionSummary
from service.collection.schemas.dormancy import CutDormancy
from service.lib.database import Database
from service.lib.paging import Paging
from tests.infra.demo import kept_demo

Judged = list[tuple[CollectionSummary, CutDormancy]]


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    folder: Path = tmp_path_factory.mktemp("wintered")
    found = load_demo(kept_demo(folder)).app.state.database
    yield found
    found.close()


@pytest.fixture(scope="module")
def judged(database: Database) -> Judged:
    """Every cut of dormant wood with its verdict."""
    cuts: list[CollectionSummary] = []
    cursor: str | None = None
    with database.reading() as session:
        while True:
            page = queries.list_collections(
                session, Paging(cursor, 100), kind=CollectionKind.CUT, wood=Wood.DORMANT
            )
            cuts += page.items
            cursor = page.next
            if cursor is None:
                return [(cut, queries.cut_dormancy(session, cut.id)) for cut in cuts]


def test_nearly_all_tight_wood_of_january_is_fit_to_store(judged: Judged) -> None:
    tight = [(cut, told) for cut, told in judged if cut.cut_on.month == 1 and cut.stage in {"00", "tight"}]

    found = Counter(told.verdict for _, told in tight)
    others = sorted({cut.kind_name for cut, told in tight if told.verdict != "fit_to_store"})

    assert found == {"fit_to_store": 139}
    assert others == []


def test_every_verdict_rests_on_the_air_of_its_site(judged: Judged) -> None:
    assert {told.no_chill_because for _, told in judged} == {""}
    assert all(told.days_measured == told.days_asked for _, told in judged)
