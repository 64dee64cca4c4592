"""A wrong name reaches all that took it from the tree, topworking nothing that was cut before."""

from __future__ import annotations

from datetime import date, timedelta
from uuid import UUID

import pytest
from pydantic import ValidationError

from service.bundles.queries import bundles_of_collections
from service.collection.actions import supply_bundles_of_collections
from service.grafting import actions as grafting
from service.grafting.schemas import PlantAsTree
from service.lib.clock import InTheFuture
from service.lib.errors import Stale, Unusable
from service.lib.paging import Paging
from service.provenance import actions, queries
from service.tags.actions import replace_tag
from service.trees.queries import list_name_changes
from service.trees.rules import NotItsKind, SameName, SayWhichNameChange, StoppedTree
from service.trees.schemas import TreeNameSet
from tests.builders.collection import cut, read_collection
from tests.builders.provenance import Yard
from tests.builders.trees import change, make_tree, read_tree
from tests.infra.statements import Statements


@pytest.fixture(autouse=True)
def _joined() -> None:
    supply_bundles_of_collections(bundles_of_collections)


def rename(yard: Yard, tree_id: UUID | None = None, what: str = "wrong", **told):
    tree = read_tree(yard.database, tree_id or yard.tree_id)
    told.setdefault("cultivar_id", yard.orchard.bramley_id)
    body = TreeNameSet(what=what, reason="the fruit was compared by Ruth Alder", **told)
    return yard.writer.write_now(actions.set_tree_name, yard.cast.steward, tree.id, body, tree.version)


GALA, BRAMLEY = "‘Gala’", "‘Bramley’"


def test_a_wrong_name_reaches_cuts_bundles_children_and_plants_and_their_cards(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    child = yard.hand_over(bundle.id, 3, yard.cast.guest_id)
    plant = yard.graft(child.id).plants[0]
    yard.writer.clock.move(timedelta(days=200))

    done = rename(yard)

    assert (done.cuts, done.bundles, done.plants, done.trees) == (1, 2, 1, 0)
    assert read_tree(yard.database, yard.tree_id).cultivar_id == yard.orchard.bramley_id
    assert read_collection(yard.database, bundle.collection_id).cultivar_id == yard.orchard.bramley_id
    for code in (bundle.code, child.code):
        card = yard.scan(code).card
        assert card["name"]["epithet"] == "Bramley"
        (told,) = card["name"]["corrections"]
        assert (
            told["words"] == f"Labelled as {done.from_words}, corrected to {done.words} on 2 September 2026."
        )
    said = yard.scan(plant.code).card
    assert said["names"][0]["epithet"] == "Bramley"
    assert [one["labelled_as"] for one in said["corrections"]] == [done.from_words]


def test_a_name_put_right_twice_is_told_once_from_what_the_tag_says_to_what_it_is(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    first = rename(yard)
    yard.writer.clock.move(timedelta(days=200))
    last = rename(yard, cultivar_id=None, name_as_told="Redstreak of the old wall")

    (told,) = yard.scan(bundle.code).card["name"]["corrections"]

    assert (told["labelled_as"], told["corrected_to"]) == (first.from_words, last.words)
    assert told["words"].endswith("on 2 September 2026.")


def test_a_tag_printed_anew_after_its_name_was_put_right_says_the_right_one(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    yard.writer.clock.move(timedelta(days=1))
    rename(yard)
    before = yard.scan(bundle.code).card["name"]["corrections"]
    yard.writer.clock.move(timedelta(days=1))

    made = yard.writer.write_now(replace_tag, yard.cast.steward, bundle.code)

    assert len(before) == 1
    assert yard.scan(made.tag.code).card["name"]["corrections"] == []


def test_the_history_keeps_what_was_written_then(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    yard.writer.clock.move(timedelta(days=200))
    done = rename(yard)

    with yard.database.reading() as session:
        told = [
            one for one in queries.timeline(session, bundle.id, with_names=True) if one.kind == "correction"
        ]
        changes = list_name_changes(session, Paging(), yard.tree_id).items
    assert [one.words for one in told] == [
        f"Labelled as {done.from_words} until then, corrected to {done.words}: the fruit was compared by Ruth Alder."
    ]
    assert told[0].by
    assert [(one.kind, one.from_words, one.words, one.on_day) for one in changes] == [
        ("wrong", done.from_words, done.words, date(2026, 9, 2))
    ]
    assert changes[0].by_party_id == yard.cast.steward.party_id


def test_a_tree_grown_of_the_wood_and_a_branch_grafted_with_it_follow(yard: Yard) -> None:
    standing = make_tree(yard.writer, yard.cast.steward, yard.orchard, cultivar_id=yard.orchard.bramley_id)
    other = make_tree(yard.writer, yard.cast.steward, yard.orchard)  # a true Gala
    (bundle,) = yard.cut(8)
    (true_gala,) = yard.cut(4, tree_id=other.id)
    graft, onto = yard.graft(bundle.id), yard.graft(bundle.id, 0, stock_tree_id=standing.id)
    for one in (graft, onto):
        yard.took(one.id)
    body = PlantAsTree(site_id=yard.orchard.site_id, may_cut="yes")
    grown = yard.writer.write_now(grafting.plant_as_tree, yard.cast.steward, graft.plants[0].id, body)
    yard.writer.clock.move(timedelta(days=300))
    (of_grown,) = yard.cut(5, tree_id=grown.tree_id)
    (of_branch,) = yard.cut(3, tree_id=standing.id, cultivar_id=yard.orchard.gala_id)
    (of_main,) = yard.cut(3, tree_id=standing.id)

    done = rename(yard, cultivar_id=None, name_as_told="Redstreak of the old wall")

    assert (done.cuts, done.trees) == (3, 2)
    for moved in (bundle, of_grown, of_branch):
        assert yard.name_on_card(moved.code) == "“Redstreak of the old wall”"
    assert yard.name_on_card(true_gala.code) == GALA or "Gala" in yard.name_on_card(true_gala.code)
    assert "Bramley" in yard.name_on_card(of_main.code)
    assert read_tree(yard.database, grown.tree_id).name_as_told == "Redstreak of the old wall"
    assert read_tree(yard.database, standing.id).varieties == []
    with yard.database.reading() as session:
        follows = list_name_changes(session, Paging(), grown.tree_id).items
    assert [one.follows_tree_id for one in follows] == [yard.tree_id]


def test_a_grown_tree_bears_no_variety_twice_when_its_name_is_put_right(yard: Yard) -> None:
    graft = yard.graft(yard.cut(8)[0].id)
    yard.took(graft.id)
    body = PlantAsTree(site_id=yard.orchard.site_id, may_cut="yes")
    grown = yard.writer.write_now(grafting.plant_as_tree, yard.cast.steward, graft.plants[0].id, body)
    further = [{"cultivar_id": yard.orchard.bramley_id, "branch": "north"}]
    change(yard.writer, yard.cast.steward, read_tree(yard.database, grown.tree_id), varieties=further)

    rename(yard)

    tree = read_tree(yard.database, grown.tree_id)
    assert (tree.cultivar_id, tree.varieties) == (yard.orchard.bramley_id, [])


def test_a_name_put_right_by_hand_before_stays_and_so_does_wood_from_elsewhere(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    rename(yard)
    (new,) = yard.cut(4)

    done = rename(yard, cultivar_id=yard.orchard.gala_id)

    assert done.cuts == 2
    assert "Gala" in yard.name_on_card(bundle.code)
    card = yard.scan(bundle.code).card
    assert (
        card["name"]["corrections"] == []
    )  # its tag says Gala, and Gala it is again; its life line tells both
    assert len(yard.scan(new.code).card["name"]["corrections"]) == 1


def test_topworking_leaves_earlier_cuts_and_a_late_entry_is_of_what_it_bore_then(yard: Yard) -> None:
    before = yard.writer.clock.now()
    (old,) = yard.cut(8)
    yard.writer.clock.move(timedelta(days=400))

    done = rename(yard, what="topworked", on_day=date(2026, 4, 20))

    assert (done.cuts, done.bundles) == (0, 0)
    assert "Gala" in yard.name_on_card(old.code)
    (new,), (late,) = yard.cut(4), yard.cut(3, done_at=before + timedelta(days=2))
    assert "Bramley" in yard.name_on_card(new.code)
    assert "Gala" in yard.name_on_card(late.code)
    assert yard.scan(old.code).card["name"]["corrections"] == []
    yard.writer.clock.move(timedelta(days=400))
    rename(yard, what="topworked", cultivar_id=None, name_as_told="Redstreak")
    (later,) = yard.cut(3, done_at=before + timedelta(days=3))
    assert "Gala" in yard.name_on_card(later.code)  # what it bore before the first of both


def test_a_tree_topworked_in_part_still_bears_the_old_variety(yard: Yard) -> None:
    rename(yard, what="topworked", keep_old=True)

    tree = read_tree(yard.database, yard.tree_id)
    assert [one.cultivar_id for one in tree.varieties] == [yard.orchard.gala_id]
    with pytest.raises(ValidationError):
        TreeNameSet(what="wrong", reason="x", name_as_told="y", keep_old=True)


def test_the_main_variety_of_a_tree_is_no_further_one_of_it(yard: Yard) -> None:
    rename(yard, what="topworked", keep_old=True)

    rename(yard, cultivar_id=yard.orchard.gala_id)

    assert read_tree(yard.database, yard.tree_id).varieties == []


@pytest.mark.parametrize("main", [True, False], ids=["as-its-main-variety", "on-another-branch"])
def test_a_branch_of_misnamed_wood_adds_nothing_to_a_tree_that_bears_the_right_variety_already(
    yard: Yard, main: bool
) -> None:
    orchard, writer, steward = yard.orchard, yard.writer, yard.cast.steward
    bears = (
        {"cultivar_id": orchard.bramley_id}
        if main
        else {"cultivar_id": orchard.protected_id, "varieties": [{"cultivar_id": orchard.bramley_id}]}
    )
    standing = make_tree(writer, steward, orchard, **bears)
    (bundle,) = yard.cut(8)
    yard.took(yard.graft(bundle.id, 0, stock_tree_id=standing.id).id)

    rename(yard)

    further = [one.cultivar_id for one in read_tree(yard.database, standing.id).varieties]
    assert further == ([] if main else [orchard.bramley_id])


def test_a_plain_edit_of_the_name_is_refused_once_wood_was_cut(yard: Yard) -> None:
    unnamed = make_tree(yard.writer, yard.cast.steward, yard.orchard, taxon_id=yard.orchard.apple_id)
    change(yard.writer, yard.cast.steward, unnamed, cultivar_id=yard.orchard.gala_id)
    yard.cut(8)
    tree = read_tree(yard.database, yard.tree_id)

    with pytest.raises(SayWhichNameChange) as told:
        change(yard.writer, yard.cast.steward, tree, cultivar_id=yard.orchard.bramley_id)

    assert "topworked" in told.value.todo
    change(yard.writer, yard.cast.steward, tree, note="by the gate", identity="documented")


def test_a_cut_that_is_not_labelled_yet_bears_the_name_of_its_tree_too(yard: Yard) -> None:
    cut(yard.writer, yard.cast.collector, yard.tree_id, 5)
    tree = read_tree(yard.database, yard.tree_id)

    with pytest.raises(SayWhichNameChange):
        change(yard.writer, yard.cast.steward, tree, cultivar_id=yard.orchard.bramley_id)


def test_only_what_was_labelled_before_a_correction_still_says_the_old_name(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    flag = yard.hand_over(bundle.id, 2, yard.cast.guest_id, form="flag")
    yard.writer.clock.move(timedelta(days=2))
    rename(yard)
    yard.writer.clock.move(timedelta(days=1))

    child = yard.hand_over(bundle.id, 3, yard.cast.guest_id)
    late_flag = yard.hand_over(bundle.id, 1, yard.cast.guest_id, form="flag")

    assert len(yard.scan(bundle.code).card["name"]["corrections"]) == 1
    assert yard.scan(child.code).card["name"]["corrections"] == []
    told = {one: card["name"]["corrections"] for one, card in yard.cards(flag.id, late_flag.id).items()}
    assert (len(told[flag.id]), told[late_flag.id]) == (1, [])


def test_what_cannot_be_a_new_name_is_refused(yard: Yard) -> None:
    with pytest.raises(SameName):
        rename(yard, cultivar_id=yard.orchard.gala_id)
    with pytest.raises(NotItsKind):
        rename(yard, cultivar_id=yard.orchard.victoria_id, taxon_id=yard.orchard.apple_id)
    with pytest.raises(InTheFuture):
        rename(yard, on_day=date(2026, 3, 1))
    with pytest.raises(Unusable):
        rename(yard, cultivar_id=UUID(int=7))
    with pytest.raises(Stale):
        body = TreeNameSet(what="wrong", reason="x", name_as_told="y")
        yard.writer.write_now(actions.set_tree_name, yard.cast.steward, yard.tree_id, body, 99)


def test_a_name_is_put_right_on_a_stopped_tree_too_but_it_is_not_topworked(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    yard.stop()

    with pytest.raises(StoppedTree):
        rename(yard, what="topworked")
    rename(yard)

    assert "Bramley" in yard.scan(bundle.code).answer
    assert yard.scan(bundle.code).card["state"] == "stopped"


def test_putting_a_name_right_costs_the_same_for_one_cut_and_for_twenty(
    yard: Yard, statements: Statements
) -> None:
    yard.cut(3)
    statements.clear()
    rename(yard)
    for_one = len(statements)
    for _ in range(20):
        yard.cut(3)

    with statements.at_most(for_one):
        rename(yard, cultivar_id=yard.orchard.gala_id)


def test_names_and_times_are_put_right_over_http_on_the_version_that_was_read(yard: Yard, client) -> None:
    (bundle,) = yard.cut(8)
    steward, path = client("steward"), f"/api/trees/{yard.tree_id}"
    etag = steward.get(path).headers["ETag"]
    body = {"what": "wrong", "cultivar_id": str(yard.orchard.bramley_id), "reason": "fruit compared"}

    assert steward.patch(f"{path}/name", json=body).status_code == 428
    assert client("host").patch(f"{path}/name", json=body, headers={"If-Match": etag}).status_code == 403
    made = steward.patch(f"{path}/name", json=body, headers={"If-Match": etag})
    assert (made.status_code, made.json()["bundles"]) == (200, 1), made.text
    assert steward.patch(f"{path}/name", json=body, headers={"If-Match": etag}).status_code == 412
    assert steward.get(f"{path}/names").json()["items"][0]["reason"] == "fruit compared"
    cut = f"/api/collections/{bundle.collection_id}"
    etag = steward.get(cut).headers["ETag"]
    time = {"done_at": "2026-02-12T09:00:00Z", "reason": "written down two days late"}
    changed = steward.patch(f"{cut}/time", json=time, headers={"If-Match": etag})
    assert (changed.status_code, changed.json()["cut_on"]) == (200, "2026-02-12"), changed.text
    assert steward.patch(f"{cut}/time", json=time, headers={"If-Match": etag}).status_code == 412
    assert (
        steward.patch(f"{cut}/time", json={**time, "reason": ""}, headers={"If-Match": etag}).status_code
        == 422
    )
