"""Cutting rounds, the trees they name, and facts for later stages."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest

from service.collection import actions, queries
from service.collection.schemas import RoundCreate, RoundUpdate
from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.errors import Unusable
from service.lib.write import Writer
from tests.builders.collection import (
    TODAY,
    cut,
    receive,
    set_area,
)
from tests.builders.trees import Orchard, make_site, make_tree
from tests.infra.cast import Cast
from tests.infra.statements import Statements


def test_a_round_is_one_cutter_on_one_site_in_one_day(
    writer: Writer, cast: Cast, orchard: Orchard, clock: FixedClock
) -> None:
    other = make_site(writer, cast.steward, orchard.area_id)
    here = [make_tree(writer, cast.steward, orchard).id for _ in range(2)]
    there = make_tree(writer, cast.steward, orchard, site_id=other.id).id
    yesterday = clock.now() - timedelta(days=1)

    def round_of(tree_id: UUID, member: Any = cast.collector, **told: Any) -> UUID | None:
        return cut(writer, member, tree_id, 1, **told).round_id

    first = round_of(here[0], done_at=clock.now() - timedelta(hours=1))

    assert round_of(here[1]) == round_of(here[0]) == first
    assert (
        len({first, round_of(there), round_of(here[0], cast.steward), round_of(here[0], done_at=yesterday)})
        == 4
    )
    for_guest = replace(cast.steward, acting_for_id=cast.collector.party_id)
    assert round_of(here[0], for_guest) == first  # written down by another, cut with the same tools


def test_a_round_begun_by_hand_takes_the_cuts_after_it(
    writer: Writer, cast: Cast, orchard: Orchard, clock: FixedClock, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    early = cut(writer, cast.collector, tree.id, done_at=clock.now() - timedelta(hours=2))

    begun = writer.write_now(
        actions.start_round,
        cast.collector,
        RoundCreate(site_id=orchard.site_id, tools="saw", disinfected="70 % alcohol"),
    )
    late, told = (
        cut(writer, cast.collector, tree.id),
        cut(writer, cast.collector, tree.id, round_id=early.round_id),
    )
    changed = writer.write_now(actions.change_round, cast.collector, begun.id, RoundUpdate(tools="shears"), 1)

    assert late.round_id == begun.id != early.round_id == told.round_id
    assert (changed.tools, changed.disinfected, changed.version) == ("shears", "70 % alcohol", 2)
    assert [one.id for one in changed.collections] == [late.id]
    for wrong in ({"round_id": uuid4()}, {"round_id": begun.id, "tree_id": "elsewhere"}):
        site = make_site(writer, cast.steward, orchard.area_id)
        where = (
            make_tree(writer, cast.steward, orchard, site_id=site.id).id if "tree_id" in wrong else tree.id
        )
        with pytest.raises(Unusable) as refused:
            cut(writer, cast.collector, where, round_id=wrong["round_id"])
        assert refused.value.field == "round_id"


def test_trees_cut_later_on_the_same_round_are_named_with_what_is_known_of_the_tools(
    writer: Writer, cast: Cast, orchard: Orchard, clock: FixedClock, database: Database
) -> None:
    plum = {"cultivar_id": orchard.victoria_id}
    before, sick, together, after, clean = (
        make_tree(writer, cast.steward, orchard, **more) for more in (plum, {}, plum, plum, plum)
    )
    for minutes, tree, told in (
        (60, before, {}),
        (50, sick, {}),
        (50, together, {}),  # as pencilled: which of the two came first nobody knows
        (40, after, {"disinfected": False}),
        (30, clean, {"disinfected": True}),
    ):
        cut(writer, cast.collector, tree.id, done_at=clock.now() - timedelta(minutes=minutes), **told)
    cut(writer, cast.steward, make_tree(writer, cast.steward, orchard, **plum).id)

    with database.reading() as session:
        named = queries.stop_candidates(session, sick.id, "fire-blight")
        lately = queries.cut_later_on_rounds(session, sick.id, since=clock.now())

    assert [one.tree_id for one in named] == [together.id, after.id, clean.id]
    assert {one.why for one in named} == {"same_round"}
    assert "nobody said" in named[0].words
    assert "not disinfected" in named[1].words and "were disinfected" in named[2].words
    assert lately == []


def test_facts_for_later_stages_cost_one_statement(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database, statements: Statements
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    set_area(writer, cast.collector.party_id, orchard.area_id)
    made, received = (
        cut(writer, cast.collector, tree.id, stage="00"),
        receive(writer, cast.collector, orchard),
    )

    with database.reading() as session, statements.exactly(1):
        facts = queries.facts_for_collections(session, [made.id, received.id, uuid4()])

    assert set(facts) == {made.id, received.id}
    one = facts[made.id]
    assert (one.tree_number, one.genus, one.name, one.stage, one.cut_on, one.sticks) == (
        1,
        "Malus",
        "‘Gala’",
        "00",
        TODAY,
        6,
    )
    assert (facts[received.id].tree_id, facts[received.id].kind) == (None, "receipt")
