"""One bundle that was bound in error goes free with all that came of it alone; the rest stays bound, and all stays written."""

from __future__ import annotations

from datetime import date, timedelta
from uuid import UUID, uuid4

import pytest
from sqlalchemy import update
from sqlmodel import select

from service.bundles import actions as bundle_actions
from service.grafting import actions as grafting
from service.grafting.schemas import PlantAsTree
from service.members.tables import Club
from service.provenance import actions, queries
from service.provenance.rules.lineage import Thing
from service.provenance.rules.stops import (
    NothingBound,
    ReleaseStopsShort,
    can_release,
    check_can_release,
)
from service.provenance.schemas import StopBind, StopRelease
from service.trees.rules import StopStepNotAllowed
from service.trees.schemas import StopStepCreate
from service.trees.tables import StopRelease as ReleaseRow
from tests.builders.bundles import audit_of, read_bundle
from tests.builders.provenance import Yard
from tests.builders.trees import counts_agree, make_tree, read_tree

A, B, C = (UUID(int=n) for n in (1, 2, 3))


def release(
    yard: Yard, stop_id: UUID, *bundle_ids: UUID, reason: str = "the tag shows that it was cut of tree 9"
):
    body = StopRelease(bundle_ids=list(bundle_ids), reason=reason)
    return yard.writer.write_now(actions.release_from_stop, yard.cast.health_steward, stop_id, body)


def bind_again(yard: Yard, stop_id: UUID, *bundle_ids: UUID):
    return yard.writer.write_now(
        actions.bind_also, yard.cast.health_steward, stop_id, StopBind(bundle_ids=list(bundle_ids))
    )


def grow_tree(yard: Yard, bundle_id: UUID) -> UUID:
    """A source tree from a graft with this wood that took."""
    graft = yard.graft(bundle_id)
    yard.took(graft.id)
    body = PlantAsTree(site_id=yard.orchard.site_id, may_cut="yes")
    return yard.writer.write_now(grafting.plant_as_tree, yard.cast.steward, graft.plants[0].id, body).tree_id


def events(yard: Yard, bundle_id: UUID) -> list[str]:
    with yard.database.reading() as session:
        return [one.act for one in queries.timeline(session, bundle_id) if one.kind == "stop"]


@pytest.mark.parametrize(
    "wanted, bound, parents, refused",
    [
        ({A}, {A, B}, {}, None),
        ({A}, {B}, {}, NothingBound),
        ({A}, {A, B}, {A: B}, ReleaseStopsShort),
        ({A, B}, {A, B}, {A: B}, None),
        ({A}, {A}, {A: C}, None),
    ],
    ids=["bound", "not-bound", "of-bound-parent", "with-its-parent", "of-free-parent"],
)
def test_a_piece_cannot_be_free_while_the_whole_is_not(wanted, bound, parents, refused) -> None:
    assert can_release(wanted, bound, parents) is (refused is None)
    if refused is not None:
        with pytest.raises(refused):
            check_can_release(wanted, bound, parents)


def test_one_of_three_is_released_with_what_came_of_it_alone(yard: Yard) -> None:
    first, second, third = yard.cut(8, 6, 4)
    child = yard.hand_over(first.id, 3, yard.cast.guest_id)
    alone = yard.graft(child.id).plants[0]
    both = yard.graft(first.id, woods=[{"bundle_id": first.id}, {"bundle_id": second.id}]).plants[0]
    stop = yard.stop()

    after = release(yard, stop.stop.id, first.id)

    stopped = [read_bundle(yard.database, one.id).stopped for one in (first, child, second, third)]
    assert stopped == [False, False, True, True]
    assert yard.scan(alone.code).card["state"] == "waiting"
    assert yard.scan(both.code).card["state"] == "stopped"
    with yard.database.reading() as session:
        nodes = queries.trace_forward(session, Thing.TREE, yard.tree_id).nodes.values()
    stopped_now = {node["id"]: node["stopped"] for node in nodes if node["kind"] == Thing.PLANT}
    assert stopped_now == {str(alone.id): False, str(both.id): True}
    assert (after.bound.bundles, after.bound.plants, after.bound.trees) == (2, 1, 1)
    assert read_tree(yard.database, yard.tree_id).open_stops == 1
    assert yard.scan(first.code).card["state"] == "ready"
    assert audit_of(yard.database).clean
    assert counts_agree(yard.database)


def test_a_tree_grown_of_released_wood_goes_free_with_it(yard: Yard) -> None:
    first, second = yard.cut(8, 6)
    tree_id = grow_tree(yard, first.id)
    yard.writer.clock.move(timedelta(days=300))
    (new,) = yard.cut(5, tree_id=tree_id)
    stop = yard.stop()

    release(yard, stop.stop.id, first.id)

    assert not read_tree(yard.database, tree_id).open_stops
    assert not read_bundle(yard.database, new.id).stopped
    assert read_bundle(yard.database, second.id).stopped
    assert counts_agree(yard.database)


@pytest.mark.parametrize(
    "grown_of_released", [True, False], ids=["grown-of-the-released", "carrying-the-released"]
)
def test_what_grew_of_one_wood_and_carries_another_stays_bound_by_either(
    yard: Yard, grown_of_released: bool
) -> None:
    first, second = yard.cut(8, 6)
    below, above = (first, second) if grown_of_released else (second, first)
    plant = yard.graft(below.id).plants[0]
    yard.graft(above.id, plants=0, plant_id=plant.id)
    tree_id = grow_tree(yard, below.id)
    yard.graft(above.id, plants=0, stock_tree_id=tree_id)
    stop = yard.stop()

    release(yard, stop.stop.id, first.id)

    assert not read_bundle(yard.database, first.id).stopped
    assert yard.scan(plant.code).card["state"] == "stopped"
    assert read_tree(yard.database, tree_id).open_stops == 1
    assert counts_agree(yard.database)


def test_a_release_says_why_and_by_whom_and_can_be_bound_again(yard: Yard) -> None:
    first, _ = yard.cut(8, 4)
    stop = yard.stop()
    yard.writer.clock.move(timedelta(hours=2))
    release(yard, stop.stop.id, first.id)
    yard.writer.clock.move(timedelta(hours=2))
    bind_again(yard, stop.stop.id, first.id)

    assert read_bundle(yard.database, first.id).stopped
    assert events(yard, first.id) == ["suspected", "released", "suspected"]
    with yard.database.reading() as session:
        rows = session.exec(select(ReleaseRow).where(ReleaseRow.thing_id == first.id)).all()
        lives = queries.lives_of(session, [first.id])[first.id]
    assert [(row.reason, row.by_party_id, row.alone) for row in rows] == [
        ("the tag shows that it was cut of tree 9", yard.cast.health_steward.party_id, True)
    ]
    assert [one.act for one in lives if one.kind == "stop"] == ["suspected", "released", "suspected"]
    assert audit_of(yard.database).clean


def test_what_is_said_of_a_stop_after_a_release_is_not_told_of_the_released(yard: Yard) -> None:
    first, second = yard.cut(8, 4)
    stop = yard.stop(agent="fire blight")
    yard.writer.clock.move(timedelta(hours=2))
    release(yard, stop.stop.id, first.id)
    yard.writer.clock.move(timedelta(hours=2))
    yard.writer.write_now(
        actions.confirm_stop,
        yard.cast.health_steward,
        stop.stop.id,
        StopStepCreate(note="the laboratory found it"),
    )

    assert events(yard, first.id) == ["suspected", "released"]
    assert events(yard, second.id) == ["suspected", "confirmed"]


def test_what_is_not_bound_or_split_from_bound_wood_is_refused_with_what_to_do(yard: Yard) -> None:
    (first,) = yard.cut(8)
    child = yard.hand_over(first.id, 3, yard.cast.guest_id)
    stop = yard.stop()

    with pytest.raises(ReleaseStopsShort, match="stays bound") as told:
        release(yard, stop.stop.id, child.id)
    assert "Release that bundle" in told.value.todo
    with pytest.raises(NothingBound):
        release(yard, stop.stop.id, uuid4())


def test_after_a_whole_lift_the_same_wood_can_be_bound_and_a_cleared_stop_says_what_to_do(yard: Yard) -> None:
    first, second = yard.cut(8, 4)
    stop = yard.stop()
    lift = bundle_actions.lift_bundle_stop
    assert set(yard.writer.write_now(lift, yard.cast.health_steward, stop.stop.id)) == {first.id, second.id}

    new = yard.writer.write_now(
        bundle_actions.bind_bundle_stop, yard.cast.health_steward, stop.stop.id, [(first.id, "origin")]
    )

    assert new == [first.id]
    assert [read_bundle(yard.database, one.id).stopped for one in (first, second)] == [True, False]
    assert audit_of(yard.database).clean
    yard.writer.write_now(
        actions.clear_stop, yard.cast.health_steward, stop.stop.id, StopStepCreate(note="nothing")
    )
    with pytest.raises(StopStepNotAllowed) as told:
        bind_again(yard, stop.stop.id, first.id)
    assert "open a new stop" in told.value.todo
    assert not yard.stop().stop.cleared_at
    assert read_bundle(yard.database, first.id).stopped


def test_only_who_may_release_lets_a_bundle_go(yard: Yard, client) -> None:
    first, _ = yard.cut(8, 4)
    stop = yard.stop()
    path, body = (
        f"/api/stops/{stop.stop.id}/release",
        {"bundle_ids": [str(first.id)], "reason": "cut of tree 9"},
    )

    assert client("steward").post(path, json=body).status_code == 403
    assert client("health_steward").post(path, json={**body, "reason": ""}).status_code == 422
    made = client("health_steward").post(path, json=body)

    assert (made.status_code, made.json()["bound"]["bundles"]) == (201, 1)
    assert client("health_steward").post(path, json=body).json()["type"] == "/problems/nothing-bound"


def test_how_many_winters_back_a_stop_reaches_is_the_clubs_choice(yard: Yard) -> None:
    with yard.database.writing_session() as session:
        session.execute(update(Club).values(recall_look_back_winters=5))
        session.commit()
    other = make_tree(yard.writer, yard.cast.steward, yard.orchard)

    stop = yard.stop()
    also = yard.writer.write_now(
        actions.bind_also,
        yard.cast.health_steward,
        stop.stop.id,
        StopBind(tree_ids=[other.id], why="same_site"),
    )

    assert stop.bound.since == also.bound.since == date(2020, 2, 14)
