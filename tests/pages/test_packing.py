"""How wood is packed, on pages: as it is put away, at a look; and a logger that lies in a box."""

from __future__ import annotations

import re
from uuid import UUID

import pytest

from service.members.rules import Role
from service.members.signin import SESSION_COOKIE
from service.storage import queries
from service.storage.queries.beside import spells_of_all
from service.storage.queries.packs import packs_of
from tests.bad_input.desk import words_of
from tests.builders.members import make_asker, make_session
from tests.builders.storage import ago, make_box, make_bundles, make_ground, make_store, put
from tests.infra.browser_checks import check_page
from tests.infra.web import live
from tests.pages.desk import opened, read, send, told_next


def told(database, bundle):
    with database.reading() as session:
        return [
            (one.packing, one.waxed, one.done_at) for one in queries.packings_of(session, bundle, ago()).told
        ]


def test_it_is_told_as_wood_is_put_away_and_stands_on_its_look(as_, writer, database):
    ground = make_ground(writer)
    store = make_store(writer, ground)
    (bundle,) = make_bundles(writer, ground)
    host = as_(Role.HOST)
    box = make_box(writer, ground, with_tag=True)
    put(writer, ground.host, {"bundle_id": bundle, "into_box_id": box.id, "done_at": ago(days=4)})
    assert "Nobody told how it is packed" in words_of(read(host, f"/store/look/{bundle}"))

    at = ago(days=2).replace(microsecond=0)
    form = opened(
        host, "/store/put-away", things=box.code, into=f"place:{store.places[0].id}", packing="sand", waxed="true",
        done_at=at.strftime("%Y-%m-%dT%H:%M"),
    )  # fmt: skip
    assert "1 bundle put away" in told_next(host, send(host, "/store/put-away", form))

    ((packing, waxed, done_at),) = told(database, bundle)
    assert (packing, waxed) == ("sand", True)
    assert abs((done_at - at).total_seconds()) <= 3600
    assert "Packed: damp sand, sawdust or moss, ends waxed." in words_of(read(host, f"/store/look/{bundle}"))


def test_a_look_may_tell_nothing_but_the_packing_and_all_well_may_tell_it_too(as_, writer, database):
    ground = make_ground(writer)
    (bundle,) = make_bundles(writer, ground)
    host, page = as_(Role.HOST), f"/store/look/{bundle}"

    answer = send(host, page, opened(host, page, packing="bare"))
    assert "How it is packed is in the record." in told_next(host, answer)
    with database.reading() as session:
        assert queries.last_checks(session, [bundle]) == {}

    answer = send(host, page, opened(host, page, packing="sealed", all_well="true"))
    assert "The look is in the record." in told_next(host, answer)
    assert [packing for packing, *_ in told(database, bundle)] == ["sealed", "bare"]
    assert "How it was packed" in words_of(read(host, page))


def test_since_when_alone_says_nothing_and_is_asked_back(as_, writer, database):
    ground = make_ground(writer)
    (bundle,) = make_bundles(writer, ground)
    host, page = as_(Role.HOST), f"/store/look/{bundle}"

    answer = send(host, page, opened(host, page, buds="tight", packed_at="2026-02-12T09:00"))

    assert answer.status_code == 422
    assert "say how it is packed since then" in words_of(answer).lower()
    with database.reading() as session:
        assert queries.last_checks(session, [bundle]) == {}


def test_a_look_without_a_word_of_the_packing_leaves_it_as_it_was(as_, writer, database):
    ground = make_ground(writer)
    (bundle,) = make_bundles(writer, ground)
    host, page = as_(Role.HOST), f"/store/look/{bundle}"

    send(host, page, opened(host, page, all_well="true"))

    assert told(database, bundle) == []
    with database.reading() as session:
        assert bundle in queries.last_checks(session, [bundle])


def test_a_packing_of_tomorrow_comes_back_filled_in(as_, writer, database):
    ground = make_ground(writer)
    (bundle,) = make_bundles(writer, ground)
    host, page = as_(Role.HOST), f"/store/look/{bundle}"

    answer = send(
        host, page, opened(host, page, packing="bare", packed_at=ago(days=-2).strftime("%Y-%m-%dT%H:%M"))
    )

    assert answer.status_code == 422
    assert re.search(r'value="bare" selected', answer.text)
    assert told(database, bundle) == []


def test_a_logger_is_told_to_lie_inside_a_pack_in_a_box_and_since_when(as_, writer, database):
    ground = make_ground(writer)
    store = make_store(writer, ground)
    box = make_box(writer, ground, store_id=store.id)
    (bundle,) = make_bundles(writer, ground)
    put(writer, ground.host, {"bundle_id": bundle, "into_box_id": box.id, "done_at": ago(days=5)})
    host = as_(Role.HOST)
    added = send(
        host, "/loggers", opened(host, "/loggers", name="Small logger", store_id=str(store.id), sensor="air")
    )
    page = str(added.headers["location"])

    since = ago(days=3).strftime("%Y-%m-%dT%H:%M")
    form = opened(
        host, page, box_id=str(box.id), store_id="", sensor="pack", from_at=since, note="beside the sticks"
    )
    assert "written down where it hangs" in told_next(host, send(host, f"{page}/hang", form))

    assert "Blue crate, inside a pack" in words_of(read(host, page))
    with database.reading() as session:
        spells = spells_of_all(session, [bundle])
        own = packs_of(session, {bundle: spells}).own
    assert [one.logger_id for one in own[bundle]] == [UUID(page.rpartition("/")[2])]


def test_a_new_logger_may_lie_in_a_box_at_once_and_not_in_a_store_as_well(as_, writer):
    ground = make_ground(writer)
    store = make_store(writer, ground)
    box = make_box(writer, ground, store_id=store.id)
    host = as_(Role.HOST)

    both = opened(
        host, "/loggers", name="Small logger", store_id=str(store.id), box_id=str(box.id), sensor="pack"
    )
    asked = send(host, "/loggers", both)
    assert asked.status_code == 422
    assert "choose the box or the store, one of them" in words_of(asked).lower()

    added = send(host, "/loggers", {**both, "store_id": ""})
    assert added.status_code == 303, words_of(added)
    assert "Blue crate, inside a pack" in words_of(read(host, str(added.headers["location"])))


@pytest.mark.databases("sqlite")
def test_the_pages_on_which_packing_is_told_have_no_fault_that_axe_knows(app, phone, as_, writer):
    ground = make_ground(writer)
    store = make_store(writer, ground)
    make_box(writer, ground, store_id=store.id)
    (bundle,) = make_bundles(writer, ground)
    host = as_(Role.HOST)
    added = send(host, "/loggers", opened(host, "/loggers", name="Small logger", sensor="pack"))
    signed_in = make_session(writer, make_asker(writer, Role.HOST))
    with live(app) as address:
        phone.context.add_cookies([{"name": SESSION_COOKIE, "value": signed_in.token, "url": address}])
        for each in (f"/store/look/{bundle}", "/store/put-away", "/loggers", added.headers["location"]):
            phone.goto(address + each)
            phone.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
            check_page(phone)
