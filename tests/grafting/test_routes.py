"""The bench over HTTP: who may, keys and versions, problem answers, and what each route costs."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest

from service.grafting.routes import router
from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.write import Writer
from tests.builders.grafting import APPLE, GALA, M9, graft, look, make_bench, make_wood, of
from tests.builders.storage import TODAY, Ground
from tests.infra.statements import Statements
from tests.storage.desk import Desk


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_bench(writer)


@pytest.fixture
def desk(database: Database, writer: Writer, clock: FixedClock, ground: Ground) -> Desk:
    return Desk(database, writer, clock, router)


@pytest.fixture
def grafted(writer: Writer, ground: Ground, desk: Desk) -> dict[str, Any]:
    """One graft with a plant that took, of wood that the member holds."""
    wood = make_wood(writer, ground, APPLE, GALA, holder_id=desk.party("member"))
    entry = {
        "woods": of(wood),
        "rootstock_id": M9,
        "method": "cleft",
        "plants": 1,
        "done_at": TODAY - timedelta(weeks=9),
    }
    (made,) = graft(writer, ground.host, entry)
    look(writer, ground.host, {"graft_id": made.id, "alive": 1, "is_verdict": True})
    return {"graft": made.id, "plant": made.plants[0].id, "wood": wood}


READS = [
    ("/api/grafts", 5),
    ("/api/grafts?year=2025&method=cleft", 5),
    ("/api/grafts/due", 5),
    ("/api/grafts/counts?by=tree", 3),
    ("/api/grafts/{graft}", 8),
    ("/api/plants?state=took", 2),
    ("/api/plants/{plant}", 4),
]


def test_everything_is_read_within_its_budget(desk: Desk, grafted: dict[str, Any], statements: Statements):
    for path, budget in READS:
        with statements.at_most(budget):
            answer = desk.get("host", path.format(**grafted))
        assert answer.status_code == 200, (path, answer.text)
        assert desk.get("stranger", path.format(**grafted)).status_code == 401


def test_a_member_reads_their_own_grafts_and_no_others(
    desk: Desk, grafted: dict[str, Any], writer: Writer, ground: Ground
):
    body = {"woods": [{"bundle_id": str(grafted["wood"])}], "rootstock_id": str(M9), "plants": 1}
    own = desk.post("member", "/api/grafts", [body])

    assert own.status_code == 201
    assert [g["id"] for g in desk.get("member", "/api/grafts").json()["items"]] == [own.json()[0]["id"]]
    assert desk.get("member", f"/api/grafts/{grafted['graft']}").status_code == 403
    assert desk.get("member", f"/api/plants/{grafted['plant']}").status_code == 403
    assert desk.get("host", "/api/grafts").json()["count"] == 2


def test_what_is_not_there_is_404(desk: Desk, ground: Ground):
    for path in ("/api/grafts/", "/api/plants/"):
        assert desk.get("host", path + str(uuid4())).status_code == 404
        assert desk.get("host", path + "7").status_code == 422
    body = {"site_id": str(ground.site_id)}
    assert desk.post("collector", f"/api/plants/{uuid4()}/source-tree", body).status_code == 404


def test_the_same_request_twice_grafts_once(desk: Desk, grafted: dict[str, Any]):
    body = [{"woods": [{"bundle_id": str(grafted["wood"]), "sticks": 2}], "rootstock_id": str(M9)}]

    first = desk.post("host", "/api/grafts", body, key="the-first-graft")
    again = desk.post("host", "/api/grafts", body, key="the-first-graft")

    assert (first.status_code, again.status_code) == (201, 201) and first.json() == again.json()
    assert desk.get("host", "/api/grafts").json()["count"] == 2
    body[0]["grafts"] = 2
    assert desk.post("host", "/api/grafts", body, key="the-first-graft").status_code == 422


WOOD = {"bundle_id": str(uuid4())}


@pytest.mark.parametrize(
    "entry",
    [
        {"woods": [], "rootstock_id": str(M9)},
        {"woods": [WOOD]},
        {"woods": [WOOD], "rootstock_id": str(M9), "stock_as_told": "crab"},
        {"woods": [{"sticks": 1}], "rootstock_id": str(M9)},
        {"woods": [{**WOOD, "code": "7K3P9M2A"}], "rootstock_id": str(M9)},
        {"woods": [{**WOOD, "part": "root"}], "rootstock_id": str(M9)},
        {"woods": [{**WOOD, "sticks": -1}], "rootstock_id": str(M9)},
        {"woods": [WOOD], "rootstock_id": str(M9), "grafts": 0},
        {"woods": [WOOD], "rootstock_id": str(M9), "plants": -1},
        {"woods": [WOOD], "rootstock_id": str(M9), "for_club": True, "holder_id": str(uuid4())},
        {"woods": [WOOD], "rootstock_id": str(M9), "note": "bell \u0007"},
        {"woods": [WOOD], "stock_as_told": "w" * 301},
    ],
)
def test_a_graft_that_is_not_told_right_is_422(desk: Desk, ground: Ground, entry: dict[str, Any]):
    assert desk.post("host", "/api/grafts", [entry]).status_code == 422


def test_an_edit_says_which_version_it_read(desk: Desk, grafted: dict[str, Any]):
    for path in (f"/api/grafts/{grafted['graft']}", f"/api/plants/{grafted['plant']}"):
        etag = desk.get("host", path).headers["ETag"]
        assert desk.patch("host", path, {"note": "x"}, None).status_code == 428
        assert desk.patch("host", path, {"note": None}, etag).status_code == 422
        changed = desk.patch("host", path, {"note": "by the wall"}, etag)
        assert (changed.status_code, changed.json()["note"]) == (200, "by the wall")
        assert changed.headers["ETag"] != etag
        assert desk.patch("host", path, {"note": "y"}, etag).status_code == 412


def test_takes_are_written_down_and_a_plant_becomes_a_tree_by_who_may(
    desk: Desk, grafted: dict[str, Any], ground: Ground
):
    body = {"site_id": str(ground.site_id), "where_on_site": "row 3"}
    path = f"/api/plants/{grafted['plant']}/source-tree"

    seen = desk.post(
        "host", "/api/take-checks", [{"plant_id": str(grafted["plant"]), "alive": 1, "is_verdict": True}]
    )
    refused = [desk.post(who, path, body).status_code for who in ("stranger", "member", "host")]
    planted = desk.post("collector", path, body)
    again = desk.post("collector", path, body)

    assert seen.status_code == 201 and seen.json()[0]["plants"][0]["state"] == "took"
    assert refused == [401, 403, 403]
    assert planted.status_code == 201 and planted.json()["tree_number"] == 2
    assert (again.status_code, again.json()["type"]) == (409, "/problems/already-a-tree")
    assert desk.post("host", "/api/take-checks", [{"alive": 1}]).status_code == 422


def test_the_api_tells_of_knives_and_disinfecting_where_a_graft_is_entered(desk: Desk, ground: Ground):
    entry = desk.app.openapi()["paths"]["/api/grafts"]["post"]["description"]

    assert "Disinfect tools" in entry and "plant-health authority" in entry


def test_a_method_no_database_can_hold_is_422(desk: Desk, ground: Ground):
    assert desk.get("host", "/api/grafts", params={"method": "cl\u0000eft"}).status_code == 422
