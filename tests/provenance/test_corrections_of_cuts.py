"""A cut or a receipt under a wrong name, or at a wrong time, is put right with all that rests on it."""

from __future__ import annotations

from datetime import date, timedelta
from uuid import UUID

import pytest

from service.bundles.actions import start_bundles
from service.bundles.queries import bundles_of_collections, list_moves
from service.bundles.schemas import BundleStart
from service.collection.actions import supply_bundles_of_collections
from service.collection.rules import NotOnThisTree
from service.collection.schemas import CutNameSet, TimeSet
from service.grafting import actions as grafting
from service.grafting.schemas import PlantAsTree
from service.lib.clock import InTheFuture
from service.lib.errors import Stale, Unusable
from service.lib.paging import Paging
from service.provenance import actions, queries
from service.provenance.rules.correcting import AfterItsWoodWasUsed, can_begin_at, check_can_begin_at
from service.trees.rules import SameName
from tests.builders.bundles import audit_of, read_bundle
from tests.builders.collection import read_collection, receive, set_zone
from tests.builders.provenance import Yard
from tests.builders.trees import change, read_tree


@pytest.fixture(autouse=True)
def _joined() -> None:
    supply_bundles_of_collections(bundles_of_collections)


# -- the name of one cut or receipt ---------------------------------------------------------------------------------


def set_name(yard: Yard, collection_id: UUID, **told):
    version = read_collection(yard.database, collection_id).version
    body = CutNameSet(reason="the giver wrote again", **told)
    return yard.writer.write_now(actions.set_cut_name, yard.cast.steward, collection_id, body, version)


def test_the_name_of_a_receipt_is_put_right_with_all_that_was_made_of_it(yard: Yard) -> None:
    receipt = receive(yard.writer, yard.cast.steward, yard.orchard)
    (bundle,) = yard.writer.write_now(
        start_bundles, yard.cast.steward, [BundleStart(collection_id=receipt.id, sticks=6)]
    )
    (own,) = yard.cut(3)
    graft = yard.graft(bundle.id)
    yard.took(graft.id)
    body = PlantAsTree(site_id=yard.orchard.site_id, may_cut="yes")
    grown = yard.writer.write_now(grafting.plant_as_tree, yard.cast.steward, graft.plants[0].id, body)

    done = set_name(yard, receipt.id, cultivar_id=yard.orchard.bramley_id)

    assert (done.cuts, done.bundles, done.plants, done.trees) == (1, 1, 1, 1)
    assert done.collection.cultivar_id == yard.orchard.bramley_id
    assert read_tree(yard.database, grown.tree_id).cultivar_id == yard.orchard.bramley_id
    (card,) = yard.cards(bundle.id).values()
    assert "Bramley" in card["name"]["short"]
    assert "Gala" in yard.name_on_card(own.code)
    with yard.database.reading() as session:
        (told,) = (one for one in queries.timeline(session, bundle.id) if one.kind == "correction")
    assert "the giver wrote again" in told.words


def test_a_cut_is_of_what_its_tree_bore_that_day(yard: Yard) -> None:
    (bundle,) = yard.cut(4)
    with pytest.raises(NotOnThisTree):
        set_name(yard, bundle.collection_id, cultivar_id=yard.orchard.bramley_id)
    tree = read_tree(yard.database, yard.tree_id)
    change(yard.writer, yard.cast.steward, tree, varieties=[{"cultivar_id": yard.orchard.bramley_id}])

    done = set_name(yard, bundle.collection_id, cultivar_id=yard.orchard.bramley_id)

    assert (done.bundles, done.from_words != done.words) == (1, True)
    assert "Bramley" in yard.name_on_card(bundle.code)
    assert read_tree(yard.database, yard.tree_id).cultivar_id == yard.orchard.gala_id
    with pytest.raises(SameName):
        set_name(yard, bundle.collection_id, cultivar_id=yard.orchard.bramley_id)
    set_name(yard, bundle.collection_id, cultivar_id=yard.orchard.gala_id)
    with pytest.raises(Stale):
        body = CutNameSet(reason="x", cultivar_id=yard.orchard.bramley_id)
        yard.writer.write_now(actions.set_cut_name, yard.cast.steward, bundle.collection_id, body, 1)


# -- the time of a cut --------------------------------------------------------------------------------------------------


def set_time(yard: Yard, collection_id: UUID, done_at, reason: str = "the wrong day was chosen"):
    version = read_collection(yard.database, collection_id).version
    body = TimeSet(done_at=done_at, reason=reason)
    return yard.writer.write_now(actions.set_cut_time, yard.cast.collector, collection_id, body, version)


def test_a_cut_lies_before_what_was_done_with_its_wood(yard: Yard) -> None:
    now = yard.writer.clock.now()
    assert can_begin_at(now, None) and can_begin_at(now, now)
    assert not can_begin_at(now, now - timedelta(seconds=1))
    with pytest.raises(AfterItsWoodWasUsed, match="was put away at 09:00 on 14 February 2026"):
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
    assert "14 February 2026, 10:00 to 11 February 2026, 10:00: the wrong day was chosen" in told.words
    assert audit_of(yard.database).clean


def test_a_cut_put_into_the_years_that_a_stop_reaches_back_is_bound_by_it(yard: Yard) -> None:
    now = yard.writer.clock.now()
    (bundle,) = yard.cut(8, done_at=now - timedelta(days=7 * 365))
    yard.writer.clock.move(timedelta(hours=1))
    child = yard.hand_over(bundle.id, 2, yard.cast.guest_id)
    yard.stop()
    assert not read_bundle(yard.database, bundle.id).stopped

    set_time(yard, bundle.collection_id, now - timedelta(days=6 * 365))
    assert not read_bundle(yard.database, bundle.id).stopped
    set_time(yard, bundle.collection_id, now - timedelta(days=30))

    assert [read_bundle(yard.database, one.id).stopped for one in (bundle, child)] == [True, True]
    assert yard.scan(bundle.code).card["state"] == "stopped"


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
