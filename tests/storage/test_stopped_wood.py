"""What a stop forbids in the store, and how stopped wood is moved aside, on both databases."""

from __future__ import annotations

import pytest

from service.lib.database import Database
from service.lib.write import Writer
from service.storage import actions
from service.storage.rules import (
    NotApart,
    OnlyToIsolate,
    StoppedWoodStays,
)
from tests.builders.storage import (
    Ground,
    ago,
    lies,
    make_box,
    make_bundles,
    make_ground,
    make_store,
    put,
    stop_bundles,
)


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_ground(writer)


def test_stopped_wood_is_not_moved_alone_or_in_its_box(writer: Writer, ground: Ground):
    store, box = make_store(writer, ground), make_box(writer, ground)
    stopped, mate, loose = make_bundles(writer, ground, 3)
    put(
        writer,
        ground.host,
        *({"bundle_id": b, "into_box_id": box.id, "done_at": ago(days=3)} for b in (stopped, mate)),
    )
    stop_bundles(writer, ground, [stopped, loose], placed_at=ago(days=1))

    for entry in (
        {"bundle_id": stopped, "store_id": store.id},
        {"bundle_id": stopped, "out": True},
        {"box_id": box.id, "store_id": store.id},
    ):
        with pytest.raises(StoppedWoodStays):
            put(writer, ground.host, entry)
    with pytest.raises(StoppedWoodStays):
        writer.write_now(actions.take_out, ground.host, [stopped])
    with pytest.raises(OnlyToIsolate):
        put(writer, ground.host, {"bundle_id": stopped, "store_id": store.id, "to_isolate": True})
    (told,) = put(writer, ground.host, {"bundle_id": mate, "store_id": store.id})
    assert told.warnings == []


def test_a_health_steward_moves_stopped_wood_aside(database: Database, writer: Writer, ground: Ground):
    store, box, apart = (
        make_store(writer, ground),
        make_box(writer, ground),
        make_box(writer, ground, "Red crate"),
    )
    stopped, mate = make_bundles(writer, ground, 2)
    put(
        writer,
        ground.host,
        *({"bundle_id": b, "into_box_id": box.id, "done_at": ago(days=3)} for b in (stopped, mate)),
    )
    stop_bundles(writer, ground, [stopped], placed_at=ago(days=1))

    with pytest.raises(StoppedWoodStays):
        put(writer, ground.health_steward, {"bundle_id": stopped, "into_box_id": apart.id})
    put(writer, ground.health_steward, {"bundle_id": stopped, "into_box_id": apart.id, "to_isolate": True})
    put(writer, ground.health_steward, {"box_id": apart.id, "store_id": store.id, "to_isolate": True})

    assert lies(database, stopped).store_name == "Garage fridge"
    with pytest.raises(NotApart):
        put(writer, ground.health_steward, {"bundle_id": stopped, "into_box_id": box.id, "to_isolate": True})
    (told,) = put(writer, ground.host, {"bundle_id": mate, "into_box_id": apart.id})
    assert "stopped wood" in told.warnings[0]


def test_a_move_made_before_the_stop_may_be_written_down_late(
    database: Database, writer: Writer, ground: Ground
):
    fridge, cellar = make_store(writer, ground), make_store(writer, ground, "Cellar")
    (bundle,) = make_bundles(writer, ground)
    put(writer, ground.host, {"bundle_id": bundle, "store_id": fridge.id, "done_at": ago(days=9)})
    stop_bundles(writer, ground, [bundle], placed_at=ago(days=2))

    put(writer, ground.host, {"bundle_id": bundle, "store_id": cellar.id, "done_at": ago(days=3)})

    assert lies(database, bundle).store_name == "Cellar"
    with pytest.raises(StoppedWoodStays):
        put(writer, ground.host, {"bundle_id": bundle, "store_id": fridge.id, "done_at": ago(days=1)})
