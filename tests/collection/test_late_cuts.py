"""A cut of a stopped tree that is written down late: the wood exists, so it is recorded, and born bound."""

from __future__ import annotations

from datetime import timedelta

import pytest

from service.collection.queries import get_collection_with_warnings
from service.collection.rules import (
    Cutting,
    Wood,
    can_cut_by_stop,
    check_stop_on_cut,
)
from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.write import Writer
from service.provenance.queries import unknown_takers
from service.tags.queries.words import label_words
from service.tags.rules.words import TagKind
from service.trees.rules import StoppedTree
from tests.builders.bundles import audit_of, read_bundle
from tests.builders.collection import TODAY, cut, words
from tests.builders.provenance import Yard, make_yard
from tests.builders.trees import facts_of
from tests.infra.cast import Cast
from tests.infra.statements import Statements


@pytest.fixture
def yard(writer: Writer, cast: Cast) -> Yard:
    return make_yard(writer, cast)


def test_the_rule_asks_when_it_was_cut_and_whether_somebody_says_so(yard: Yard, database: Database) -> None:
    yard.stop()
    tree, now = facts_of(database, yard.tree_id), yard.writer.clock.now()

    def wanted(hours: int, already_cut: bool = False) -> Cutting:
        return Cutting(
            Wood.DORMANT, 3, TODAY, frozenset(), done_at=now + timedelta(hours=hours), already_cut=already_cut
        )

    assert [can_cut_by_stop(tree, wanted(hours)) for hours in (-1, 0, 1)] == [True, False, False]
    assert can_cut_by_stop(tree, wanted(1, already_cut=True))
    check_stop_on_cut(tree, wanted(-1))
    with pytest.raises(StoppedTree) as told:
        check_stop_on_cut(tree, wanted(0))
    assert "already cut" in told.value.todo


def test_a_cut_before_the_stop_is_born_bound_and_says_so(yard: Yard, database: Database) -> None:
    stop, now = yard.stop(), yard.writer.clock.now()
    yard.writer.clock.move(timedelta(hours=6))

    first, second = yard.cut(5, 3, done_at=now - timedelta(hours=2))

    assert first.stopped and second.stopped
    assert read_bundle(database, first.id) == first
    card = yard.scan(first.code).card
    assert card["state"] == "stopped"
    assert card["stops"][0]["reason"] == "health"
    with database.reading() as session:
        label = label_words(session, [(TagKind.BUNDLE, first.id)], today=TODAY)[first.id]
        assert unknown_takers(session, stop.stop.id) == []
    assert label.rights.startswith("Stopped 14 Feb 2026: scan before use")
    assert audit_of(database).clean


def test_the_answer_says_in_words_that_the_wood_is_stopped(yard: Yard, client) -> None:
    now = yard.writer.clock.now()
    yard.stop()
    yard.writer.clock.move(timedelta(hours=6))
    cut = {"tree_id": str(yard.tree_id), "sticks": 4}

    refused = client("collector").post("/api/labelled-cuts", json=[{"cut": cut}])
    late = client("collector").post(
        "/api/labelled-cuts", json=[{"cut": {**cut, "done_at": (now - timedelta(hours=1)).isoformat()}}]
    )
    against = client("collector").post("/api/labelled-cuts", json=[{"cut": {**cut, "already_cut": True}}])

    assert (refused.status_code, refused.json()["type"]) == (409, "/problems/stopped-tree")
    assert "already cut" in refused.json()["todo"]
    for answer, word in ((late, "cut_before_stop"), (against, "cut_against_stop")):
        assert answer.status_code == 201, answer.text
        made = answer.json()[0]
        warned = {one["word"]: one["text"] for one in made["collection"]["warnings"]}
        assert "throw nothing away" in warned[word]
        assert [bundle["stopped"] for bundle in made["bundles"]] == [True]


def test_what_is_told_of_a_cut_again_says_when_its_tree_was_stopped_as_its_answer_did(yard: Yard) -> None:
    before = cut(yard.writer, yard.cast.collector, yard.tree_id)
    yard.writer.clock.move(timedelta(hours=6))
    yard.stop()
    late = cut(yard.writer, yard.cast.collector, yard.tree_id, done_at=before.done_at)
    against = cut(yard.writer, yard.cast.collector, yard.tree_id, already_cut=True)

    with yard.database.reading() as session:
        again = [get_collection_with_warnings(session, told.id) for told in (before, late, against)]

    stops = {"cut_before_stop", "cut_against_stop"}
    assert [words(told) & stops for told in again] == [
        {"cut_before_stop"},
        {"cut_before_stop"},
        {"cut_against_stop"},
    ]
    assert [words(told) for told in again[1:]] == [words(late), words(against)]


def test_an_untouched_tree_is_warned_of_nothing(yard: Yard) -> None:
    told = cut(yard.writer, yard.cast.collector, yard.tree_id, already_cut=True)

    assert not words(told) & {"cut_before_stop", "cut_against_stop"}


def test_two_stops_bind_late_wood_twice_and_clearing_one_leaves_the_other(
    yard: Yard, clock: FixedClock
) -> None:
    now = clock.now()
    yard.stop()
    yard.stop(reason="name")
    clock.move(timedelta(hours=1))

    (late,) = yard.cut(4, done_at=now - timedelta(minutes=5))

    assert len(yard.scan(late.code).card["stops"]) == 2
    assert audit_of(yard.database).clean


def test_late_wood_of_twenty_bundles_costs_no_more_statements_than_of_one(
    yard: Yard, statements: Statements
) -> None:
    yard.stop()
    statements.clear()
    yard.cut(3, already_cut=True)
    for_one = len(statements)

    with statements.at_most(for_one):
        yard.cut(*[2] * 20, already_cut=True)


def test_on_a_stopped_trees_page_wood_that_is_cut_already_can_be_written_down(yard: Yard, client) -> None:
    yard.stop()
    collector, path = client("collector"), f"/cut/{yard.tree_id}"
    html = {"Accept": "text/html"}

    plain, asked = (collector.get(address, headers=html) for address in (path, f"{path}?already_cut=true"))

    assert 'method="post"' not in plain.text.split("<main", 1)[-1]
    assert f"{path}?already_cut=true" in plain.text
    assert 'name="already_cut" value="true"' in asked.text
    assert "throw nothing away" in asked.text
    form = {
        "sticks": "4", "already_cut": "true", "form_key": "7d5a3f3e-6f4b-4c52-9f0e-2d1f5a9c8b11",
        "csrf_token": collector.csrf_token,
    }  # fmt: skip
    made = collector.post(path, data=form, headers=html)
    assert made.status_code in (200, 303), made.text[:500]
    with yard.database.reading() as session:
        from service.bundles.queries import list_bundles
        from service.lib.paging import Paging

        assert list_bundles(session, Paging(), tree_id=yard.tree_id, stopped=True).count == 1
