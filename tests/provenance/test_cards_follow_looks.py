"""A card says where the wood lies now, and what was seen last: by the day of the look, not by when it was written down."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID

import pytest

from service.lib.clock import FixedClock
from service.storage import actions as storage
from service.storage.schemas import BoxCreate, BundleCheckCreate, PutAwayCreate, StoreCreate
from service.tags import actions as tags
from service.tags.schemas import LabelledReceiptCreate, TagCreate
from service.trees import actions as trees
from tests.builders.collection import set_zone
from tests.builders.provenance import Yard
from tests.builders.trees import look


def test_the_card_says_that_wood_lies_in_a_store_only_while_it_does(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    write, host, clock = yard.writer.write_now, yard.cast.host, yard.writer.clock
    store = write(storage.add_store, host, StoreCreate(name="Fell's fridge", host_id=host.party_id))
    box = write(storage.add_box, host, BoxCreate(name="Blue"))

    told = [yard.scan(bundle.code).card["kept"]]
    for put in ({"store_id": store.id}, {"out": True}, {"into_box_id": box.id}, {"out": True}):
        clock.move(timedelta(hours=1))
        write(storage.put_away, host, [PutAwayCreate(bundle_id=bundle.id, **put)])
        told.append(yard.scan(bundle.code).card["kept"])

    away, there = "with the club; not recorded in a store", "in a cold store of the club"
    assert told == [away, there, away, there, away]


def test_a_look_at_a_bundle_that_is_written_down_late_does_not_hide_a_later_one(yard: Yard) -> None:
    (bundle,) = yard.cut(8, done_at=yard.writer.clock.now() - timedelta(days=9))
    now = yard.writer.clock.now()

    for number, (buds, days) in enumerate([("green", 1), ("tight", 7)]):
        body = BundleCheckCreate(
            id=UUID(int=number + 1), bundle_id=bundle.id, buds=buds, seen_at=now - timedelta(days=days)
        )
        yard.writer.write_now(storage.record_bundle_checks, yard.cast.host, [body])

    last = yard.scan(bundle.code).card["last_look"]
    assert (last["buds"], str(last["seen_on"])) == ("green", "2026-02-13")


def test_a_look_at_a_tree_that_saw_nothing_does_not_hide_what_was_seen_before(yard: Yard) -> None:
    (bundle,) = yard.cut(8)

    for result, seen_on in (("symptom", "2025-07-03"), ("not_seen", "2025-09-01"), ("healthy", "2025-06-02")):
        look(yard.writer, yard.cast.steward, yard.tree_id, result=result, seen_on=seen_on)

    leaf = yard.scan(bundle.code).card["tree_checks"][0]
    assert leaf["words"] == "A symptom was seen in leaf on 3 July 2025."


@pytest.mark.parametrize(
    ("seen_on", "says"),
    [
        ("2025-02-14", ""),
        ("2025-02-13", "Its tree was not seen in leaf since 13 February 2025; ask before you use its wood."),
        (None, "Its tree was never seen in leaf; ask before you use its wood."),
    ],
    ids=["within a year", "over a year", "never"],
)
def test_that_a_tree_was_not_seen_is_read_off_the_stored_dates_on_the_day_of_the_scan(
    yard: Yard, seen_on: str | None, says: str
) -> None:
    (bundle,) = yard.cut(8)
    if seen_on:
        look(yard.writer, yard.cast.steward, yard.tree_id, seen_on=seen_on)
    kept = yard.cards(bundle.id)

    assert yard.scan(bundle.code).not_seen == says
    yard.writer.clock.move(timedelta(days=400))
    assert yard.scan(bundle.code).not_seen.startswith("Its tree was n")
    assert yard.cards(bundle.id) == kept  # nothing was stored for it


@pytest.mark.parametrize("of", ["bundle", "tree"])
def test_whether_a_year_has_gone_by_goes_by_the_clubs_day(yard: Yard, of: str) -> None:
    """Auckland is thirteen hours ahead in February (IANA time zone database)."""
    (bundle,) = yard.cut(8)
    look(yard.writer, yard.cast.steward, yard.tree_id, seen_on="2025-02-14")
    wanted = [TagCreate(kind="tree", thing_id=yard.tree_id)]
    code = (
        bundle.code
        if of == "bundle"
        else yard.writer.write_now(tags.add_tags, yard.cast.steward, wanted)[0].code
    )
    assert isinstance(yard.writer.clock, FixedClock)
    yard.writer.clock.at = datetime(2026, 2, 14, 13, tzinfo=UTC)
    before = yard.scan(code).not_seen
    set_zone(yard.writer, "Pacific/Auckland")

    there = yard.scan(code).not_seen

    assert before == ""
    assert "not seen in leaf since 14 February 2025" in there


def test_a_look_that_is_taken_back_is_on_no_card(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    made = look(yard.writer, yard.cast.steward, yard.tree_id, seen_on="2025-09-01")

    yard.writer.write_now(trees.take_back_look, yard.cast.steward, made.id)

    assert yard.scan(bundle.code).card["tree_checks"][0]["seen_on"] is None
    assert yard.scan(bundle.code).not_seen.startswith("Its tree was never seen in leaf")


def test_of_wood_from_outside_the_club_knows_no_tree(yard: Yard) -> None:
    body = LabelledReceiptCreate(
        receipt={"sticks": 4, "cultivar_id": yard.orchard.gala_id, "area_id": yard.orchard.area_id, "from_whom": "a neighbour"},
        bundles=[{"sticks": 4}],
    )  # fmt: skip
    (made,) = yard.writer.write_now(tags.receive_and_label, yard.cast.collector, [body])

    assert yard.scan(made.bundles[0].code).not_seen == ""
