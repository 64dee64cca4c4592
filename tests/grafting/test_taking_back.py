"""A graft that was recorded by mistake is taken back whole, or refused with what to do instead."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID, uuid4

import pytest

from service.grafting import actions, queries
from service.grafting.rules import (
    AlreadyTakenBack,
    GraftIsTakenBack,
    GraftToTakeBack,
    GraftWasJudged,
    OnlyReleaserTakesBack,
    PlantIsVoid,
    PlantOfMistake,
    PlantState,
    PlantsWentOn,
    can_take_back,
    check_can_take_back,
)
from service.grafting.schemas import GraftUndo, PlantAsTree, PlantMoveCreate, PlantUpdate, TakeCheckCreate
from service.lib.clock import FixedClock
from service.lib.errors import Problem
from service.lib.paging import Paging
from service.lib.write import Writer
from service.provenance.queries import parties_to_tell, timeline, trace_back, trace_forward
from service.trees.queries import get_stop
from tests.builders.bundles import audit_of, moves_of, read_bundle
from tests.builders.provenance import Yard, make_yard
from tests.infra.cast import Cast
from tests.infra.statements import Statements


@pytest.fixture
def yard(writer: Writer, cast: Cast) -> Yard:
    return make_yard(writer, cast)


def take_back(yard: Yard, graft_id: UUID, who: str = "steward", reason: str = "the wrong bundle was scanned"):
    return yard.writer.write_now(
        actions.take_back_graft, yard.cast.asker(who), graft_id, GraftUndo(reason=reason)
    )


def took(yard: Yard, graft_id: UUID) -> None:
    assert isinstance(yard.writer.clock, FixedClock)
    yard.writer.clock.move(timedelta(weeks=10))  # by then its method lets a take be judged
    body = TakeCheckCreate(graft_id=graft_id, alive=1, looked_at=1, is_verdict=True)
    yard.writer.write_now(actions.record_take_checks, yard.cast.steward, [body])


PLANT = PlantOfMistake(uuid4(), 3, False, False, False)


@pytest.mark.parametrize(
    "graft, may_release, refused",
    [
        (GraftToTakeBack(1, False, 0, False, [PLANT]), False, None),
        (GraftToTakeBack(1, False, 0, True, [PLANT]), True, None),
        (GraftToTakeBack(1, True, 0, False, []), True, AlreadyTakenBack),
        (GraftToTakeBack(1, False, 2, False, []), True, GraftWasJudged),
        (GraftToTakeBack(1, False, 0, True, []), False, OnlyReleaserTakesBack),
        (GraftToTakeBack(1, False, 0, False, [PlantOfMistake(PLANT.id, 3, True, False, False)]), True, PlantsWentOn),
        (GraftToTakeBack(1, False, 0, False, [PlantOfMistake(PLANT.id, 3, False, True, False)]), True, PlantsWentOn),
        (GraftToTakeBack(1, False, 0, False, [PlantOfMistake(PLANT.id, 3, False, False, True)]), True, PlantsWentOn),
    ],
    ids=["fresh", "stopped-releaser", "before", "judged", "stopped", "a-tree", "passed-on", "grafted-again"],
)  # fmt: skip
def test_what_forbids_taking_back_says_what_to_do(
    graft: GraftToTakeBack, may_release: bool, refused: type[Problem] | None
) -> None:
    assert can_take_back(graft, may_release=may_release) is (refused is None)
    if refused is not None:
        with pytest.raises(refused) as told:
            check_can_take_back(graft, may_release=may_release)
        assert told.value.todo


def test_the_sticks_return_by_a_movement_of_their_own_and_the_tags_still_tell(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    graft = yard.graft(bundle.id, plants=2, grafts=2)

    back = take_back(yard, graft.id)

    after = read_bundle(yard.database, bundle.id)
    assert (after.on_hand, after.grafted) == (8, 0)
    assert [(one.kind, one.sticks, one.reason) for one in moves_of(yard.database, bundle.id)][-2:] == [
        ("grafted", 1, ""),
        ("graft_undone", 1, "the wrong bundle was scanned"),
    ]
    assert {plant.state for plant in back.plants} == {PlantState.VOID}
    assert (back.taken_back_at, back.taken_back_reason) == (
        yard.writer.clock.now(),
        "the wrong bundle was scanned",
    )
    said = yard.scan(graft.plants[0].code)
    assert "recorded by mistake, taken back on 14 February 2026" in said.answer
    assert said.card["state"] == "void"
    assert yard.scan(graft.plants[0].code, "steward").offers == []
    assert yard.scan(bundle.code).card["sticks"]["grafted"] == 0
    assert audit_of(yard.database).clean


def test_nothing_comes_of_a_graft_that_was_taken_back(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    graft = yard.graft(bundle.id)
    take_back(yard, graft.id)

    with yard.database.reading() as session:
        forward = trace_forward(session, "tree", yard.tree_id)
        back = trace_back(session, "plant", graft.plants[0].id)
        told = timeline(session, bundle.id)
        due = queries.list_takes_due(
            session, Paging(), graft.verdict_on or graft.done_at.date() + timedelta(days=90)
        )
        counts = queries.count_takes(session, queries_by())
        listed = queries.list_plants(session, Paging()).count
    assert forward.summary()["grafts"] == forward.summary()["plants"] == 0
    assert back.summary()["bundles"] == 0
    assert any("Recorded by mistake, taken back on" in event.words for event in told)
    assert (due.count, counts, listed) == (0, [], 0)
    stop = yard.stop()
    assert stop.bound.plants == 0
    assert all(tie.tie != "grafted" for one in stop.to_tell for tie in one.ties)


def queries_by():
    from service.grafting.rules import GroupBy

    return GroupBy.METHOD


def test_a_graft_is_taken_back_once(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    graft = yard.graft(bundle.id)
    take_back(yard, graft.id)

    with pytest.raises(AlreadyTakenBack):
        take_back(yard, graft.id)

    assert read_bundle(yard.database, bundle.id).on_hand == 8


def test_what_was_seen_planted_or_passed_on_stays_in_the_record(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    seen, passed = yard.graft(bundle.id), yard.graft(bundle.id)
    planted = yard.graft(bundle.id)
    took(yard, seen.id)
    move = PlantMoveCreate(plant_id=passed.plants[0].id, party_id=yard.cast.guest_id)
    yard.writer.write_now(actions.pass_on_plants, yard.cast.steward, [move])
    took(yard, planted.id)
    yard.writer.write_now(
        actions.plant_as_tree,
        yard.cast.steward,
        planted.plants[0].id,
        PlantAsTree(site_id=yard.orchard.site_id),
    )

    for graft, refused in ((seen, GraftWasJudged), (passed, PlantsWentOn), (planted, GraftWasJudged)):
        with pytest.raises(refused):
            take_back(yard, graft.id)

    assert read_bundle(yard.database, bundle.id).grafted == 3
    assert audit_of(yard.database).clean


def test_stopped_wood_is_taken_back_only_by_who_may_release(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    graft = yard.graft(bundle.id)
    stop = yard.stop()

    with pytest.raises(OnlyReleaserTakesBack):
        take_back(yard, graft.id)
    take_back(yard, graft.id, "administrator")

    with yard.database.reading() as session:
        assert get_stop(session, stop.stop.id).state == "suspected"
        assert parties_to_tell(session, stop.stop.id)
    assert read_bundle(yard.database, bundle.id).stopped
    assert audit_of(yard.database).clean


def test_a_graft_that_made_no_plant_is_bound_by_the_stop_on_its_wood_alone(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    graft = yard.graft(bundle.id, plants=0)
    yard.stop()

    with pytest.raises(OnlyReleaserTakesBack):
        take_back(yard, graft.id)

    assert read_bundle(yard.database, bundle.id).grafted == 1


def test_a_void_plant_takes_no_look_no_graft_and_no_change_of_hands(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    graft = yard.graft(bundle.id)
    plant = graft.plants[0]
    take_back(yard, graft.id)

    with pytest.raises(GraftIsTakenBack):
        yard.writer.write_now(
            actions.record_take_checks, yard.cast.steward, [TakeCheckCreate(plant_id=plant.id, alive=1)]
        )
    with pytest.raises(PlantIsVoid):
        yard.writer.write_now(
            actions.change_plant, yard.cast.steward, plant.id, plant.version + 1, PlantUpdate(gone=True)
        )
    with pytest.raises(PlantIsVoid):
        move = PlantMoveCreate(plant_id=plant.id, party_id=yard.cast.guest_id)
        yard.writer.write_now(actions.pass_on_plants, yard.cast.steward, [move])


def test_taking_back_over_http_is_done_once_for_the_same_key(yard: Yard, client) -> None:
    (bundle,) = yard.cut(8)
    graft = yard.graft(bundle.id)
    path, body, key = (
        f"/api/grafts/{graft.id}/taken-back",
        {"reason": "typed 12 for 21"},
        {"Idempotency-Key": "undo-once"},
    )

    first = client("steward").post(path, json=body, headers=key)
    again = client("steward").post(path, json=body, headers=key)

    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json()
    assert client("steward").post(path, json={"reason": ""}).status_code == 422
    assert client("steward").post(path, json=body).json()["type"] == "/problems/already-taken-back"
    assert client("member").post(path, json=body).status_code == 403
    assert client("stranger").post(path, json=body).status_code == 401


def test_taking_back_twenty_plants_costs_no_more_than_one(yard: Yard, statements: Statements) -> None:
    (bundle,) = yard.cut(30)
    one, twenty = yard.graft(bundle.id, plants=1), yard.graft(bundle.id, plants=20, grafts=20)
    statements.clear()
    take_back(yard, one.id)
    for_one = len(statements)

    with statements.at_most(for_one):
        take_back(yard, twenty.id)


def test_pages_of_a_graft_taken_back_say_so_and_ask_for_no_look(client, app, cast) -> None:
    yard = make_yard(app.state.writer, cast)
    graft = yard.graft(yard.cut(5)[0].id)
    take_back(yard, graft.id)
    desk, page = client("steward"), {"Accept": "text/html"}

    told = desk.get(f"/grafts/{graft.id}", headers=page).text
    plant = desk.get(f"/plants/{graft.plants[0].id}", headers=page).text

    assert "Recorded by mistake, taken back on" in told and "The wrong bundle was scanned." in told
    assert "Did it take?" not in told and f"/grafts/{graft.id}/look" not in told
    assert "there never was such a plant" in plant


def test_a_plant_that_failed_has_failed_still_when_a_second_graft_on_it_is_taken_back(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    first = yard.graft(bundle.id)
    dead = TakeCheckCreate(graft_id=first.id, alive=0, looked_at=1, is_verdict=True)
    yard.writer.write_now(actions.record_take_checks, yard.cast.steward, [dead])
    plant_id = first.plants[0].id
    again = yard.graft(bundle.id, plants=0, plant_id=plant_id)

    take_back(yard, again.id)

    with yard.database.reading() as session:
        assert queries.get_plant(session, plant_id).state == "failed"
