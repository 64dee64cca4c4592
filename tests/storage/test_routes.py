"""Keeping over HTTP: who may, keys and versions, problem answers, and what each route costs."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest

from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.write import Writer
from service.storage.routes import router
from tests.builders.storage import TODAY, Ground, make_box, make_bundles, make_ground, make_store, put
from tests.infra.statements import Statements
from tests.storage.desk import Desk


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_ground(writer)


@pytest.fixture
def desk(database: Database, writer: Writer, clock: FixedClock, ground: Ground) -> Desk:
    return Desk(database, writer, clock, router)


@pytest.fixture
def filled(writer: Writer, ground: Ground) -> dict[str, Any]:
    """A store with a box in it, two bundles in the box."""
    store = make_store(writer, ground, places=["door"])
    box = make_box(writer, ground, place_id=store.places[1].id)
    bundles = make_bundles(writer, ground, 2)
    put(
        writer,
        ground.host,
        *({"bundle_id": b, "into_box_id": box.id, "done_at": TODAY - timedelta(days=3)} for b in bundles),
    )
    return {
        "store": store.id,
        "place": store.places[1].id,
        "box": box.id,
        "bundle": bundles[0],
        "other": bundles[1],
    }


READS = [
    ("/api/stores", 3),
    ("/api/stores/{store}", 2),
    ("/api/stores/{store}/contents", 4),
    ("/api/stores/{store}/contents?at=2026-02-13T10:00:00Z", 4),
    ("/api/stores/{store}/page", 4),
    ("/api/places/{place}/contents", 3),
    ("/api/boxes", 2),
    ("/api/boxes/{box}", 1),
    ("/api/boxes/{box}/contents", 3),
    ("/api/bundles/{bundle}/whereabouts", 2),
    ("/api/bundles/{bundle}/whereabouts?at=2026-02-12T10:00:00Z", 2),
    ("/api/bundles/{bundle}/stays", 4),
    ("/api/bundles/{bundle}/beside?at_least=box", 6),
    ("/api/bundles/{bundle}/checks", 3),
]


def test_everything_is_read_within_its_budget_by_volunteers_alone(
    desk: Desk, filled: dict[str, Any], statements: Statements
):
    for path, budget in READS:
        with statements.at_most(budget):
            answer = desk.get("host", path.format(**filled))
        assert answer.status_code == 200, (path, answer.text)
        assert [desk.get(who, path.format(**filled)).status_code for who in ("stranger", "member")] == [
            401,
            403,
        ]


def test_what_is_not_there_is_404(desk: Desk, ground: Ground):
    missing = {name: uuid4() for name in ("store", "place", "box", "bundle")}
    for path, _ in READS:
        if "{" in path:
            answer = desk.get("host", path.format(**missing))
            assert (answer.status_code, bool(answer.json()["todo"])) == (404, True), path


def test_what_lay_beside_is_told_with_its_times(desk: Desk, filled: dict[str, Any]):
    (told,) = desk.get("host", f"/api/bundles/{filled['bundle']}/beside").json()

    assert (told["bundle_id"], told["closeness"], told["until_at"]) == (str(filled["other"]), "box", None)
    assert told["from_at"].startswith("2026-02-11T10:00:00")


def test_a_store_is_set_up_changed_and_filled_over_http(desk: Desk, ground: Ground, writer: Writer):
    made = desk.post(
        "host",
        "/api/stores",
        {"name": "Cellar", "kind": "cellar", "host_id": str(desk.party("host")), "places": ["left"]},
    )
    store = made.json()
    place = desk.post("host", "/api/places", {"store_id": store["id"], "name": "right"})
    changed = desk.patch(
        "host", f"/api/stores/{store['id']}", {"note": "behind the house"}, made.headers["ETag"]
    )
    box = desk.post("host", "/api/boxes", {"name": "Crate", "place_id": place.json()["id"]})
    (bundle,) = make_bundles(writer, ground)
    moved = desk.post("host", "/api/put-away", [{"bundle_id": str(bundle), "into_code": box.json()["code"]}])
    renamed = desk.patch(
        "host", f"/api/boxes/{box.json()['id']}", {"name": "Apple crate"}, box.headers["ETag"]
    )

    assert [answer.status_code for answer in (made, place, changed, box, moved, renamed)] == [
        201,
        201,
        200,
        201,
        201,
        200,
    ]
    assert (changed.headers["ETag"], changed.json()["note"]) == ('"v2"', "behind the house")
    assert (box.json()["store_name"], box.json()["place_name"]) == ("Cellar", "right")
    assert renamed.json()["name"] == "Apple crate"


def test_an_edit_says_which_version_it_read(desk: Desk, filled: dict[str, Any]):
    path = f"/api/boxes/{filled['box']}"

    assert desk.patch("host", path, {"note": "x"}, None).status_code == 428
    assert desk.patch("host", path, {"note": "x"}, '"v9"').status_code == 412
    assert desk.patch("host", path, {"name": None}, '"v1"').status_code == 422


def test_the_same_request_twice_moves_once(desk: Desk, filled: dict[str, Any]):
    body = [{"box_id": str(filled["box"]), "store_id": str(filled["store"])}]

    first = desk.post("host", "/api/put-away", body, key="move-the-crate")
    again = desk.post("host", "/api/put-away", body, key="move-the-crate")
    other = desk.post(
        "host", "/api/put-away", [{"box_id": str(filled["box"]), "out": True}], key="move-the-crate"
    )

    assert (first.status_code, again.status_code, other.status_code) == (201, 201, 422)
    assert first.json() == again.json()


@pytest.mark.parametrize(
    "entry",
    [
        {},
        {"out": True},
        {"bundle_id": "B", "box_id": "B", "out": True},
        {"bundle_id": "B"},
        {"bundle_id": "B", "store_id": "B", "out": True},
        {"bundle_id": "B", "place_id": "B", "into_box_id": "B"},
        {"bundle_id": "no id", "out": True},
        {"bundle_id": "B", "out": True, "oout": True},
        {"bundle_id": "B", "out": True, "done_at": "2026-02-14T10:00:00"},  # which zone?
        {"bundle_id": "B", "out": True, "note": "n" * 1001},
    ],
)
def test_an_entry_that_does_not_say_what_or_where_is_422(
    desk: Desk, filled: dict[str, Any], entry: dict[str, Any]
):
    body = [{name: str(filled["bundle"]) if value == "B" else value for name, value in entry.items()}]

    assert desk.post("host", "/api/put-away", body).status_code == 422
    assert desk.post("host", "/api/put-away", []).status_code == 422


def test_a_mistyped_code_is_told_from_an_unknown_one(
    desk: Desk, filled: dict[str, Any], writer: Writer, ground: Ground
):
    code = make_box(writer, ground, "Tagged crate", with_tag=True).code
    wrong_sign = code[:-1] + ("0" if code[-1] != "0" else "1")

    answers = [
        desk.post("host", "/api/put-away", [{"code": c, "out": True}])
        for c in (code, wrong_sign, "00000001"[:8])
    ]

    assert [a.status_code for a in answers][:2] == [201, 422]
    assert answers[1].json()["type"].endswith("mistyped-code")


@pytest.mark.parametrize("name", ['‘Ősi’ "quoted" \'n', "🍏 box", "קופסה", "x" * 100])
def test_names_of_every_kind_come_back_as_they_were(desk: Desk, ground: Ground, name: str):
    made = desk.post("host", "/api/boxes", {"name": name})

    assert (made.status_code, made.json()["name"]) == (201, name)
    assert desk.post("host", "/api/boxes", {"name": "x" * 101}).status_code == 422


def test_looks_are_written_down_and_listed(desk: Desk, filled: dict[str, Any]):
    made = desk.post(
        "collector",
        "/api/bundle-checks",
        [{"bundle_id": str(filled["bundle"]), "mould": True, "buds": "tight"}],
    )
    listed = desk.get("collector", f"/api/bundles/{filled['bundle']}/checks")

    assert made.status_code == 201 and made.json()[0]["look_at"][0]["bundle_id"] == str(filled["other"])
    assert [f["call"] for f in listed.json()["items"][0]["findings"]] == ["warning"]
    assert (
        desk.post(
            "member", "/api/bundle-checks", [{"bundle_id": str(filled["bundle"]), "mould": True}]
        ).status_code
        == 403
    )
    assert (
        desk.post(
            "collector", "/api/bundle-checks", [{"bundle_id": str(filled["bundle"]), "buds": "blue"}]
        ).status_code
        == 422
    )
