"""A stop binds all that came of the wood at once, proposes the rest, and lets go of exactly what it bound."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from sqlmodel import func, select

from service.bundles import actions as bundles
from service.bundles.queries import bundles_of_trees
from service.bundles.schemas import RecountCreate
from service.bundles.tables import BundleStop
from service.collection.schemas import CollectionCreate
from service.grafting.tables import PlantStop
from service.lib.errors import NotAllowed, Problem, Unusable
from service.provenance import actions, queries
from service.provenance.rules.lineage import NoSuchThing, Thing
from service.provenance.schemas import StopBind, StopOpen
from service.storage import actions as storage
from service.storage.schemas import BoxCreate, PutAwayCreate, StoreCreate
from service.trees.schemas import StopStepCreate
from tests.builders.bundles import audit_of, read_bundle
from tests.builders.provenance import Yard
from tests.builders.trees import make_tree, read_tree
from tests.infra.statements import Statements


def _look(yard: Yard, stop_id):
    with yard.database.reading() as session:
        return queries.get_stop_on_wood(session, stop_id)


def _clear(yard: Yard, stop_id, note: str = "the laboratory found nothing"):
    return yard.writer.write_now(
        actions.clear_stop, yard.cast.health_steward, stop_id, StopStepCreate(note=note)
    )


def test_a_stop_on_a_tree_reaches_handed_over_children_flags_plants_and_trees_grown_of_them(
    yard: Yard,
) -> None:
    first, second = yard.cut(8, 4)
    child = yard.hand_over(first.id, 3, yard.cast.guest_id)
    flag = yard.hand_over(first.id, 2, yard.cast.member.party_id, form="flag")
    plant = yard.graft(child.id).plants[0]
    other_tree = make_tree(yard.writer, yard.cast.steward, yard.orchard, cultivar_id=yard.orchard.bramley_id)
    (other,) = yard.cut(5, tree_id=other_tree.id)

    stopped = yard.stop()

    assert (stopped.bound.bundles, stopped.bound.plants, stopped.bound.trees) == (4, 1, 1)
    assert all(read_bundle(yard.database, one.id).stopped for one in (first, second, child, flag))
    assert not read_bundle(yard.database, other.id).stopped
    assert plant.code
    assert yard.scan(plant.code).card["state"] == "stopped"
    assert audit_of(yard.database).clean


def test_clearing_a_stop_frees_what_no_other_stop_binds(yard: Yard) -> None:
    first, second = yard.cut(8, 4)
    whole, one = yard.stop(), yard.stop(bundle_id=second.id, reason="name")

    _clear(yard, whole.stop.id)

    assert not read_bundle(yard.database, first.id).stopped
    assert read_bundle(yard.database, second.id).stopped
    assert yard.scan(first.code).card["state"] == "ready"
    assert yard.scan(second.code).answer.startswith("Do not use this wood: its name is in doubt")
    _clear(yard, one.stop.id)
    assert not read_bundle(yard.database, second.id).stopped
    assert audit_of(yard.database).clean


def test_stopped_wood_is_refused_in_every_act(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    child = yard.hand_over(bundle.id, 3, yard.cast.guest_id)
    yard.stop()

    for act in (
        lambda: yard.hand_over(bundle.id, 1, yard.cast.guest_id),
        lambda: yard.hand_over(bundle.id, 1, None, form="table"),
        lambda: yard.take_back(child.id),
        lambda: yard.graft(child.id),
        lambda: yard.cut(4),
    ):
        with pytest.raises(Problem) as refused:
            act()
        assert "stop" in str(refused.value).lower()


def test_a_confirmed_stop_is_told_by_every_scan(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    stop = yard.stop(agent="fire blight")

    yard.writer.write_now(
        actions.confirm_stop,
        yard.cast.health_steward,
        stop.stop.id,
        StopStepCreate(note="seen in the laboratory"),
    )

    assert yard.scan(bundle.code).answer.startswith("Do not use this wood: a disease or pest was found")


def test_only_who_may_release_opens_a_confirmed_stop(yard: Yard) -> None:
    yard.cut(8)
    body = StopOpen(tree_id=yard.tree_id, reason="health", state="confirmed", agent="fire blight")

    with pytest.raises(NotAllowed):
        yard.writer.write_now(actions.open_stop, yard.cast.host, body)

    assert yard.writer.write_now(actions.open_stop, yard.cast.health_steward, body).stop.state == "confirmed"


def test_wood_of_earlier_winters_is_proposed_and_bound_when_accepted(yard: Yard) -> None:
    now = yard.writer.clock.now()
    yard.writer.clock.at = datetime(2021, 1, 10, 12, tzinfo=UTC)
    (old,) = yard.cut(6)
    yard.writer.clock.at = datetime(2023, 1, 10, 12, tzinfo=UTC)
    (within,) = yard.cut(6)
    yard.writer.clock.at = now
    (new,) = yard.cut(6)

    stop = yard.stop()

    # The look-back of the club is three winters before this one: 2022/23, 2023/24, 2024/25.
    assert stop.bound.since.isoformat() == "2022-02-14"
    assert [read_bundle(yard.database, one.id).stopped for one in (old, within, new)] == [False, True, True]
    assert [(one.bundle_id, one.why) for one in stop.proposals.bundles] == [(old.id, "earlier_winter")]
    bound = yard.writer.write_now(
        actions.bind_also,
        yard.cast.health_steward,
        stop.stop.id,
        StopBind(bundle_ids=[old.id], why="earlier_winter"),
    )
    assert read_bundle(yard.database, old.id).stopped
    assert bound.proposals.bundles == []


def test_a_stop_on_a_bundle_that_is_confirmed_is_told_by_its_scan(yard: Yard) -> None:
    """No tree is bound by it, so nothing but the stop itself says whose cards change."""
    (bundle,) = yard.cut(6)
    stop = yard.stop(bundle_id=bundle.id)

    found = StopStepCreate(agent="fire blight", note="the laboratory found it")
    yard.writer.write_now(actions.confirm_stop, yard.cast.health_steward, stop.stop.id, found)

    assert "a disease or pest was found" in yard.scan(bundle.code).answer


def test_the_first_day_of_the_look_back_is_bound_and_the_day_before_it_proposed(yard: Yard) -> None:
    now = yard.writer.clock.now()
    cuts = []
    for day in (13, 14):
        yard.writer.clock.at = datetime(2022, 2, day, 12, tzinfo=UTC)
        cuts += yard.cut(6)
    yard.writer.clock.at = now

    stop = yard.stop()

    assert stop.bound.since.isoformat() == "2022-02-14"
    assert [read_bundle(yard.database, one.id).stopped for one in cuts] == [False, True]
    assert [one.bundle_id for one in stop.proposals.bundles] == [cuts[0].id]


@pytest.mark.parametrize(
    "hours, reached", [(-1, False), (0, True), (1, True)], ids=["before", "then", "after"]
)
def test_what_is_cut_of_a_tree_or_plant_that_was_grafted_over_is_reached_from_that_moment_on(
    yard: Yard, hours: int, reached: bool
) -> None:
    """Where both have the same time nobody knows which came first, and a stop errs on the side of telling."""
    grafted_at = yard.writer.clock.now()
    (wood,) = yard.cut(6)
    standing = make_tree(yard.writer, yard.cast.steward, yard.orchard).id
    yard.graft(wood.id, plants=0, stock_tree_id=standing, done_at=grafted_at)
    yard.writer.clock.move(timedelta(hours=2))
    (cut,) = yard.cut(4, tree_id=standing, done_at=grafted_at + timedelta(hours=hours))

    yard.stop(bundle_id=wood.id)

    assert read_bundle(yard.database, cut.id).stopped is reached
    with yard.database.reading() as session:
        back = queries.trace_back(session, Thing.BUNDLE, cut.id)
    assert (str(wood.id) in {str(node["id"]) for node in back.nodes.values()}) is reached


def test_a_wrong_name_is_as_old_as_the_tree(yard: Yard) -> None:
    now = yard.writer.clock.now()
    yard.writer.clock.at = datetime(2015, 1, 10, 12, tzinfo=UTC)
    (old,) = yard.cut(6)
    yard.writer.clock.at = now

    yard.stop(reason="name")

    assert read_bundle(yard.database, old.id).stopped


def test_hosts_on_the_site_later_cuts_of_the_round_and_box_mates_are_proposed_not_bound(yard: Yard) -> None:
    steward, writer = yard.cast.steward, yard.writer
    pear = make_tree(writer, steward, yard.orchard, taxon_id=yard.orchard.pear_id)
    plum = make_tree(writer, steward, yard.orchard, cultivar_id=yard.orchard.victoria_id)
    (bundle,) = yard.cut(6)
    writer.clock.move(timedelta(minutes=20))
    (later,) = yard.cut(6, tree_id=plum.id)
    store = writer.write_now(
        storage.add_store, yard.cast.host, StoreCreate(name="Barn", host_id=yard.cast.host.party_id)
    )
    box = writer.write_now(storage.add_box, yard.cast.host, BoxCreate(name="Crate", store_id=store.id))
    puts = [PutAwayCreate(bundle_id=one.id, into_box_id=box.id) for one in (bundle, later)]
    writer.write_now(storage.put_away, yard.cast.host, puts)

    stop = yard.stop(agent="fire-blight")

    why = {(tree.tree_id, tree.why) for tree in stop.proposals.trees}
    assert (pear.id, "host_on_site") in why
    assert (plum.id, "same_round") in why
    assert [(one.bundle_id, one.why) for one in stop.proposals.bundles] == [(later.id, "box_mate")]
    assert not read_bundle(yard.database, later.id).stopped
    bound = writer.write_now(
        actions.bind_also, yard.cast.host, stop.stop.id, StopBind(tree_ids=[plum.id], why="same_round")
    )
    assert read_bundle(yard.database, later.id).stopped
    assert bound.bound.trees == 2
    with yard.database.reading() as session:
        found = session.exec(select(BundleStop.why).where(BundleStop.bundle_id == later.id)).one()
    assert found == "same_round"


def test_a_stop_on_a_bundle_leaves_its_siblings_free(yard: Yard) -> None:
    first, second = yard.cut(8, 4)
    child = yard.hand_over(first.id, 3, yard.cast.guest_id)

    yard.stop(bundle_id=first.id)

    assert [read_bundle(yard.database, one.id).stopped for one in (first, child, second)] == [
        True,
        True,
        False,
    ]


def test_a_grafted_plant_that_became_a_tree_is_bound_with_the_wood_cut_of_it(yard: Yard) -> None:
    from service.grafting import actions as grafting
    from service.grafting.schemas import PlantAsTree, TakeCheckCreate

    (bundle,) = yard.cut(8)
    graft = yard.graft(bundle.id)
    plant = graft.plants[0]
    yard.writer.clock.move(timedelta(days=60))
    took = TakeCheckCreate(graft_id=graft.id, alive=1, looked_at=1, is_verdict=True)
    yard.writer.write_now(grafting.record_take_checks, yard.cast.steward, [took])
    grown = yard.writer.write_now(
        grafting.plant_as_tree,
        yard.cast.steward,
        plant.id,
        PlantAsTree(site_id=yard.orchard.site_id, may_cut="yes"),
    )
    yard.writer.clock.move(timedelta(days=300))
    (new,) = yard.cut(5, tree_id=grown.tree_id)

    stop = yard.stop()

    assert read_tree(yard.database, grown.tree_id).open_stops
    assert read_bundle(yard.database, new.id).stopped
    assert stop.bound.trees == 2
    with yard.database.reading() as session:
        assert session.exec(select(func.count()).select_from(PlantStop)).one() == 1
    _clear(yard, stop.stop.id)
    assert not read_tree(yard.database, grown.tree_id).open_stops
    assert not read_bundle(yard.database, new.id).stopped


def test_a_cleared_stop_takes_nothing_more_and_cannot_be_confirmed(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    stop = yard.stop()
    _clear(yard, stop.stop.id)

    with pytest.raises(Problem):
        yard.writer.write_now(
            actions.bind_also, yard.cast.host, stop.stop.id, StopBind(bundle_ids=[bundle.id])
        )
    with pytest.raises(Problem):
        yard.writer.write_now(actions.confirm_stop, yard.cast.health_steward, stop.stop.id, StopStepCreate())

    assert not read_bundle(yard.database, bundle.id).stopped


def test_a_stop_of_what_is_not_in_the_record_is_refused(yard: Yard) -> None:
    yard.cut(3)
    stop = yard.stop()

    with pytest.raises(NoSuchThing):
        yard.stop(bundle_id=uuid4())
    with pytest.raises(Unusable):
        yard.stop(tree_id=uuid4())
    with pytest.raises(Unusable):
        yard.writer.write_now(actions.bind_also, yard.cast.host, stop.stop.id, StopBind(bundle_ids=[uuid4()]))
    with pytest.raises(ValueError, match="name one of the two"):
        StopOpen(reason="health")


def test_a_stop_costs_the_same_statements_for_two_bundles_and_for_forty(
    yard: Yard, statements: Statements
) -> None:
    yard.cut(2, 2)
    other = make_tree(yard.writer, yard.cast.steward, yard.orchard, cultivar_id=yard.orchard.bramley_id)
    yard.cut(*[2] * 40, tree_id=other.id)
    counts = []
    for tree_id in (yard.tree_id, other.id):
        statements.clear()
        yard.stop(tree_id=tree_id)
        counts.append(len(statements))

    assert counts[0] == counts[1] <= 50


def test_what_a_stop_binds_can_be_read_again(yard: Yard) -> None:
    yard.cut(8)
    stop = yard.stop()

    assert _look(yard, stop.stop.id).model_dump(exclude={"stop"}) == stop.model_dump(exclude={"stop"})


def test_a_cut_made_meanwhile_is_refused(yard: Yard) -> None:
    yard.cut(3)
    yard.stop()

    with pytest.raises(Problem, match="stopped"):
        yard.writer.write_now(_collect, yard.cast.collector, yard.tree_id)


def _collect(session, member, tree_id):
    from service.collection import actions as collection

    return collection.record_collections(session, member, [CollectionCreate(tree_id=tree_id, sticks=3)])


def test_nothing_slips_out_of_a_stop_that_is_made_while_wood_is_handed_over(yard: Yard) -> None:
    """Two people at once: one stops the tree while another hands its sticks over, one by one."""
    (bundle,) = yard.cut(30)
    begun, problems = threading.Event(), []

    def give() -> None:
        for _ in range(30):
            try:
                yard.hand_over(bundle.id, 1, yard.cast.guest_id)
            except Problem as problem:
                problems.append(problem)
                return
            finally:
                begun.set()

    giver = threading.Thread(target=give)
    giver.start()
    begun.wait(20)
    stop = yard.stop()
    giver.join(60)

    with yard.database.reading() as session:
        made = bundles_of_trees(session, [yard.tree_id])
        bound = queries.bound_by(session, stop.stop.id)
    assert set(made) == bound
    assert len(made) > 1
    assert len(made) == 31 or "stop" in str(problems[0]).lower()
    assert audit_of(yard.database).clean


def test_a_stop_says_how_many_sticks_went_missing_under_it(yard: Yard) -> None:
    before, after = yard.cut(8, 6)
    yard.writer.write_now(
        bundles.recount_bundle,
        yard.cast.steward,
        RecountCreate(bundle_id=before.id, counted=7, reason="one broke"),
    )
    yard.writer.clock.move(timedelta(minutes=1))
    stop = yard.stop()
    for bundle, counted in ((before, 7), (after, 2)):
        body = RecountCreate(bundle_id=bundle.id, counted=counted, reason="not in the box")
        yard.writer.write_now(bundles.recount_bundle, yard.cast.health_steward, body)

    with yard.database.reading() as session:
        told = queries.get_stop_on_wood(session, stop.stop.id)

    assert [(one.bundle_id, one.code, one.sticks) for one in told.missing] == [(after.id, after.code, 4)]
