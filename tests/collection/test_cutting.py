"""Cuts: what is kept of them, what is refused, and what two who cut at once see."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest

from service.catalogue.rules import NoSuchStage, ProtectedVariety
from service.collection import actions, queries
from service.collection.rules import (
    MoreThanOwnerSaid,
    NoStageInSummer,
    NotOnThisTree,
    OwnerNotAsked,
)
from service.collection.schemas import CollectionCreate
from service.lib.clock import FixedClock, InTheFuture
from service.lib.database import Database
from service.lib.errors import AlreadyKnown, NotFound, Problem
from service.lib.paging import Paging
from service.lib.write import Writer
from service.members.rules import CrossesArea
from service.trees.rules import StoppedTree
from tests.builders.collection import (
    ALL_TOLD,
    TODAY,
    count_collections,
    cut,
    read_collection,
    set_area,
    set_zone,
    words,
)
from tests.builders.members import make_permit
from tests.builders.trees import Orchard, change, look, make_site, make_tree, stop
from tests.infra.cast import Cast
from tests.infra.statements import Statements


def test_a_cut_needs_only_its_tree_and_its_sticks(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    look(writer, cast.host, tree.id, seen_on=date(2025, 7, 1))

    made = cut(writer, cast.collector, tree.id, 6)

    assert (made.number, made.sticks, made.wood, made.cut_on, made.page_name) == (
        1,
        6,
        "dormant",
        TODAY,
        "‘Gala’",
    )
    assert made.unfinished and made.missing == ["stage", "leaves_down", "disinfected"]
    assert made.area_id == orchard.area_id and made.round_id is not None
    assert words(made) == {"area_not_known"}  # whoever cuts has no area in the record
    kept = read_collection(database, made.id)
    assert kept == made.model_copy(update={"warnings": []})


def test_a_cut_with_everything_told_is_finished(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    made = cut(writer, cast.collector, make_tree(writer, cast.steward, orchard).id, **ALL_TOLD)

    assert (made.unfinished, made.missing, made.wood_use) == (False, [], "keep")


def test_a_cut_is_recorded_for_whom_it_was_done(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    for_guest = replace(cast.collector, acting_for_id=cast.guest_id)

    made = cut(writer, for_guest, make_tree(writer, cast.steward, orchard).id)

    assert (made.by_party_id, made.for_party_id) == (cast.collector.party_id, cast.guest_id)


@pytest.mark.parametrize("minutes, fine", [(10, True), (11, False)])
def test_a_cut_lies_at_most_ten_minutes_in_the_future(
    writer: Writer,
    cast: Cast,
    orchard: Orchard,
    clock: FixedClock,
    database: Database,
    minutes: int,
    fine: bool,
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    at = clock.now() + timedelta(minutes=minutes)

    if fine:
        assert cut(writer, cast.collector, tree.id, done_at=at).done_at == at
    else:
        with pytest.raises(InTheFuture):
            cut(writer, cast.collector, tree.id, done_at=at)
        assert count_collections(database) == 0


@pytest.mark.parametrize("zone", ["Pacific/Auckland", "America/Los_Angeles", "Europe/Berlin", "UTC"])
@pytest.mark.parametrize(
    "at", [datetime(2026, 1, 14, 23, 30, tzinfo=UTC), datetime(2025, 10, 26, 0, 30, tzinfo=UTC)]
)
def test_the_day_of_a_cut_is_the_one_on_the_clubs_calendar(
    writer: Writer, cast: Cast, orchard: Orchard, zone: str, at: datetime
) -> None:
    set_zone(writer, zone)

    made = cut(writer, cast.collector, make_tree(writer, cast.steward, orchard).id, done_at=at)

    # Against zoneinfo's own tables.
    assert made.cut_on == at.astimezone(ZoneInfo(zone)).date()


def test_a_cut_before_the_tree_was_planted_is_told_and_recorded(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(writer, cast.steward, orchard, planted_year=2026)

    made = cut(writer, cast.collector, tree.id, done_at=datetime(2025, 12, 30, 12, tzinfo=UTC))

    assert "before_planting" in words(made)


def test_a_stage_the_kind_does_not_have_is_refused_and_names_those_it_has(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    plum = make_tree(writer, cast.steward, orchard, cultivar_id=orchard.victoria_id)
    apple = make_tree(writer, cast.steward, orchard)

    # BBCH Monograph (Meier, ed.): 07 stands in the pome list and not in the stone list.
    assert "stage_do_not_cut" in words(cut(writer, cast.collector, apple.id, stage="07"))
    with pytest.raises(NoSuchStage) as refused:
        cut(writer, cast.collector, plum.id, stage="07")
    assert refused.value.facts["allowed"] == ["00", "01", "03", "09", "10", "11"]
    assert count_collections(database) == 1


def test_summer_budwood_is_asked_other_things(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    tree = make_tree(writer, cast.steward, orchard)

    made = cut(writer, cast.collector, tree.id, wood="summer", leaves_off=True, disinfected=True)

    assert (made.unfinished, made.missing, made.wood_use) == (False, [], None)
    assert "use_within_days" in words(made)
    with pytest.raises(NoStageInSummer):
        cut(writer, cast.collector, tree.id, wood="summer", stage="00")


def test_nothing_is_cut_of_a_stopped_tree_and_no_other_cut_of_the_list_is_written(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    well, sick = make_tree(writer, cast.steward, orchard), make_tree(writer, cast.steward, orchard)
    stop(writer, cast.host, sick.id, agent="fire-blight")
    body = [CollectionCreate(tree_id=tree.id, sticks=3) for tree in (well, sick)]

    with pytest.raises(StoppedTree) as refused:
        writer.write_now(actions.record_collections, cast.collector, body)

    assert (
        refused.value.facts["agent"].startswith("Erwinia amylovora")
        and "health steward" in refused.value.todo
    )
    assert count_collections(database) == 0


@pytest.mark.parametrize(
    "told",
    [{"may_cut": "no"}, {"no_propagation_contract": True}, {"cultivar": "protected"}, {"may_cut": "ask"}],
)
def test_what_may_not_be_cut_is_refused(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database, told: dict
) -> None:
    protected = told == {"cultivar": "protected"}
    more = {"cultivar_id": orchard.protected_id} if protected else told
    tree = make_tree(writer, cast.steward, orchard, owner_id=cast.member.party_id, **more)

    with pytest.raises(Problem) as refused:
        cut(writer, cast.collector, tree.id)

    assert refused.value.todo and isinstance(refused.value, ProtectedVariety) is protected
    assert count_collections(database) == 0


def test_how_the_owner_agreed_is_kept(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard, owner_id=cast.member.party_id, may_cut="ask")

    made = cut(writer, cast.collector, tree.id, owner_agreed="by telephone on Sunday")

    assert read_collection(database, made.id).owner_agreed == "by telephone on Sunday"
    with pytest.raises(OwnerNotAsked):
        cut(writer, cast.collector, tree.id)
    assert cut(writer, replace(cast.collector, acting_for_id=cast.member.party_id), tree.id).number == 2


def test_the_owners_limit_holds_for_a_season_of_one_kind_of_wood(
    writer: Writer, cast: Cast, orchard: Orchard, clock: FixedClock
) -> None:
    tree = make_tree(writer, cast.steward, orchard, owner_id=cast.member.party_id, most_sticks=10)
    last_winter = clock.now() - timedelta(days=330)
    cut(writer, cast.collector, tree.id, 10, done_at=last_winter)
    cut(writer, cast.collector, tree.id, 10, wood="summer", done_at=clock.now() - timedelta(days=150))
    cut(writer, cast.collector, tree.id, 7)

    with pytest.raises(MoreThanOwnerSaid) as refused:
        cut(writer, cast.collector, tree.id, 4)
    with pytest.raises(MoreThanOwnerSaid):
        body = [CollectionCreate(tree_id=tree.id, sticks=2) for _ in range(2)]
        writer.write_now(actions.record_collections, cast.collector, body)

    assert refused.value.facts["left"] == 3
    assert cut(writer, cast.collector, tree.id, 3).sticks == 3


def test_a_cut_that_is_told_long_after_counts_with_what_was_cut_around_its_own_day(
    writer: Writer, cast: Cast, orchard: Orchard, clock: FixedClock
) -> None:
    tree = make_tree(writer, cast.steward, orchard, owner_id=cast.member.party_id, most_sticks=10)
    last_winter = clock.now() - timedelta(days=330)
    cut(writer, cast.collector, tree.id, 7, done_at=last_winter)

    with pytest.raises(MoreThanOwnerSaid) as refused:
        cut(writer, cast.collector, tree.id, 4, done_at=last_winter - timedelta(days=20))

    assert refused.value.facts["left"] == 3


def test_two_who_cut_at_once_do_not_pass_the_owners_limit(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard, owner_id=cast.member.party_id, most_sticks=10)

    def try_cut(_: int) -> str:
        try:
            return str(cut(writer, cast.collector, tree.id, 3).sticks)
        except Problem as problem:
            return problem.slug()

    with ThreadPoolExecutor(8) as pool:
        said = sorted(pool.map(try_cut, range(8)))

    assert said == ["3"] * 3 + ["more-than-owner-said"] * 5
    with database.reading() as session:
        page = queries.list_collections(session, Paging())
    assert (
        sorted(one.number for one in page.items) == [1, 2, 3]
        and len({one.round_id for one in page.items}) == 1
    )


def test_of_a_tree_of_several_varieties_one_is_cut(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    tree = make_tree(writer, cast.steward, orchard, varieties=[{"cultivar_id": orchard.bramley_id}])

    assert cut(writer, cast.collector, tree.id, cultivar_id=orchard.bramley_id).page_name == "‘Bramley’"
    with pytest.raises(NotOnThisTree):
        cut(writer, cast.collector, tree.id, cultivar_id=orchard.victoria_id)


def test_a_cut_of_nothing_known_is_told(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    with pytest.raises(NotFound):
        cut(writer, cast.collector, uuid4())
    made = cut(writer, cast.collector, make_tree(writer, cast.steward, orchard).id)
    with pytest.raises(AlreadyKnown):
        cut(writer, cast.collector, make_tree(writer, cast.steward, orchard).id, id=made.id)


def test_twenty_cuts_cost_no_more_statements_than_one(
    writer: Writer, cast: Cast, orchard: Orchard, statements: Statements
) -> None:
    other = make_site(writer, cast.steward, orchard.area_id)
    trees = [
        make_tree(writer, cast.steward, orchard, site_id=(orchard.site_id, other.id)[n % 2])
        for n in range(20)
    ]

    def body(count: int) -> list[CollectionCreate]:
        return [CollectionCreate(tree_id=tree.id, sticks=2, **ALL_TOLD) for tree in trees[:count]]

    with statements.at_most(10):
        writer.write_now(actions.record_collections, cast.collector, body(1))
    with statements.at_most(10):
        writer.write_now(actions.record_collections, cast.collector, body(20))


def test_who_cuts_in_another_area_needs_the_authoritys_answer(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    set_area(writer, cast.collector.party_id, orchard.other_area_id)

    for_them = replace(cast.steward, acting_for_id=cast.collector.party_id)
    for who in (cast.collector, for_them):
        with pytest.raises(CrossesArea):
            cut(writer, who, tree.id)
    assert count_collections(database) == 0
    make_permit(writer, cast.health_steward, orchard.area_id, orchard.other_area_id)
    assert words(cut(writer, cast.collector, tree.id)) == {"never_seen_in_leaf"}


def test_a_felled_tree_is_cut_no_more(
    writer: Writer, cast: Cast, orchard: Orchard, clock: FixedClock
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    change(writer, cast.steward, tree, felled_on=TODAY)

    assert cut(writer, cast.collector, tree.id).number == 1
    clock.move(timedelta(days=1))
    with pytest.raises(Problem) as refused:
        cut(writer, cast.collector, tree.id)
    assert refused.value.slug() == "tree-felled"


def test_a_stop_placed_at_the_same_time_lets_no_cut_through_unseen(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    trees = [make_tree(writer, cast.steward, orchard).id for _ in range(4)]

    def attempt(act: Callable[[], Any]) -> bool:
        try:
            act()
        except StoppedTree:
            return False
        return True

    for tree in trees:
        acts = [lambda tree=tree: cut(writer, cast.collector, tree, 1) for _ in range(4)]
        acts.insert(2, lambda tree=tree: stop(writer, cast.host, tree))
        with ThreadPoolExecutor(5) as pool:
            done = list(pool.map(attempt, acts))
        assert done[2]
        assert not attempt(lambda tree=tree: cut(writer, cast.collector, tree, 1))
        with database.reading() as session:
            kept = queries.list_collections(session, Paging(), tree_id=tree).count
        assert kept == sum(done) - 1
