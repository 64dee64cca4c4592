"""Stops on trees: what they bind, how they end, and whom they name."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

import pytest

from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.errors import NotFound, Problem, Unusable
from service.lib.paging import Paging
from service.lib.write import Writer
from service.trees import actions, queries
from service.trees.rules import StopStepNotAllowed, UnknownAgentForStop
from service.trees.schemas import StopRead, StopStepCreate
from tests.builders.trees import (
    Orchard,
    change,
    counts_agree,
    facts_of,
    make_site,
    make_tree,
    read_tree,
    stop,
)
from tests.infra.cast import Cast
from tests.infra.statements import Statements


def step(writer: Writer, cast: Cast, what: str, stop_id: UUID, **told: str) -> StopRead:
    act = {"confirm": actions.confirm_stop, "clear": actions.clear_stop}[what]
    return writer.write_now(act, cast.health_steward, stop_id, StopStepCreate(**told))


def test_a_stop_binds_its_trees_and_names_the_agent_with_its_code(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard)

    case = stop(writer, cast.host, tree.id, agent="fire-blight", note="Crooked shoots")

    # EPPO Global Database: ERWIAM is Erwinia amylovora.
    assert (case.agent, case.agent_code) == ("Erwinia amylovora (fire blight)", "ERWIAM")
    assert [(one.tree_id, one.is_origin, one.lifted_at) for one in case.trees] == [(tree.id, True, None)]
    assert [(one.state, one.note, one.by_name) for one in case.steps] == [
        ("suspected", "Crooked shoots", cast.host.name)
    ]
    shown = read_tree(database, tree.id)
    assert shown.open_stops == 1 and shown.stops[0].words.startswith(
        "Erwinia amylovora (fire blight) is suspected"
    )
    assert "health steward" in shown.stops[0].lifted_by


def test_a_stop_says_the_day_it_was_in_the_club(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database, clock: FixedClock
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    clock.at = datetime(2026, 5, 3, 23, 30, tzinfo=UTC)  # half past midnight in London

    stop(writer, cast.host, tree.id)

    assert read_tree(database, tree.id).stops[0].words.endswith("since 4 May 2026")


def test_a_stop_is_confirmed_then_cleared_and_then_over(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    case = stop(writer, cast.host, tree.id)

    with pytest.raises(UnknownAgentForStop):
        step(writer, cast, "confirm", case.id)
    confirmed = step(writer, cast, "confirm", case.id, agent="ERWIAM", note="Laboratory, by letter")
    cleared = step(writer, cast, "clear", case.id, note="Replanted after two clean summers")

    assert (confirmed.state, confirmed.agent_code, confirmed.cleared_at) == ("confirmed", "ERWIAM", None)
    assert (cleared.state, [one.state for one in cleared.steps]) == (
        "cleared",
        ["suspected", "confirmed", "cleared"],
    )
    assert cleared.trees[0].lifted_at == cleared.cleared_at is not None
    assert read_tree(database, tree.id).open_stops == 0 and facts_of(database, tree.id).stop is None
    for what in ("confirm", "clear"):
        with pytest.raises(StopStepNotAllowed):
            step(writer, cast, what, case.id, agent="ERWIAM")
    with pytest.raises(StopStepNotAllowed):
        writer.write_now(actions.place_stop, cast.health_steward, case.id, [tree.id])
    assert counts_agree(database)


def test_a_tree_bound_twice_by_one_stop_counts_once(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    first, second = make_tree(writer, cast.steward, orchard), make_tree(writer, cast.steward, orchard)
    case = stop(writer, cast.host, first.id)

    new = [writer.write_now(actions.place_stop, cast.host, case.id, [first.id, second.id]) for _ in range(2)]

    assert new == [[second.id], []]
    assert [read_tree(database, tree.id).open_stops for tree in (first, second)] == [1, 1]
    with database.reading() as session:
        placed = {one.tree_id: one.is_origin for one in queries.get_stop(session, case.id).trees}
    assert placed == {first.id: True, second.id: False}
    assert counts_agree(database)


def test_a_tree_under_two_stops_stays_stopped_until_both_are_cleared(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    name, health = (
        stop(writer, cast.host, tree.id, reason="name"),
        stop(writer, cast.host, tree.id, reason="health"),
    )

    assert facts_of(database, tree.id).stop_reason == "health"  # the graver one is told
    step(writer, cast, "clear", health.id)
    assert (read_tree(database, tree.id).open_stops, facts_of(database, tree.id).stop_reason) == (1, "name")
    rights = stop(writer, cast.host, tree.id, reason="rights")
    assert facts_of(database, tree.id).stop_reason == "rights"  # somebody's right goes before a doubtful name
    step(writer, cast, "clear", rights.id)
    step(writer, cast, "clear", name.id)
    assert read_tree(database, tree.id).open_stops == 0 and counts_agree(database)


def test_a_doubtful_name_is_put_right_while_the_wood_is_still_bound(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    stop(writer, cast.host, tree.id, reason="name")

    righted = change(writer, cast.steward, tree, cultivar_id=orchard.bramley_id, identity="fruit_compared")

    assert (righted.page_name, righted.open_stops) == ("‘Bramley’", 1)


def test_a_stop_on_an_unknown_tree_is_not_opened(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    with pytest.raises(Unusable):
        stop(writer, cast.host, make_tree(writer, cast.steward, orchard).id, uuid4())
    with pytest.raises(NotFound):
        step(writer, cast, "clear", uuid4())

    with database.reading() as session:
        assert queries.list_stops(session, Paging()).count == 0
    assert counts_agree(database)


def test_of_two_who_clear_at_once_one_is_told_that_it_was_done(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    case = stop(writer, cast.host, tree.id)

    def clear(_: int) -> str:
        try:
            return step(writer, cast, "clear", case.id).state
        except Problem as problem:
            return problem.slug()

    with ThreadPoolExecutor(6) as pool:
        said = sorted(pool.map(clear, range(6)))

    assert said == ["cleared", *["stop-step-not-allowed"] * 5]
    assert counts_agree(database)


def test_many_who_bind_the_same_trees_at_once_count_each_once(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    trees = [make_tree(writer, cast.steward, orchard).id for _ in range(5)]
    case = stop(writer, cast.host, trees[0])

    with ThreadPoolExecutor(6) as pool:
        new = list(
            pool.map(lambda _: writer.write_now(actions.place_stop, cast.host, case.id, trees), range(6))
        )

    assert sorted(tree for each in new for tree in each) == sorted(trees[1:])
    assert {read_tree(database, tree).open_stops for tree in trees} == {1} and counts_agree(database)


def test_binding_twenty_trees_costs_no_more_statements_than_one(
    writer: Writer, cast: Cast, orchard: Orchard, statements: Statements
) -> None:
    trees = [make_tree(writer, cast.steward, orchard).id for _ in range(21)]

    with statements.at_most(10):
        stop(writer, cast.host, trees[0])
    with statements.at_most(10):
        stop(writer, cast.host, *trees[1:])


def test_every_host_on_the_site_is_named_and_nothing_else(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    elsewhere = make_site(writer, cast.steward, orchard.area_id)
    sick = make_tree(writer, cast.steward, orchard)
    apple = make_tree(writer, cast.steward, orchard, cultivar_id=orchard.bramley_id)
    pear = make_tree(writer, cast.steward, orchard, taxon_id=orchard.pear_id, name_as_told="Baker's pear")
    make_tree(writer, cast.steward, orchard, cultivar_id=orchard.victoria_id)
    make_tree(writer, cast.steward, orchard, site_id=elsewhere.id)

    with database.reading() as session:
        known = queries.hosts_on_site(session, sick.id, "ERWIAM")
        unknown = queries.hosts_on_site(session, sick.id, "some spots")

    # EPPO Global Database, ERWIAM: Malus and Pyrus are hosts, Prunus is not listed among the main ones.
    assert [(one.tree_id, one.why) for one in known] == [
        (apple.id, "host_on_site"),
        (pear.id, "host_on_site"),
    ]
    assert known[1].words == "Pear on the same site; Pyrus is a host of Erwinia amylovora (fire blight)"
    assert [(one.tree_id, one.why) for one in unknown] == [(apple.id, "same_kind_on_site")]


def test_stops_are_listed_open_or_cleared_or_by_tree(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database, clock: FixedClock
) -> None:
    trees = [make_tree(writer, cast.steward, orchard).id for _ in range(2)]
    first = stop(writer, cast.host, trees[0])
    clock.move(timedelta(hours=1))
    second = stop(writer, cast.host, trees[1], reason="rights")
    step(writer, cast, "clear", first.id)

    def ids(**asked: object) -> list[UUID]:
        with database.reading() as session:
            return [one.id for one in queries.list_stops(session, Paging(), **asked).items]

    assert ids() == [second.id, first.id]
    assert (ids(is_open=True), ids(is_open=False)) == ([second.id], [first.id])
    assert ids(tree_id=trees[0]) == [first.id]
