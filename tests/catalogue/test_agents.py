"""Diseases and pests are found by whatever people call them.

Latin names and codes stand in the reference file with their sources (EPPO Global Database, gd.eppo.int, and the laws named
there); common names are common practice, no source; the typing mistakes are our own.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from service.catalogue import queries
from service.catalogue.rules import AgentNames, meant_agents, rank_agents
from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.write import Writer
from service.trees.queries import find_agent
from tests.builders.catalogue import load_catalogue
from tests.builders.grafting import _few_varieties
from tests.conftest import TODAY
from tests.infra.statements import Statements, counting

# What is typed, and the agent meant where it is just one.
ONE = [
    ("fire blight", "fire-blight"), ("Fireblight", "fire-blight"), ("fire blite", "fire-blight"), ("Erwinia amylovora", "fire-blight"),
    ("erwinia amilovora", "fire-blight"), ("ERWIAM", "fire-blight"), ("fire-blight", "fire-blight"),
    ("Erwinia amylovora (fire blight)", "fire-blight"),
    ("sharka", "plum-pox"), ("Sharca", "plum-pox"), ("plum pox", "plum-pox"), ("PPV000", "plum-pox"),
    ("apple scab", "apple-scab"), ("aple scab", "apple-scab"), ("Venturia inaequalis", "apple-scab"),
    ("phytophthora", "collar-rot"), ("phytophtora", "collar-rot"), ("crown rot", "collar-rot"), ("Phytophthora cactorum", "collar-rot"),
    ("silver leaf", "silver-leaf"), ("woolly aphid", "woolly-apple-aphid"),
    ("apple canker", "european-canker"), ("crown gall", "crown-gall"), ("pear decline", "pear-decline"),
    ("Monilinia fructicola", "brown-rot-fructicola"), ("MONIFC", "brown-rot-fructicola"), ("tristeza", "citrus-tristeza"),
]  # fmt: skip
# A common name that several go by: all of them, and nobody's code is guessed.
SEVERAL = [
    ("brown rot", {"brown-rot-fructicola", "brown-rot-laxa-fructigena"}),
    ("citrus greening", {"huanglongbing-asiaticus", "huanglongbing-africanus", "huanglongbing-americanus"}),
    ("scab", {"apple-scab", "pear-scab"}),
    ("little cherry disease", {"little-cherry-1", "little-cherry-2"}),
]
NOBODY = [
    "",
    "leaf spot",
    "canker of apple",
    "mosaic",
    "rot",
    "   ",
    "sunburn",
    "qqqq",
    "'; drop table bundle; --",
    "🍎",
]


@pytest.fixture(scope="module")
def loaded(makers: Callable[..., object]):
    from tests.infra.databases import one_of

    with one_of(makers("sqlite"), migrated=True) as url:
        database = Database(url)
        load_catalogue(Writer(database, FixedClock(TODAY)), _few_varieties())
        yield database
        database.close()


def test_an_agent_is_found_by_latin_name_code_and_common_name_with_a_typing_mistake(loaded: Database) -> None:
    with loaded.reading() as session:
        found = {typed: find_agent(session, typed) for typed, _ in ONE}
    assert {typed: one.slug if one else None for typed, one in found.items()} == dict(ONE)


def test_a_name_that_several_go_by_names_them_all_and_guesses_none(loaded: Database) -> None:
    with loaded.reading() as session:
        for typed, slugs in SEVERAL:
            assert {one.slug for one in queries.meant_by(session, typed)} == slugs, typed
            assert find_agent(session, typed) is None
            assert slugs <= {one.slug for one in queries.search_agents(session, typed)}


def test_what_is_no_agent_finds_none(loaded: Database) -> None:
    with loaded.reading() as session:
        assert [typed for typed in NOBODY if find_agent(session, typed) is not None] == []


def test_the_search_puts_the_nearest_first_in_one_statement(loaded: Database) -> None:
    with counting(loaded) as heard, loaded.reading() as session:
        assert isinstance(heard, Statements)
        found = queries.search_agents(session, "blight", limit=5)
        assert len(heard) == 1
        on_walnut = queries.search_agents(session, "canker", genus="Juglans")
    assert "blight" in found[0].name
    assert all("Juglans" in one.host_genera for one in on_walnut)


def test_ranking_leaves_out_what_has_nothing_in_common() -> None:
    agents = [AgentNames("one", "Aaa bbb (ccc)", (), ("CODE01",)), AgentNames("two", "Ddd eee", ("fff",), ())]

    assert [one.slug for _, one in rank_agents("bbb", agents)] == ["one"]
    assert [one.slug for one in meant_agents("fff", agents)] == ["two"]
    assert meant_agents("zzz", agents) == []
