"""How wood is packed, over HTTP: told by itself, with what is put away, with a look; read back."""

from __future__ import annotations

import pytest

from service.storage.routes import router
from tests.builders.storage import ago, make_box, make_bundles, make_ground, make_store, put, stop_bundles
from tests.storage.desk import Desk


@pytest.fixture
def ground(writer):
    return make_ground(writer)


@pytest.fixture
def desk(database, writer, clock, ground):
    return Desk(database, writer, clock, router)


@pytest.fixture
def bundle(writer, ground):
    return make_bundles(writer, ground)[0]


def told(desk, bundle):
    answer = desk.get("host", f"/api/bundles/{bundle}/packings")
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_it_is_told_and_read_back_the_latest_first(desk, bundle):
    body = [
        {"bundle_id": str(bundle), "packing": "sand", "waxed": True, "done_at": ago(days=5).isoformat()},
        {
            "bundle_id": str(bundle),
            "packing": "loose",
            "done_at": ago(days=9).isoformat(),
            "note": "told late",
        },
    ]

    made = desk.post("host", "/api/packings", body)

    assert made.status_code == 201, made.text
    assert [one["words"] for one in made.json()] == [
        "damp sand, sawdust or moss, ends waxed",
        "loose or in an open bag",
    ]
    read = told(desk, bundle)
    assert read["words"] == "damp sand, sawdust or moss, ends waxed"
    assert [one["packing"] for one in read["told"]] == ["sand", "loose"]
    assert read["told"][1]["note"] == "told late"


def test_of_wood_of_which_nobody_told_nothing_is_told(desk, bundle):
    assert told(desk, bundle) == {"bundle_id": str(bundle), "words": "", "told": []}


def test_a_box_is_told_of_all_that_lies_in_it_then_and_no_other(desk, writer, ground, bundle):
    before, other = make_bundles(writer, ground, 2)
    store = make_store(writer, ground)
    box = make_box(writer, ground, store_id=store.id, with_tag=True)
    put(
        writer,
        ground.host,
        *({"bundle_id": one, "into_box_id": box.id, "done_at": ago(days=9)} for one in (bundle, before)),
    )
    put(writer, ground.host, {"bundle_id": before, "out": True, "done_at": ago(days=6)})

    desk.post(
        "host", "/api/packings", [{"code": box.code, "packing": "sealed", "done_at": ago(days=5).isoformat()}]
    )

    assert [told(desk, one)["words"] != "" for one in (bundle, before, other)] == [True, False, False]


def test_it_is_told_as_wood_is_put_away_and_at_a_look(desk, writer, ground, bundle):
    store = make_store(writer, ground)
    away = {"bundle_id": str(bundle), "store_id": str(store.id), "packing": "damp_paper", "disinfected": True}
    look = {"bundle_id": str(bundle), "buds": "tight", "seen_at": ago(days=1).isoformat(), "packing": "wet"}

    assert (
        desk.post("host", "/api/put-away", [{**away, "done_at": ago(days=7).isoformat()}]).status_code == 201
    )
    assert desk.post("host", "/api/bundle-checks", [look]).status_code == 201

    read = told(desk, bundle)
    assert [one["packing"] for one in read["told"]] == ["wet", "damp_paper"]
    assert read["words"].startswith("sealed plastic, water on the wood, surface disinfected")


def test_a_look_that_tells_since_when_tells_how(desk, bundle):
    look = {"bundle_id": str(bundle), "buds": "tight", "packed_at": ago(days=1).isoformat()}

    assert desk.post("host", "/api/bundle-checks", [look]).status_code == 422
    assert desk.post("host", "/api/bundle-checks", [{**look, "waxed": True}]).status_code == 201
    assert told(desk, bundle)["words"] == "ends waxed"


def test_nothing_told_of_it_leaves_nothing_in_the_record(desk, writer, ground, bundle):
    store = make_store(writer, ground)

    desk.post("host", "/api/put-away", [{"bundle_id": str(bundle), "store_id": str(store.id)}])
    desk.post("host", "/api/bundle-checks", [{"bundle_id": str(bundle), "buds": "tight"}])

    assert told(desk, bundle)["told"] == []


@pytest.mark.parametrize(
    "body, status, kind",
    [
        ({}, 422, "no-packing-told"),
        ({"packing": "in a sock"}, 422, ""),
        ({"packing": "bare", "code": "0000000"}, 422, ""),
        ({"packing": "bare", "done_at": "2026-02-15T00:00:00Z"}, 422, "in-the-future"),
        ({"packing": "bare", "done_at": "2025-01-01T00:00:00Z"}, 409, "before-it-was-made"),
    ],
)
def test_what_cannot_be_is_refused(desk, bundle, body, status, kind):
    answer = desk.post("host", "/api/packings", [{"bundle_id": str(bundle), **body}])

    assert answer.status_code == status, answer.text
    assert kind in answer.json().get("type", "") if kind else True
    assert told(desk, bundle)["told"] == []


def test_of_no_bundle_and_of_a_store_nothing_is_told(desk, writer, ground):
    store = make_store(writer, ground, with_tag=True)
    nobody = {"bundle_id": "00000000-0000-4000-8000-000000000000", "packing": "bare"}

    assert desk.post("host", "/api/packings", [nobody]).status_code == 404
    refused = desk.post("host", "/api/packings", [{"code": store.code, "packing": "bare"}])
    assert refused.status_code == 422
    assert "bundles and boxes of them are packed" in refused.json()["detail"]
    assert desk.get("host", f"/api/bundles/{nobody['bundle_id']}/packings").status_code == 404


def test_a_stranger_neither_tells_nor_reads(desk, bundle):
    body = [{"bundle_id": str(bundle), "packing": "bare"}]

    assert desk.post("stranger", "/api/packings", body).status_code == 401
    assert desk.get("stranger", f"/api/bundles/{bundle}/packings").status_code == 401


def test_stopped_wood_is_told_of_too(desk, writer, ground, bundle):
    stop_bundles(writer, ground, [bundle])

    assert (
        desk.post("host", "/api/packings", [{"bundle_id": str(bundle), "packing": "bare"}]).status_code == 201
    )


def test_many_cost_as_many_statements_as_one(desk, writer, ground, statements):
    bundles = make_bundles(writer, ground, 12)
    spent = []
    for some in (bundles[:1], bundles[1:]):
        statements.clear()
        answer = desk.post(
            "host", "/api/packings", [{"bundle_id": str(one), "packing": "sand"} for one in some]
        )
        assert answer.status_code == 201
        spent.append(len(statements))

    assert spent[0] == spent[1] <= 8
