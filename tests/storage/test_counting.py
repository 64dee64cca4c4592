"""A shelf or a box counted by scanning: what is there, what is not expected, what is missing, and what a scan costs."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID, uuid4

import pytest

from service.lib.database import Database
from service.lib.write import Writer
from service.storage import actions, queries, schemas
from service.storage.rules import CountEnded, Found, NoSuchCount, NotForStoring, plan_count
from tests.builders.storage import Ground, make_box, make_bundles, make_ground, make_store, put, stop_bundles
from tests.infra.statements import Statements


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_ground(writer)


def tagged(writer: Writer, ground: Ground, bundle_ids: Sequence[UUID]) -> list[str]:
    from service.tags import actions as tags
    from service.tags.rules.words import TagKind
    from service.tags.schemas import TagCreate

    body = [TagCreate(kind=TagKind.BUNDLE, thing_id=one) for one in bundle_ids]
    return [made.code for made in writer.write_now(tags.add_tags, ground.host, body)]


def begin(writer: Writer, ground: Ground, **spot: UUID) -> UUID:
    return writer.write_now(actions.begin_count, ground.host, schemas.ShelfCountCreate(**spot)).id


def scan(writer: Writer, ground: Ground, count_id: UUID, code: str) -> schemas.ShelfScanned:
    return writer.write_now(actions.scan_on_shelf, ground.host, count_id, schemas.ShelfScanCreate(code=code))


def ids(bundles: list[schemas.CountedBundle]) -> set[UUID]:
    return {each.bundle_id for each in bundles}


def test_a_box_is_counted_and_what_was_missing_stays_written_down(
    database: Database, writer: Writer, ground: Ground, statements: Statements
) -> None:
    store, box = make_store(writer, ground), make_box(writer, ground)
    here, gone, elsewhere, loose = bundles = make_bundles(writer, ground, 4)
    codes = dict(zip(bundles, tagged(writer, ground, bundles), strict=True))
    put(writer, ground.host, {"box_id": box.id, "store_id": store.id})
    put(writer, ground.host, *({"bundle_id": one, "into_box_id": box.id} for one in (here, gone)))
    put(writer, ground.host, {"bundle_id": elsewhere, "store_id": store.id})
    count = begin(writer, ground, box_id=box.id)

    found = [scan(writer, ground, count, codes[one]) for one in (here, elsewhere, loose, here)]

    assert [(one.finding, one.again) for one in found] == [
        (Found.PRESENT, False), (Found.NOT_EXPECTED, False), (Found.NOT_EXPECTED, False), (Found.PRESENT, True),
    ]  # fmt: skip
    assert "Garage fridge" in found[1].lies and found[2].lies == ""
    with database.reading() as session, statements.at_most(6):
        open_count = queries.get_count(session, count)
    assert [ids(part) for part in (open_count.present, open_count.not_expected, open_count.missing)] == [
        {here}, {elsewhere, loose}, {gone},
    ]  # fmt: skip
    put(writer, ground.host, {"bundle_id": elsewhere, "into_box_id": box.id})  # settled by a tap
    ended = writer.write_now(actions.end_count, ground.host, count)
    put(writer, ground.host, {"bundle_id": gone, "out": True})
    with database.reading() as session:
        later = queries.get_count(session, count)
    assert later.missing == ended.missing and ids(ended.missing) == {gone}
    assert (ids(later.present), ids(later.not_expected)) == ({here, elsewhere}, {loose})
    with pytest.raises(CountEnded):
        scan(writer, ground, count, codes[gone])
    with pytest.raises(CountEnded):
        writer.write_now(actions.end_count, ground.host, count)


def test_a_shelf_counts_the_boxes_on_it_and_stopped_wood_too(
    database: Database, writer: Writer, ground: Ground
) -> None:
    store, box = make_store(writer, ground, places=["Top shelf", "Floor"]), make_box(writer, ground)
    shelf, floor = (next(p.id for p in store.places if p.name == name) for name in ("Top shelf", "Floor"))
    boxed, loose, below = bundles = make_bundles(writer, ground, 3)
    codes = dict(zip(bundles, tagged(writer, ground, bundles), strict=True))
    put(writer, ground.host, {"box_id": box.id, "place_id": shelf}, {"bundle_id": loose, "place_id": shelf})
    put(
        writer,
        ground.host,
        {"bundle_id": boxed, "into_box_id": box.id},
        {"bundle_id": below, "place_id": floor},
    )
    stop_bundles(writer, ground, [boxed])
    count = begin(writer, ground, place_id=shelf)

    found = {one: scan(writer, ground, count, codes[one]).finding for one in (boxed, below)}

    assert found == {boxed: Found.PRESENT, below: Found.NOT_EXPECTED}
    with database.reading() as session:
        assert ids(queries.get_count(session, count).missing) == {loose}


def test_a_scan_costs_three_statements_on_a_shelf_of_two_hundred(
    writer: Writer, ground: Ground, statements: Statements
) -> None:
    store = make_store(writer, ground)
    bundles = make_bundles(writer, ground, 200)
    codes = tagged(writer, ground, bundles)
    put(writer, ground.host, *({"bundle_id": one, "store_id": store.id} for one in bundles))
    place = next(each.id for each in store.places)
    count = begin(writer, ground, place_id=place)

    for code in codes:
        with statements.at_most(3):
            scan(writer, ground, count, code)

    with writer.database.reading() as session:
        done = queries.get_count(session, count)
    assert (len(done.present), done.missing, done.not_expected) == (200, [], [])


def test_what_is_no_bundle_and_what_is_no_count_is_refused(writer: Writer, ground: Ground) -> None:
    box = make_box(writer, ground, with_tag=True)
    (bundle,) = make_bundles(writer, ground)
    (code,) = tagged(writer, ground, [bundle])
    count = begin(writer, ground, box_id=box.id)

    with pytest.raises(NotForStoring):
        scan(writer, ground, count, box.code or "")
    with pytest.raises(NoSuchCount):
        scan(writer, ground, uuid4(), code)


def test_present_and_missing_make_up_what_was_expected() -> None:
    one, two, three = uuid4(), uuid4(), uuid4()

    counted = plan_count([one, two], [two, three])

    assert (counted.present, counted.not_expected, counted.missing) == ({two}, {three}, {one})
    assert plan_count([], []).missing == frozenset()
