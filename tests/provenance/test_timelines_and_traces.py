"""The life of a bundle as a volunteer reads it, and traces with what lay around."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest

from service.bundles import actions as bundles
from service.bundles.schemas import DiscardCreate, GiveOutsideCreate, RecountCreate
from service.grafting import actions as grafting
from service.grafting.schemas import PlantMoveCreate
from service.provenance import actions, queries
from service.provenance.rules.lineage import NoSuchThing, Thing
from service.storage import actions as storage
from service.storage.schemas import BoxCreate, BundleCheckCreate, PutAwayCreate, StoreCreate
from service.trees.schemas import StopStepCreate
from tests.builders.provenance import Yard
from tests.builders.trees import make_tree
from tests.infra.statements import Statements


def _timeline(yard: Yard, bundle_id, *, with_names: bool = True):
    with yard.database.reading() as session:
        return queries.get_timeline(session, bundle_id, with_names=with_names).events


def _live_a_life(yard: Yard):
    """A bundle that is stored, looked at, moved in its box, shared, grafted, thrown away, counted and stopped."""
    writer, host, steward = yard.writer, yard.cast.host, yard.cast.steward
    (bundle,) = yard.cut(12)
    store = writer.write_now(
        storage.add_store, host, StoreCreate(name="Garage fridge", host_id=host.party_id)
    )
    box = writer.write_now(storage.add_box, host, BoxCreate(name="Blue crate"))
    deeds = [
        (storage.put_away, host, [PutAwayCreate(bundle_id=bundle.id, into_box_id=box.id)]),
        (storage.put_away, host, [PutAwayCreate(box_id=box.id, store_id=store.id)]),
        (
            storage.record_bundle_checks,
            host,
            [BundleCheckCreate(bundle_id=bundle.id, buds="tight", note="packed moist")],
        ),
    ]
    for action, who, body in deeds:
        writer.clock.move(timedelta(hours=3))
        writer.write_now(action, who, body)
    writer.clock.move(timedelta(days=3))
    yard.hand_over(bundle.id, 4, yard.cast.guest_id)
    writer.clock.move(timedelta(hours=3))
    yard.graft(bundle.id)
    writer.clock.move(timedelta(hours=3))
    writer.write_now(
        bundles.discard_sticks, steward, DiscardCreate(bundle_id=bundle.id, sticks=1, reason="broken")
    )
    writer.clock.move(timedelta(hours=3))
    writer.write_now(
        bundles.recount_bundle,
        steward,
        RecountCreate(bundle_id=bundle.id, counted=5, reason="one was miscounted"),
    )
    writer.clock.move(timedelta(hours=3))
    stop = yard.stop(agent="fire-blight")
    writer.clock.move(timedelta(days=9))
    writer.write_now(
        actions.clear_stop, yard.cast.health_steward, stop.stop.id, StopStepCreate(note="nothing was found")
    )
    return bundle


def test_a_timeline_tells_a_bundles_life_in_sentences(yard: Yard) -> None:
    bundle = _live_a_life(yard)

    told = [event.words for event in _timeline(yard, bundle.id) if event.kind != "tag"]

    assert told == [
        "Tied as a bundle of 12 sticks, freshly cut.",
        "Put into box Blue crate.",
        "Its box Blue crate was put into Garage fridge.",
        "The buds were tight. Packed moist.",
        told[4],
        "1 stick was used in a graft.",
        "Graft 1: 1 graft with 1 stick, on M.9.",
        "1 stick was thrown away: broken.",
        "Counted: 1 stick fewer than recorded: one was miscounted.",
        "Stopped for health (Erwinia amylovora (fire blight)).",
        "The stop was cleared for health (Erwinia amylovora (fire blight)). Nothing was found.",
    ]
    assert told[4].startswith("4 sticks were handed over to Pia Holm as a bundle of its own ")


def test_a_timeline_tells_who_did_it_to_those_who_may_know(yard: Yard) -> None:
    bundle = _live_a_life(yard)

    open_, shut = _timeline(yard, bundle.id), _timeline(yard, bundle.id, with_names=False)

    assert {"Ilse Brandvik", "Tomas Fell", "Edda Morrow", "Orla Penn"} <= {event.by for event in open_}
    assert {event.by for event in shut} == {""}
    assert not any("Pia Holm" in event.words for event in shut)


def test_what_was_written_down_late_tells_both_times(yard: Yard) -> None:
    (bundle,) = yard.cut(12, done_at=yard.writer.clock.now() - timedelta(days=5))
    done = yard.writer.clock.now() - timedelta(days=2)
    yard.writer.clock.move(timedelta(hours=1))
    look = BundleCheckCreate(bundle_id=bundle.id, buds="tight", seen_at=done)
    yard.writer.write_now(storage.record_bundle_checks, yard.cast.host, [look])

    (first,) = (event for event in _timeline(yard, bundle.id) if event.kind == "look")

    assert (first.late, first.done_at) == (True, done)
    assert first.recorded_at == yard.writer.clock.now()


def test_a_timeline_keeps_to_its_statements(yard: Yard, statements: Statements) -> None:
    bundle = _live_a_life(yard)

    with statements.at_most(15):
        _timeline(yard, bundle.id)


def test_a_timeline_of_nothing_is_not_found(yard: Yard) -> None:
    with pytest.raises(NoSuchThing):
        _timeline(yard, uuid4())


def test_a_trace_tells_each_step_from_the_tree_to_the_plant(yard: Yard) -> None:
    (bundle,) = yard.cut(12)
    child = yard.hand_over(bundle.id, 4, yard.cast.guest_id)
    plant = yard.graft(child.id).plants[0]

    with yard.database.reading() as session:
        forward = queries.trace_forward(session, Thing.TREE, yard.tree_id, with_names=True)
        back = queries.trace_back(session, Thing.PLANT, plant.id)

    kinds = {node["id"]: node["kind"] for node in forward.nodes.values()}
    assert {(kinds[edge["from_id"]], edge["how"], kinds[edge["to_id"]]) for edge in forward.edges} == {
        ("tree", "cut", "collection"), ("collection", "labelled", "bundle"), ("bundle", "split", "bundle"),
        ("bundle", "grafted", "graft"), ("graft", "became", "plant"),
    }  # fmt: skip
    assert len(forward.edges) == 5
    assert back.summary() == forward.summary()
    assert sorted(map(str, back.edges)) == sorted(map(str, forward.edges))
    holder = next(node for node in forward.nodes.values() if node["id"] == str(child.id))
    assert (holder["party"], holder["name"], holder["on_hand"]) == ("Pia Holm", "‘Gala’", 3)
    assert all(node["party"] is None for node in back.nodes.values())


def test_a_trace_shows_what_lay_and_was_cut_beside(yard: Yard) -> None:
    plum = make_tree(yard.writer, yard.cast.steward, yard.orchard, cultivar_id=yard.orchard.victoria_id)
    (bundle,) = yard.cut(12)
    yard.writer.clock.move(timedelta(minutes=10))
    (mate,) = yard.cut(3, tree_id=plum.id)
    box = yard.writer.write_now(storage.add_box, yard.cast.host, BoxCreate(name="Blue crate"))
    puts = [PutAwayCreate(bundle_id=one.id, into_box_id=box.id) for one in (bundle, mate)]
    yard.writer.write_now(storage.put_away, yard.cast.host, puts)
    child = yard.hand_over(bundle.id, 4, yard.cast.guest_id)
    yard.take_back(child.id)
    yard.hand_over(bundle.id, 5, None, form="table")

    with yard.database.reading() as session:
        trace = queries.trace_forward(session, Thing.TREE, yard.tree_id)
        around = queries.trace_around(session, trace, with_names=True)

    assert [(one.bundle_id, one.beside_id) for one in around.beside] == [(mate.id, bundle.id)]
    assert [(one.tree_id, one.after) for one in around.same_round] == [(plum.id, True)]
    assert [(one.sticks, one.how) for one in around.unknown_takers] == [(5, "table")]
    assert [(one.bundle_id, one.party, one.now) for one in around.held_by] == [(child.id, "Pia Holm", False)]


def test_of_the_cuts_on_a_round_those_at_the_same_time_and_later_came_after(yard: Yard) -> None:
    """Tools carry disease onward; where two cuts have one time nobody knows which was first, so both count as after."""
    now = yard.writer.clock.now()
    yard.cut(6)
    trees = {}
    for minutes in (-10, 0, 10):
        tree = make_tree(yard.writer, yard.cast.steward, yard.orchard)
        yard.cut(3, tree_id=tree.id, done_at=now + timedelta(minutes=minutes))
        trees[tree.id] = minutes

    with yard.database.reading() as session:
        trace = queries.trace_forward(session, Thing.TREE, yard.tree_id)
        found = queries.trace_around(session, trace).same_round

    assert {trees[one.tree_id]: one.after for one in found} == {-10: False, 0: True, 10: True}


@pytest.mark.parametrize("kind", list(Thing))
def test_a_trace_of_nothing_is_not_found(yard: Yard, kind: Thing) -> None:
    with yard.database.reading() as session:
        for trace in (queries.trace_back, queries.trace_forward):
            with pytest.raises(NoSuchThing):
                trace(session, kind, uuid4())


def test_a_trace_keeps_to_its_statements(yard: Yard, statements: Statements) -> None:
    bundles_ = yard.cut(*[2] * 30)
    for one in bundles_[:5]:
        yard.graft(one.id)

    with yard.database.reading() as session:
        with statements.exactly(2):
            queries.trace_forward(session, Thing.TREE, yard.tree_id)
        with statements.exactly(2):
            queries.trace_back(session, Thing.BUNDLE, bundles_[0].id)
        with statements.exactly(3):
            queries.trace_forward(session, Thing.BUNDLE, bundles_[0].id)


def test_over_http_a_trace_and_a_timeline_keep_names_from_members(client, app, cast) -> None:
    from tests.builders.provenance import make_yard

    yard = make_yard(app.state.writer, cast)
    (bundle,) = yard.cut(5)
    child = yard.hand_over(bundle.id, 2, cast.guest_id)
    addresses = (
        f"/api/trace/tree/{yard.tree_id}?around=true",
        f"/api/bundles/{child.id}/timeline",
        f"/api/trace/bundle/{child.id}?direction=back",
    )

    for address in addresses:
        member, steward, stranger = (client(who).get(address) for who in ("member", "steward", "stranger"))
        assert (member.status_code, steward.status_code, stranger.status_code) == (200, 200, 401), address
        assert "Pia Holm" not in member.text
        assert "Pia Holm" in steward.text
    trace = client("steward").get(addresses[0]).json()
    assert trace["summary"]["bundles"] == 2
    assert {edge["how"] for edge in trace["edges"]} == {"cut", "labelled", "split"}


def test_to_whom_wood_went_outside_is_kept_from_members_too(client, app, cast) -> None:
    from tests.builders.provenance import make_yard

    yard = make_yard(app.state.writer, cast)
    (bundle,) = yard.cut(5)
    plant = yard.graft(bundle.id).plants[0]
    gone = {"kind": "given_outside", "to_whom": "Widow Tregear"}
    yard.writer.write_now(
        bundles.give_outside,
        cast.steward,
        GiveOutsideCreate(
            bundle_id=bundle.id, sticks=2, to_whom="Widow Tregear", area_id=yard.orchard.area_id
        ),
    )
    yard.writer.write_now(grafting.pass_on_plants, cast.steward, [PlantMoveCreate(plant_id=plant.id, **gone)])

    for address in (
        f"/api/trace/tree/{yard.tree_id}?around=true",
        f"/api/bundles/{bundle.id}/timeline",
    ):
        member, steward = (client(who).get(address) for who in ("member", "steward"))
        assert (member.status_code, steward.status_code) == (200, 200), address
        assert "Tregear" not in member.text and "Tregear" in steward.text

    stop_id = yard.stop(yard.tree_id).stop.id
    page = {"Accept": "text/html"}
    shown, hidden = (
        client(who).get(f"/stops/{stop_id}", headers=page).text for who in ("health_steward", "member")
    )
    assert "A grafted plant went to people nobody wrote down: plant" in shown and "0 sticks went" not in shown
    assert "A grafted plant went to people nobody wrote down." in hidden and "Tregear" not in hidden


def test_over_http_a_stop_a_recall_and_forgetting(client, app, cast) -> None:
    from tests.builders.provenance import make_yard

    yard = make_yard(app.state.writer, cast)
    (bundle,) = yard.cut(5)
    yard.hand_over(bundle.id, 2, cast.guest_id)
    steward = client("health_steward")

    refused = client("member").post("/api/stops", json={"reason": "health", "tree_id": str(yard.tree_id)})
    shape = steward.post("/api/stops", json={"reason": "health"})
    opened = steward.post(
        "/api/stops", json={"reason": "health", "tree_id": str(yard.tree_id), "agent": "fire-blight"}
    )
    stop = opened.json()["stop"]["id"]
    recall = steward.post("/api/recalls", json={"stop_id": stop})
    early = client("steward").post(f"/api/parties/{cast.guest_id}/forget")
    told = steward.post(
        f"/api/recalls/{recall.json()['id']}/told",
        json={"party_id": str(cast.guest_id), "how": "by telephone"},
    )
    forgotten = client("steward").post(f"/api/parties/{cast.guest_id}/forget")
    hidden = client("steward").get(f"/api/recalls/{recall.json()['id']}")
    seen = steward.get(f"/api/recalls/{recall.json()['id']}")
    cleared = steward.post(f"/api/stops/{stop}/clear", json={"note": "nothing found"})

    assert (refused.status_code, shape.status_code, opened.status_code, recall.status_code) == (
        403,
        422,
        201,
        201,
    )
    assert (early.status_code, early.json()["type"]) == (409, "/problems/not-told-yet")
    assert [answer.status_code for answer in (told, forgotten, hidden, seen)] == [201, 201, 403, 200]
    assert "holder forgotten" in {one["name"] for one in seen.json()["people"]}
    assert steward.get(f"/api/stops/{stop}/wood").json()["bound"]["bundles"] == 0
    assert cleared.json()["state"] == "cleared"
    assert steward.get("/api/recalls").json()["count"] == 1
