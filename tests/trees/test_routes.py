"""Trees over HTTP: who may, what comes back, and what each route costs."""

from __future__ import annotations

from collections.abc import Callable
from uuid import uuid4

import pytest

from service.lib.write import Writer
from tests.builders.trees import Orchard, look, make_tree, stop
from tests.infra.cast import Cast
from tests.infra.statements import Statements
from tests.infra.web import Client

Browsers = Callable[[str], Client]
EVERYBODY = ("stranger", "member", "collector", "host", "steward", "health_steward", "administrator")
PLANTERS = {"collector", "steward", "health_steward", "administrator"}
LOOKERS = PLANTERS | {"host"}


@pytest.mark.parametrize("who", EVERYBODY)
def test_who_may_read_and_who_may_write(
    client: Browsers, writer: Writer, cast: Cast, orchard: Orchard, who: str
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    somebody = client(who)
    refused = 401 if who == "stranger" else 403

    reads = [
        somebody.get(path).status_code
        for path in ("/api/sites", f"/api/sites/{orchard.site_id}", "/api/trees", f"/api/trees/{tree.id}", f"/api/trees/{tree.id}/checks", "/api/stops")  # noqa: E501
    ]  # fmt: skip
    planted = somebody.post(
        "/api/trees", json=[{"site_id": str(orchard.site_id), "cultivar_id": str(orchard.gala_id)}]
    )
    site = somebody.post("/api/sites", json=[{"name": "Mill Field", "area_id": str(orchard.area_id)}])
    changed = somebody.patch(f"/api/trees/{tree.id}", json={"note": "x"}, headers={"If-Match": '"v1"'})
    looked = somebody.post(f"/api/trees/{tree.id}/checks", json=[{"kind": "leaf", "result": "healthy"}])

    assert set(reads) == {401 if who == "stranger" else 200}
    assert (planted.status_code, site.status_code) == ((201, 201) if who in PLANTERS else (refused, refused))
    assert changed.status_code == (200 if who in PLANTERS else refused)
    assert looked.status_code == (201 if who in LOOKERS else refused)


def test_an_ordinary_member_is_not_told_where_exactly_a_tree_stands(
    client: Browsers, writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    from tests.builders.trees import make_site

    site = make_site(
        writer,
        cast.steward,
        orchard.area_id,
        directions="Key under the stone",
        latitude=52.1,
        longitude=-2.3,
        note="Dog",
    )
    tree = make_tree(writer, cast.steward, orchard, site_id=site.id, where_on_site="third from the gate")

    for who, told in (("member", False), ("host", True)):
        seen = client(who).get(f"/api/sites/{site.id}").json()
        assert [bool(seen[name]) for name in ("directions", "latitude", "longitude", "note")] == [told] * 4
        assert client(who).get(f"/api/trees/{tree.id}").json()["where_on_site"] == (
            "third from the gate" if told else ""
        )
        (listed,) = [
            one for one in client(who).get("/api/trees").json()["items"] if one["id"] == str(tree.id)
        ]
        assert listed["where_on_site"] == ("third from the gate" if told else "")


def test_an_edit_needs_the_version_it_read(
    client: Browsers, writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    steward = client("steward")
    etag = steward.get(f"/api/trees/{tree.id}").headers["ETag"]

    without = steward.patch(f"/api/trees/{tree.id}", json={"note": "one"})
    first = steward.patch(f"/api/trees/{tree.id}", json={"note": "one"}, headers={"If-Match": etag})
    stale = steward.patch(f"/api/trees/{tree.id}", json={"note": "two"}, headers={"If-Match": etag})

    assert (without.status_code, first.status_code, stale.status_code) == (428, 200, 412)
    assert first.headers["ETag"] == '"v2"' and stale.json()["title"] == "It changed since you read it"
    assert steward.get(f"/api/trees/{tree.id}").json()["note"] == "one"


def test_the_same_request_twice_enters_one_tree(client: Browsers, orchard: Orchard) -> None:
    body = [{"site_id": str(orchard.site_id), "cultivar_id": str(orchard.gala_id)}]
    headers = {"Idempotency-Key": str(uuid4())}
    steward = client("steward")

    first, again = (steward.post("/api/trees", json=body, headers=headers) for _ in range(2))
    other = steward.post("/api/trees", json=[{**body[0], "note": "x"}], headers=headers)

    assert (first.status_code, again.status_code, other.status_code) == (201, 201, 422)
    assert first.json() == again.json() and other.json()["type"] == "/problems/key-reused"
    assert steward.get("/api/trees").json()["count"] == 1


def test_a_stopped_tree_is_told_as_a_problem_with_what_lifts_it(
    client: Browsers, writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    case = stop(writer, cast.host, tree.id, agent="fire-blight")

    answer = client("steward").patch(
        f"/api/trees/{tree.id}", json={"may_cut": "no"}, headers={"If-Match": '"v2"'}
    )

    problem = answer.json()
    assert answer.status_code == 409 and answer.headers["Content-Type"] == "application/problem+json"
    assert problem["type"] == "/problems/stopped-tree" and "health steward" in problem["todo"]
    assert problem["facts"]["stop_id"] == str(case.id) and problem["facts"]["state"] == "suspected"


def test_trees_are_found_by_number_by_variety_and_by_what_was_told(
    client: Browsers, writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    gala = make_tree(writer, cast.steward, orchard)
    told = make_tree(
        writer,
        cast.steward,
        orchard,
        taxon_id=orchard.pear_id,
        name_as_told="Baker's 100% Pear",
        may_cut="no",
    )
    stop(writer, cast.host, told.id)

    def found(**asked: str) -> list[str]:
        return [one["id"] for one in client("member").get("/api/trees", params=asked).json()["items"]]

    assert found(q="2") == found(q="tree 2") == found(q="baker's") == found(q="100%") == [str(told.id)]
    assert found(q="%") == [str(told.id)] and found(q="_") == []
    assert (
        found(stopped="false")
        == found(may_cut="yes")
        == found(cultivar_id=str(orchard.gala_id))
        == [str(gala.id)]
    )
    assert found(site_id=str(uuid4())) == [] and found() == [str(gala.id), str(told.id)]


@pytest.mark.parametrize(
    "path, budget",
    [
        ("/api/sites", 3), ("/api/trees", 3), ("/api/trees?q=gala", 4), ("/api/trees/{tree}", 4), ("/api/trees/{tree}/checks", 3),
        ("/api/stops", 3), ("/api/stops/{stop}", 4),
    ],
)  # fmt: skip
def test_reads_cost_three_statements_and_the_one_that_knows_who_asks(
    client: Browsers,
    writer: Writer,
    cast: Cast,
    orchard: Orchard,
    statements: Statements,
    path: str,
    budget: int,
) -> None:
    trees = [
        make_tree(writer, cast.steward, orchard, varieties=[{"cultivar_id": orchard.bramley_id}])
        for _ in range(5)
    ]
    for tree in trees:
        look(writer, cast.host, tree.id)
    case = stop(writer, cast.host, *(tree.id for tree in trees))
    member = client("member")

    with statements.at_most(budget):
        answer = member.get(path.format(tree=trees[0].id, stop=case.id))

    assert answer.status_code == 200


@pytest.mark.parametrize(
    "body",
    [
        b"\xff\xfe not utf-8", b"{", b"[]", b'[{"site_id": 1}]', b'[{"site_id": "%s", "planted": 1987}]' % str(uuid4()).encode(),
        b'[{"site_id": "%s", "name_as_told": "a\\u0000b"}]' % str(uuid4()).encode(),
        b'[{"site_id": "%s", "name_as_told": "%s"}]' % (str(uuid4()).encode(), b"x" * 301),
    ],
    ids=["not UTF-8", "not JSON", "nothing", "no UUID", "a misspelt field", "a control sign", "301 letters"],
)  # fmt: skip
def test_a_body_of_the_wrong_shape_is_told_and_writes_nothing(
    client: Browsers, orchard: Orchard, body: bytes
) -> None:
    answer = client("steward").post("/api/trees", content=body, headers={"Content-Type": "application/json"})

    assert answer.status_code in (400, 422) and answer.headers["Content-Type"] == "application/problem+json"
    assert client("steward").get("/api/trees").json()["count"] == 0


def test_what_is_not_there_is_told(client: Browsers, cast: Cast) -> None:
    for path in ("sites", "trees", "stops"):
        assert client("member").get(f"/api/{path}/{uuid4()}").status_code == 404
    assert client("member").get(f"/api/pictures/{'0' * 64}").status_code == 404
