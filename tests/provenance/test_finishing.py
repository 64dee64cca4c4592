"""A tree met on the way is finished: all that was cut from it goes under the accepted name."""

from __future__ import annotations

import pytest

from service.bundles.queries import bundles_of_collections
from service.collection.actions import supply_bundles_of_collections
from service.lib.errors import Stale
from service.lib.paging import Paging
from service.members.rules import PartyKind
from service.members.schemas import PartyCreate
from service.provenance import actions
from service.trees import actions as trees
from service.trees.queries import list_name_changes
from service.trees.rules import (
    AlreadyFinished,
    NotItsKind,
    StoppedTree,
    can_finish_tree,
    check_can_finish_tree,
)
from service.trees.schemas import TreeCreate, TreeFinish
from tests.builders.collection import read_collection
from tests.builders.provenance import Yard
from tests.builders.trees import read_tree, stop


@pytest.fixture(autouse=True)
def _joined() -> None:
    supply_bundles_of_collections(bundles_of_collections)


def met(yard: Yard, name: str = "Old gate apple", owner: PartyCreate | None = None, **told):
    body = TreeCreate(
        site_id=yard.orchard.site_id, taxon_id=yard.orchard.apple_id, name_as_told=name, may_cut="yes", **told
    )
    return yard.writer.write_now(trees.add_met_tree, yard.cast.collector, body, owner)


def finish(yard: Yard, tree_id, **told):
    version = told.pop("version", None) or read_tree(yard.database, tree_id).version
    return yard.writer.write_now(actions.finish_tree, yard.cast.steward, tree_id, TreeFinish(**told), version)


@pytest.mark.parametrize("provisional", [True, False])
def test_only_a_tree_met_on_the_way_can_be_finished(provisional):
    assert can_finish_tree(provisional=provisional) is provisional
    if provisional:
        check_can_finish_tree(7, provisional=True)
    else:
        with pytest.raises(AlreadyFinished, match="Tree 7"):
            check_can_finish_tree(7, provisional=False)


def test_a_met_tree_can_belong_to_somebody_nobody_knew(yard: Yard) -> None:
    tree = met(yard, owner=PartyCreate(name="Old Mrs Harkaway", kind=PartyKind.GUEST))

    assert (tree.owner_name, tree.provisional, tree.page_name) == (
        "Old Mrs Harkaway", True, "Old gate apple (as told)",
    )  # fmt: skip


def test_its_wood_goes_under_the_accepted_name_and_its_tags_keep_what_they_say(yard: Yard) -> None:
    tree = met(yard)
    (bundle,) = yard.cut(6, tree_id=tree.id)
    child = yard.hand_over(bundle.id, 2, yard.cast.guest_id)

    done = finish(
        yard, tree.id, cultivar_id=yard.orchard.bramley_id, reason="compared by Ruth Alder", may_cut="no"
    )

    assert (done.from_words, done.words) == ("Old gate apple (as told)", "‘Bramley’")
    assert (done.cuts, done.bundles) == (1, 2)
    now = read_tree(yard.database, tree.id)
    assert (now.provisional, now.cultivar_id, now.name_as_told, now.may_cut) == (
        False, yard.orchard.bramley_id, "Old gate apple", "no",
    )  # fmt: skip
    assert read_collection(yard.database, bundle.collection_id).cultivar_id == yard.orchard.bramley_id
    for code in (bundle.code, child.code):
        name = yard.scan(code).card["name"]
        assert name["epithet"] == "Bramley"
        assert (
            "Labelled as Old gate apple (as told), corrected to ‘Bramley’" in name["corrections"][0]["words"]
        )
    with yard.database.reading() as session:
        (change,) = list_name_changes(session, Paging(), tree.id).items
    assert change.reason == "compared by Ruth Alder"


def test_a_name_nobody_knows_stays_as_told(yard: Yard) -> None:
    tree = met(yard)
    yard.cut(6, tree_id=tree.id)

    done = finish(
        yard,
        tree.id,
        where_on_site="by the gate",
        no_propagation_contract=True,
        name_as_told="Old gate apple",
    )

    assert (done.cuts, done.tree.provisional, done.tree.where_on_site) == (0, False, "by the gate")
    assert done.tree.no_propagation_contract
    with yard.database.reading() as session:
        assert list_name_changes(session, Paging(), tree.id).items == []


def test_the_kind_follows_the_variety_where_it_was_told_wrong(yard: Yard) -> None:
    tree = met(yard)
    (bundle,) = yard.cut(6, tree_id=tree.id)

    finish(yard, tree.id, cultivar_id=yard.orchard.victoria_id)

    assert read_tree(yard.database, tree.id).taxon_id == yard.orchard.plum_id
    assert read_collection(yard.database, bundle.collection_id).taxon_id == yard.orchard.plum_id


def test_a_variety_of_another_kind_than_the_one_told_is_refused(yard: Yard) -> None:
    tree = met(yard)

    with pytest.raises(NotItsKind):
        finish(yard, tree.id, cultivar_id=yard.orchard.victoria_id, taxon_id=yard.orchard.apple_id)
    assert read_tree(yard.database, tree.id).provisional


def test_it_is_finished_once(yard: Yard) -> None:
    tree = met(yard)
    finish(yard, tree.id, may_cut="yes")

    with pytest.raises(AlreadyFinished):
        finish(yard, tree.id, may_cut="no")


def test_what_was_read_before_somebody_else_changed_it_is_refused(yard: Yard) -> None:
    tree = met(yard)

    with pytest.raises(Stale):
        finish(yard, tree.id, may_cut="no", version=tree.version + 1)


def test_a_stopped_tree_waits_for_its_release(yard: Yard) -> None:
    tree = met(yard)
    stop(yard.writer, yard.cast.health_steward, tree.id)

    with pytest.raises(StoppedTree):
        finish(yard, tree.id, may_cut="no")
    assert read_tree(yard.database, tree.id).provisional
