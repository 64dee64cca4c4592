"""A wrong name reaches all that took it from the tree, topworking nothing that was cut before; a cut's time is put right."""

from __future__ import annotations

from datetime import date, timedelta
from uuid import UUID

import pytest
from pydantic import ValidationError

from service.bundles.queries import bundles_of_collections, list_moves
from service.collection.actions import supply_bundles_of_collections
from service.collection.schemas import TimeSet
from service.grafting import actions as grafting
from service.grafting.schemas import PlantAsTree, TakeCheckCreate
from service.lib.clock import InTheFuture
from service.lib.errors import Stale, Unusable
from service.lib.paging import Paging
from service.provenance import actions, queries
from service.provenance.rules.correcting import AfterItsWoodWasUsed, can_begin_at, check_can_begin_at
from service.trees.queries import list_name_changes
from service.trees.rules import NotItsKind, SameName, SayWhichNameChange, StoppedTree
from service.trees.schemas import TreeNameSet
from tests.builders.bundles import audit_of, read_bundle
from tests.builders.collection import read_collection, set_zone
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


def took(yard: Yard, graft_id: UUID) -> None:
    body = TakeCheckCreate(graft_id=graft_id, alive=1, looked_at=1, is_verdict=True)
    yard.writer.write_now(grafting.record_take_checks, yard.cast.steward, [body])


def name_on_card(yard: Yard, code: str | None) -> str:
    return yard.scan(code).card["name"]["short"]


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
        took(yard, one.id)
    body = PlantAsTree(site_id=yard.orchard.site_id, may_cut="yes")
    grown = yard.writer.write_now(grafting.plant_as_tree, yard.cast.steward, graft.plants[0].id, body)
    yard.writer.clock.move(timedelta(days=300))
    (of_grown,) = yard.cut(5, tree_id=grown.tree_id)
    (of_branch,) = yard.cut(3, tree_id=standing.id, cultivar_id=yard.orchard.gala_id)
    (of_main,) = yard.cut(3, tree_id=standing.id)

    done = rename(yard, cultivar_id=None, name_as_told="Redstreak of the old wall")

    assert (done.cuts, done.trees) == (3, 2)
    for moved in (bundle, of_grown, of_branch):
        assert name_on_card(yard, moved.code) == "“Redstreak of the old wall”"
    assert name_on_card(yard, true_gala.code) == GALA or "Gala" in name_on_card(yard, true_gala.code)
    assert "Bramley" in name_on_card(yard, of_main.code)
    assert read_tree(yard.database, grown.tree_id).name_as_told == "Redstreak of the old wall"
    assert read_tree(yard.database, standing.id).varieties == []
    with yard.database.reading() as session:
        follows = list_name_changes(session, Paging(), grown.tree_id).items
    assert [one.follows_tree_id for one in follows] == [yard.tree_id]


def test_a_grown_tree_bears_no_variety_twice_when_its_name_is_put_right(yard: Yard) -> None:
    graft = yard.graft(yard.cut(8)[0].id)
    took(yard, graft.id)
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
    assert "Gala" in name_on_card(yard, bundle.code)
    card = yard.scan(bundle.code).card
    assert len(card["name"]["corrections"]) == 2
    assert len(yard.scan(new.code).card["name"]["corrections"]) == 1


def test_topworking_leaves_earlier_cuts_and_a_late_entry_is_of_what_it_bore_then(yard: Yard) -> None:
    before = yard.writer.clock.now()
    (old,) = yard.cut(8)
    yard.writer.clock.move(timedelta(days=400))

    done = rename(yard, what="topworked", on_day=date(2026, 4, 20))

    assert (done.cuts, done.bundles) == (0, 0)
    assert "Gala" in name_on_card(yard, old.code)
    (new,), (late,) = yard.cut(4), yard.cut(3, done_at=before + timedelta(days=2))
    assert "Bramley" in name_on_card(yard, new.code)
    assert "Gala" in name_on_card(yard, late.code)
    assert yard.scan(old.code).card["name"]["corrections"] == []


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
    took(yard, yard.graft(bundle.id, 0, stock_tree_id=standing.id).id)

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


# -- the time of a cut --------------------------------------------------------------------------------------------------


def set_time(yard: Yard, collection_id: UUID, done_at, reason: str = "the wrong day was chosen"):
    version = read_collection(yard.database, collection_id).version
    body = TimeSet(done_at=done_at, reason=reason)
    return yard.writer.write_now(actions.set_cut_time, yard.cast.collector, collection_id, body, version)


def test_a_cut_lies_before_what_was_done_with_its_wood(yard: Yard) -> None:
    now = yard.writer.clock.now()
    assert can_begin_at(now, None) and can_begin_at(now, now)
    assert not can_begin_at(now, now - timedelta(seconds=1))
    with pytest.raises(AfterItsWoodWasUsed, match="was put away"):
        check_can_begin_at(now, now - timedelta(hours=1), "put_away")
    (bundle,) = yard.cut(8, done_at=now - timedelta(days=5))
    yard.hand_over(bundle.id, 2, yard.cast.guest_id)

    with pytest.raises(AfterItsWoodWasUsed):
        set_time(yard, bundle.collection_id, now + timedelta(minutes=5))
    (untouched,) = yard.cut(3)
    with pytest.raises(InTheFuture):
        set_time(yard, untouched.collection_id, now + timedelta(hours=5))
    with pytest.raises(Unusable, match="that stands"):
        set_time(yard, bundle.collection_id, now - timedelta(days=5))


def test_the_time_is_put_right_and_the_ledger_keeps_its_lines(yard: Yard) -> None:
    now = yard.writer.clock.now()
    (bundle,) = yard.cut(8)
    with yard.database.reading() as session:
        before = list_moves(session, bundle.id, Paging()).items
    other = read_collection(yard.database, bundle.collection_id).round_id

    after = set_time(yard, bundle.collection_id, now - timedelta(days=3))

    assert (after.cut_on, after.done_at) == (date(2026, 2, 11), now - timedelta(days=3))
    assert after.round_id != other
    assert read_bundle(yard.database, bundle.id).made_at == now - timedelta(days=3)
    assert yard.scan(bundle.code).card["origin"]["cut_on"] == "2026-02-11"
    with yard.database.reading() as session:
        assert list_moves(session, bundle.id, Paging()).items == before
        (told,) = (one for one in queries.timeline(session, bundle.id) if one.kind == "correction")
    assert "2026-02-14 10:00 to 2026-02-11 10:00: the wrong day was chosen" in told.words
    assert audit_of(yard.database).clean


def test_a_bundle_that_was_split_off_at_that_very_time_keeps_its_own(yard: Yard) -> None:
    now = yard.writer.clock.now()
    (bundle,) = yard.cut(8)
    child = yard.hand_over(bundle.id, 2, yard.cast.guest_id)

    set_time(yard, bundle.collection_id, now - timedelta(days=3))

    made = [read_bundle(yard.database, one.id).made_at for one in (bundle, child)]
    assert made == [now - timedelta(days=3), now]


def test_the_day_of_a_corrected_cut_is_the_clubs_own(yard: Yard) -> None:
    set_zone(yard.writer, "Australia/Hobart")
    (bundle,) = yard.cut(8)

    after = set_time(yard, bundle.collection_id, "2026-02-12T14:30:00Z")

    assert after.cut_on == date(
        2026, 2, 13
    )  # Hobart is eleven hours ahead in February (IANA time zone database)
