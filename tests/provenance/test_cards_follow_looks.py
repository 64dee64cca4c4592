"""A card says where the wood lies now, and what was seen last: by the day of the look, not by when it was written down."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

from service.storage import actions as storage
from service.storage.schemas import BoxCreate, BundleCheckCreate, PutAwayCreate, StoreCreate
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
