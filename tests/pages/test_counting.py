"""A shelf counted on its page: begin, scan by typing, settle, end."""

from __future__ import annotations

import re

from service.lib.codes import group_code
from service.members.rules import Role
from service.storage import queries
from tests.bad_input.desk import words_of
from tests.builders.storage import make_box, make_bundles, make_ground, make_store, put
from tests.pages.desk import opened, read, send, told_next
from tests.storage.test_counting import tagged


def test_a_box_is_counted_without_a_script(as_, writer):
    ground = make_ground(writer)
    store, box = make_store(writer, ground), make_box(writer, ground)
    here, gone, strange = bundles = make_bundles(writer, ground, 3)
    codes = dict(zip(bundles, tagged(writer, ground, bundles), strict=True))
    put(writer, ground.host, {"box_id": box.id, "store_id": store.id})
    put(writer, ground.host, *({"bundle_id": one, "into_box_id": box.id} for one in (here, gone)))
    host = as_(Role.HOST)

    begun = send(host, "/store/count", opened(host, "/store/count", of=f"box:{box.id}"))
    page = begun.headers["location"]
    for one, said in (
        (here, "there, as it should be"),
        (strange, "not expected here"),
        (here, "It was scanned before"),
    ):
        answer = send(host, f"{page}/scan", opened(host, page, code=group_code(codes[one])))
        assert said in told_next(host, answer)
    wrong = send(host, f"{page}/scan", opened(host, page, code="ZZZZ ZZZZ"))
    open_words = words_of(read(host, page))
    ended = told_next(host, send(host, f"{page}/end", opened(host, page)))

    assert wrong.status_code in (404, 422)
    assert "1 of 2 bundles scanned" in open_words and "Not scanned yet" in open_words
    assert "Counted: 1 there, 1 missing." in ended
    acts = re.findall(r'name="act" value="(\w+)"', read(host, page).text)
    assert acts == ["here", "out"]
    settled = send(host, f"{page}/settle", {**opened(host, page), "bundle_id": str(strange), "act": "here"})
    assert "Written down." in told_next(host, settled)
    listed = words_of(read(host, f"/store/box/{box.id}"))
    assert "3 bundles" in listed


def test_all_that_is_missing_is_settled_at_once_and_the_count_asks_before_it_ends(as_, writer, database):
    ground = make_ground(writer)
    store, box = make_store(writer, ground), make_box(writer, ground, "Box B")
    gone, lost, moved = bundles = make_bundles(writer, ground, 3)
    put(writer, ground.host, {"box_id": box.id, "store_id": store.id})
    put(writer, ground.host, *({"bundle_id": one, "into_box_id": box.id} for one in bundles))
    host = as_(Role.HOST)
    assert ">box box b" not in read(host, "/store/count").text.casefold()
    page = send(host, "/store/count", opened(host, "/store/count", of=f"box:{box.id}")).headers["location"]

    asked = words_of(read(host, page))
    send(host, f"{page}/end", opened(host, page))
    put(writer, ground.host, {"bundle_id": moved, "store_id": store.id})
    ended = read(host, page)
    form = {**opened(host, page), "act": "out", "bundle_id": [str(one) for one in bundles]}
    settled = told_next(host, send(host, f"{page}/settle", form))

    assert "3 bundles were not found. End the count all the same?" in asked
    assert "None of these 3 is in the store" in words_of(ended)
    assert "2 bundles are written down as not in the store" in settled
    with database.reading() as session:
        assert set(queries.whereabouts(session, [gone, lost, moved])) == {moved}
