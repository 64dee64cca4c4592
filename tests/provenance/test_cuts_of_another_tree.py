"""A cut that was written down at the wrong tree is put right, with its name, its stops and its area."""

from __future__ import annotations

from datetime import date, timedelta
from uuid import UUID

import pytest

from service.bundles.queries import bundles_of_collections
from service.collection.actions import supply_bundles_of_collections
from service.collection.queries import list_cuts_gone, list_tree_corrections
from service.collection.rules import NotOnThisTree, NoTreeOfOurs, SameTree
from service.collection.schemas import CutTreeSet
from service.grafting import actions as grafting
from service.grafting.schemas import PlantAsTree
from service.lib.errors import Stale
from service.provenance import actions, queries
from service.provenance.rules.correcting import GrownOfThisWood, can_come_of, check_not_grown_of_it
from service.provenance.rules.lineage import Thing
from service.provenance.schemas import CutMoved, StopRelease
from service.trees.queries import NoSuchTree
from service.trees.rules import TreeFelled
from service.trees.schemas import TreeNameSet
from tests.builders.bundles import audit_of, read_bundle
from tests.builders.collection import read_collection, receive
from tests.builders.provenance import Yard
from tests.builders.trees import change, make_site, make_tree, read_tree


@pytest.fixture(autouse=True)
def _joined() -> None:
    supply_bundles_of_collections(bundles_of_collections)


def tree(yard: Yard, **told) -> UUID:
    return make_tree(yard.writer, yard.cast.steward, yard.orchard, **told).id


def set_tree(yard: Yard, collection_id: UUID, tree_id: UUID, version: int = 0, **told) -> CutMoved:
    version = version or read_collection(yard.database, collection_id).version
    body = CutTreeSet(tree_id=tree_id, reason="the rows were counted from the other end", **told)
    return yard.writer.write_now(actions.set_cut_tree, yard.cast.collector, collection_id, body, version)


def test_the_wood_and_all_that_was_made_of_it_comes_from_the_other_tree_and_is_called_after_it(
    yard: Yard,
) -> None:
    (bundle,) = yard.cut(8)
    child = yard.hand_over(bundle.id, 2, yard.cast.guest_id)
    graft = yard.graft(bundle.id)
    other = tree(yard, cultivar_id=yard.orchard.bramley_id)
    first, second = (read_tree(yard.database, one).number for one in (yard.tree_id, other))
    yard.writer.clock.move(timedelta(hours=1))

    done = set_tree(yard, bundle.collection_id, other)

    assert (done.from_tree_number, done.tree_number) == (first, second)
    assert (done.cuts, done.bundles, done.plants) == (1, 2, 1)
    for card in yard.cards(bundle.id, child.id).values():
        assert "Bramley" in card["name"]["short"]
        assert card["origin"]["tree_number"] == second
        (told,) = card["origin"]["corrections"]
        assert (
            told["words"]
            == f"Labelled as cut from tree {first}, corrected to tree {second} on 14 February 2026."
        )
    with yard.database.reading() as session:
        back = queries.trace_back(session, Thing.PLANT, graft.plants[0].id)
        (fixed,) = list_tree_corrections(session, bundle.collection_id)
        (gone,) = list_cuts_gone(session, yard.tree_id)
        told = [one.words for one in queries.timeline(session, bundle.id) if one.act == "tree"]
        nothing_left = queries.trace_forward(session, Thing.TREE, yard.tree_id)
    assert back.ids(Thing.TREE) == [other]
    assert nothing_left.ids(Thing.BUNDLE) == []
    assert (fixed.before, fixed.after) == (first, second)
    assert (gone.collection_id, gone.number) == (bundle.collection_id, second)
    assert told == [
        f"Written down as cut from tree {first} until then, corrected to tree {second}: the rows were counted from the other end."
    ]
    assert audit_of(yard.database).clean


def test_a_tree_of_the_same_name_changes_no_name_and_what_is_labelled_later_says_nothing_of_it(
    yard: Yard,
) -> None:
    (bundle,) = yard.cut(8)
    other = tree(yard)
    yard.writer.clock.move(timedelta(hours=1))

    done = set_tree(yard, bundle.collection_id, other)
    yard.writer.clock.move(timedelta(hours=1))
    later = yard.hand_over(bundle.id, 2, yard.cast.guest_id)

    assert (done.cuts, done.words) == (0, done.from_words)
    cards = yard.cards(bundle.id, later.id)
    assert cards[bundle.id]["name"]["corrections"] == []
    assert [len(cards[one]["origin"]["corrections"]) for one in (bundle.id, later.id)] == [1, 0]


def test_what_a_stop_of_the_wrong_tree_binds_stays_bound_and_a_later_one_no_longer_reaches_it(
    yard: Yard,
) -> None:
    (bundle,) = yard.cut(8)
    stop = yard.stop()
    other = tree(yard)

    done = set_tree(yard, bundle.collection_id, other)

    assert (done.stays_stopped, done.stopped_now) == (1, 0)
    assert read_bundle(yard.database, bundle.id).stopped
    assert yard.scan(bundle.code).card["state"] == "stopped"
    yard.writer.write_now(
        actions.release_from_stop,
        yard.cast.health_steward,
        stop.stop.id,
        StopRelease(bundle_ids=[bundle.id], reason="it was another tree"),
    )
    assert not read_bundle(yard.database, bundle.id).stopped
    yard.stop(reason="name")
    assert not read_bundle(yard.database, bundle.id).stopped
    yard.stop(other)
    assert read_bundle(yard.database, bundle.id).stopped


@pytest.mark.parametrize(
    ("years", "bound"), [(0, True), (6, False)], ids=["this-winter", "before-its-look-back"]
)
def test_wood_of_a_tree_that_turns_out_to_be_stopped_is_bound_as_far_as_the_stop_reaches_back(
    yard: Yard, years: int, bound: bool
) -> None:
    now = yard.writer.clock.now()
    (bundle,) = yard.cut(8, done_at=now - timedelta(days=1 + 365 * years))
    child = yard.hand_over(bundle.id, 2, yard.cast.guest_id)
    other = tree(yard)
    yard.stop(other)

    done = set_tree(yard, bundle.collection_id, other)

    assert (done.stays_stopped, done.stopped_now) == (0, 2 if bound else 0)
    assert [read_bundle(yard.database, one.id).stopped for one in (bundle, child)] == [bound, bound]


def test_the_area_the_round_and_what_was_said_of_the_owner_follow_the_tree(yard: Yard) -> None:
    (bundle,) = yard.cut(8, owner_agreed="at the gate")
    yard.hand_over(bundle.id, 2, yard.cast.guest_id)
    before = read_collection(yard.database, bundle.collection_id)
    site = make_site(yard.writer, yard.cast.steward, yard.orchard.other_area_id, name="Far Bank")
    fig = tree(
        yard, site_id=site.id, taxon_id=yard.orchard.fig_id, cultivar_id=None, name_as_told="fig by the wall"
    )

    done = set_tree(yard, bundle.collection_id, fig)

    after = done.collection
    assert (after.area_id, after.owner_agreed, after.stage) == (yard.orchard.other_area_id, "", None)
    assert after.round_id != before.round_id and after.site_name == "Far Bank"
    assert (after.unfinished, "stage" in after.missing) == (True, True)
    assert done.elsewhere == 1
    with yard.database.reading() as session:
        (kept,) = list_tree_corrections(session, bundle.collection_id)
    assert (kept.before_id, kept.reason) == (yard.tree_id, "the rows were counted from the other end")


def test_what_it_was_cut_of_on_its_day_is_what_a_topworked_tree_bore_then(yard: Yard) -> None:
    (bundle,) = yard.cut(8, done_at=yard.writer.clock.now() - timedelta(days=30))
    other = tree(yard, cultivar_id=yard.orchard.bramley_id)
    row = read_tree(yard.database, other)
    body = TreeNameSet(
        what="topworked", cultivar_id=yard.orchard.gala_id, on_day=date(2026, 2, 1), reason="grafted over"
    )
    yard.writer.write_now(actions.set_tree_name, yard.cast.steward, other, body, row.version)

    done = set_tree(yard, bundle.collection_id, other)

    assert done.collection.cultivar_id == yard.orchard.bramley_id


def test_of_a_tree_of_several_varieties_one_can_be_told(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    other = tree(yard)
    change(
        yard.writer,
        yard.cast.steward,
        read_tree(yard.database, other),
        varieties=[{"cultivar_id": yard.orchard.bramley_id}],
    )

    done = set_tree(yard, bundle.collection_id, other, cultivar_id=yard.orchard.bramley_id)

    assert done.collection.cultivar_id == yard.orchard.bramley_id


def test_what_cannot_be_is_refused_and_nothing_changes(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    graft = yard.graft(bundle.id)
    yard.took(graft.id)
    body = PlantAsTree(site_id=yard.orchard.site_id, may_cut="yes")
    grown = yard.writer.write_now(grafting.plant_as_tree, yard.cast.steward, graft.plants[0].id, body)
    felled = tree(yard)
    change(yard.writer, yard.cast.steward, read_tree(yard.database, felled), felled_on=date(2026, 1, 1))
    receipt = receive(yard.writer, yard.cast.steward, yard.orchard)
    before = read_collection(yard.database, bundle.collection_id)
    assert can_come_of(felled, {grown.tree_id}) and not can_come_of(felled, {felled})
    with pytest.raises(GrownOfThisWood):
        check_not_grown_of_it(felled, {felled})

    for wrong, tree_id, told in (
        (SameTree, yard.tree_id, {}), (GrownOfThisWood, grown.tree_id, {}), (TreeFelled, felled, {}),
        (NoSuchTree, receipt.id, {}), (NotOnThisTree, tree(yard), {"cultivar_id": yard.orchard.bramley_id}),
        (Stale, tree(yard), {"version": before.version + 1}),
    ):  # fmt: skip
        with pytest.raises(wrong):
            set_tree(yard, bundle.collection_id, tree_id, **told)
    with pytest.raises(NoTreeOfOurs):
        set_tree(yard, receipt.id, yard.tree_id)

    assert read_collection(yard.database, bundle.collection_id) == before
    assert audit_of(yard.database).clean


def test_a_tag_says_the_first_tree_and_the_record_where_the_cut_stands_now(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    second, third = tree(yard), tree(yard)
    first, last = (read_tree(yard.database, one).number for one in (yard.tree_id, third))
    for each in (second, third):
        yard.writer.clock.move(timedelta(hours=1))
        set_tree(yard, bundle.collection_id, each)

    (told,) = yard.cards(bundle.id)[bundle.id]["origin"]["corrections"]
    assert (told["labelled_as"], told["corrected_to"]) == (first, last)
    with yard.database.reading() as session:
        for one in (yard.tree_id, second):
            (gone,) = list_cuts_gone(session, one)
            assert gone.number == last
    yard.writer.clock.move(timedelta(hours=1))
    set_tree(yard, bundle.collection_id, yard.tree_id)
    assert yard.cards(bundle.id)[bundle.id]["origin"]["corrections"] == []
