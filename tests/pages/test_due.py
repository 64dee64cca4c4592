"""Looks due in a store: a row, one tap, and back to the list."""

from __future__ import annotations

from service.members.rules import Role
from tests.bad_input.desk import words_of
from tests.builders.storage import ago, make_box, make_bundles, make_ground, make_store, put
from tests.pages.desk import opened, read, send, told_next


def test_a_bundle_that_is_due_is_looked_at_by_one_tap_and_leaves_the_list(as_, writer):
    ground = make_ground(writer)
    store = make_store(writer, ground)
    (bundle,) = make_bundles(writer, ground)
    put(writer, ground.host, {"bundle_id": bundle, "store_id": store.id, "done_at": ago(days=60)})
    host = as_(Role.HOST)
    listed = read(host, f"/store/{store.id}/due")
    assert "1 bundle waits for a look" in words_of(listed)
    look = f"/store/look/{bundle}?due={store.id}"
    assert look in listed.text

    answer = send(host, f"/store/look/{bundle}", opened(host, look, all_well="true"))

    assert answer.headers["location"] == f"/store/{store.id}/due"
    assert "Nothing waits for a look" in told_next(host, answer)


def test_mould_leads_to_the_list_of_its_store_and_tells_how_many_lie_beside_it_and_the_first_by_name(
    as_, writer
):
    ground = make_ground(writer)
    store, box = make_store(writer, ground), make_box(writer, ground, "Box B")
    bundles = make_bundles(writer, ground, 6)
    put(writer, ground.host, {"box_id": box.id, "store_id": store.id, "done_at": ago(days=3)})
    put(
        writer,
        ground.host,
        *({"bundle_id": one, "into_box_id": box.id, "done_at": ago(days=2)} for one in bundles),
    )
    host, look = as_(Role.HOST), f"/store/look/{bundles[0]}"

    answer = send(host, look, opened(host, look, mould="true"))

    assert answer.headers["location"] == f"/store/{store.id}/due"
    told = told_next(host, answer)
    assert "5 bundles lie beside it in Box B, and are due for a look:" in told and "and 2 more" in told
