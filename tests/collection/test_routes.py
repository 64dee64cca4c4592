"""Cuts, receipts and rounds over HTTP: who may, what comes back, and what each route costs."""

from __future__ import annotations

from collections.abc import Callable
from uuid import uuid4

import pytest

from service.lib.write import Writer
from tests.builders.collection import cut
from tests.builders.trees import Orchard, make_tree, stop
from tests.infra.cast import Cast
from tests.infra.statements import Statements
from tests.infra.web import Client

Browsers = Callable[[str], Client]
EVERYBODY = ("stranger", "member", "collector", "host", "steward", "health_steward", "administrator")
COLLECTORS = {"collector", "steward", "administrator"}
STOPPERS = {"collector", "host", "steward", "health_steward", "administrator"}


@pytest.mark.parametrize("who", EVERYBODY)
def test_who_may_read_cut_and_finish(
    client: Browsers, writer: Writer, cast: Cast, orchard: Orchard, who: str
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    made = cut(writer, cast.collector, tree.id)
    somebody = client(who)
    refused = 401 if who == "stranger" else 403

    reads = {
        somebody.get(path).status_code
        for path in (
            "/api/collections",
            f"/api/collections/{made.id}",
            "/api/receipts",
            "/api/rounds",
            f"/api/rounds/{made.round_id}",
        )
    }
    writes = [
        somebody.post("/api/collections", json=[{"tree_id": str(tree.id), "sticks": 2}]).status_code,
        somebody.post("/api/receipts", json=[{"taxon_id": str(orchard.fig_id), "sticks": 2}]).status_code,
        somebody.post("/api/rounds", json={"site_id": str(orchard.site_id)}).status_code,
    ]
    edits = [
        somebody.patch(
            f"/api/collections/{made.id}", json={"stage": "00"}, headers={"If-Match": '"v1"'}
        ).status_code,
        somebody.patch(
            f"/api/rounds/{made.round_id}", json={"tools": "saw"}, headers={"If-Match": '"v1"'}
        ).status_code,
    ]

    assert reads == {401 if who == "stranger" else 200}
    assert writes == [201 if who in COLLECTORS else refused] * 3
    assert edits == [200 if who in COLLECTORS else refused] * 2
    assert somebody.get("/api/to-finish/collections").status_code == (200 if who in COLLECTORS else refused)
    assert somebody.get(f"/api/trees/{tree.id}/stop-candidates").status_code == (
        200 if who in STOPPERS else refused
    )


def test_a_cut_is_posted_listed_and_finished(
    client: Browsers, writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    collector = client("collector")

    (made,) = collector.post("/api/collections", json=[{"tree_id": str(tree.id), "sticks": 6}]).json()
    (waits,) = collector.get("/api/to-finish/collections").json()["items"]
    one = collector.get(f"/api/collections/{made['id']}")
    told = {"stage": "01", "leaves_down": True, "disinfected": True}
    finished = collector.patch(
        f"/api/collections/{made['id']}", json=told, headers={"If-Match": one.headers["ETag"]}
    )
    stale = collector.patch(
        f"/api/collections/{made['id']}", json=told, headers={"If-Match": one.headers["ETag"]}
    )

    assert (waits["id"], waits["missing"]) == (made["id"], ["stage", "leaves_down", "disinfected"])
    assert (finished.status_code, stale.status_code) == (200, 412) and finished.headers["ETag"] == '"v2"'
    assert (finished.json()["unfinished"], finished.json()["wood_use"]) == (False, "use_first")
    assert collector.get("/api/to-finish/collections").json()["items"] == []


def test_the_same_cut_sent_twice_is_recorded_once(
    client: Browsers, writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    body = [{"id": str(uuid4()), "tree_id": str(tree.id), "sticks": 6}]
    headers = {"Idempotency-Key": str(uuid4())}
    collector = client("collector")

    first, again = (collector.post("/api/collections", json=body, headers=headers) for _ in range(2))
    other = collector.post("/api/collections", json=[{**body[0], "sticks": 7}], headers=headers)
    known = collector.post("/api/collections", json=body)

    assert first.status_code == 201 and first.json() == again.json()
    assert (other.status_code, known.status_code) == (422, 409)
    assert collector.get("/api/collections").json()["count"] == 1


def test_a_stopped_tree_refuses_the_cut_with_what_lifts_it(
    client: Browsers, writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    stop(writer, cast.host, tree.id, agent="fire-blight")

    answer = client("collector").post("/api/collections", json=[{"tree_id": str(tree.id), "sticks": 6}])

    assert (answer.status_code, answer.json()["type"]) == (409, "/problems/stopped-tree")
    assert answer.json()["facts"]["reason"] == "health" and "authority" in answer.json()["todo"]


@pytest.mark.parametrize(
    "told, status, field",
    [
        ({"stage": "02"}, 422, "stage"), ({"stage": "7"}, 422, "stage"), ({"done_at": "2026-02-14T10:11:00Z"}, 422, "done_at"),
        ({"done_at": "2026-02-14T10:00:00"}, 422, ""), ({"sticks": 0}, 422, ""), ({"sticks": -3}, 422, ""), ({"sticks": 10_001}, 422, ""),
        ({"wood": "green"}, 422, ""), ({"colour": "red"}, 422, ""), ({"note": "x" * 2001}, 422, ""),
        ({"round_id": "00000000-0000-4000-8000-000000000000"}, 422, "round_id"),
        ({"tree_id": "00000000-0000-4000-8000-000000000000"}, 404, ""), ({"done_at": "9999-12-31T23:59:59Z"}, 422, ""),
    ],
    ids=lambda told: str(told)[:50],
)  # fmt: skip
def test_bad_input_has_a_clear_problem_and_writes_nothing(
    client: Browsers, writer: Writer, cast: Cast, orchard: Orchard, told: dict, status: int, field: str
) -> None:
    tree = make_tree(writer, cast.steward, orchard)

    answer = client("collector").post(
        "/api/collections", json=[{"tree_id": str(tree.id), "sticks": 6, **told}]
    )

    assert (answer.status_code, answer.json()["field"]) == (status, field) and answer.json()["detail"]
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert client("member").get("/api/collections").json()["count"] == 0


@pytest.mark.parametrize("note", ["‘quotes’ \"and\" 'more'", "🌱🍐", "תאנה שחורה", "ŵ" * 300])
def test_words_come_back_as_they_were_told(
    client: Browsers, writer: Writer, cast: Cast, orchard: Orchard, note: str
) -> None:
    tree = make_tree(writer, cast.steward, orchard)

    (made,) = (
        client("collector")
        .post("/api/collections", json=[{"tree_id": str(tree.id), "sticks": 6, "note": note}])
        .json()
    )

    assert client("member").get(f"/api/collections/{made['id']}").json()["note"] == note


@pytest.mark.parametrize(
    "path, budget",
    [
        ("/api/collections", 3), ("/api/collections/{cut}", 2), ("/api/receipts", 3), ("/api/rounds", 3), ("/api/rounds/{round}", 3),
        ("/api/to-finish/collections", 3), ("/api/trees/{tree}/stop-candidates?agent=ERWIAM", 5),
    ],
)  # fmt: skip
def test_reads_keep_to_their_budget(
    client: Browsers,
    writer: Writer,
    cast: Cast,
    orchard: Orchard,
    statements: Statements,
    path: str,
    budget: int,
) -> None:
    trees = [make_tree(writer, cast.steward, orchard) for _ in range(5)]
    made = [cut(writer, cast.collector, tree.id) for tree in trees]
    collector = client("collector")

    with statements.at_most(budget):
        answer = collector.get(path.format(cut=made[0].id, round=made[0].round_id, tree=trees[0].id))

    assert answer.status_code == 200


def test_lists_go_on_page_by_page_and_by_day(
    client: Browsers, writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    made = [cut(writer, cast.collector, tree.id).number for _ in range(5)]
    member = client("member")

    seen, cursor = [], None
    while True:
        page = member.get(
            "/api/collections", params={"limit": 2, **({"cursor": cursor} if cursor else {})}
        ).json()
        seen += [one["number"] for one in page["items"]]
        cursor = page["next"]
        if cursor is None:
            break

    assert seen == made[::-1]
    assert member.get("/api/collections", params={"cut_from": "2026-02-15"}).json()["count"] == 0
    assert (
        member.get("/api/collections", params={"cut_to": "2026-02-14", "tree_id": str(tree.id)}).json()[
            "count"
        ]
        == 5
    )
