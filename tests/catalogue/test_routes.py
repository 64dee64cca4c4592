"""The catalogue over HTTP: who may, versions, keys, problem answers, and what each route costs."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field
from typing import Any
from uuid import uuid4

import httpx
import pytest
from fastapi import FastAPI, Request
from starlette.responses import Response

from service.catalogue.routes import router
from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.errors import Problem
from service.lib.request import problem_response
from service.lib.write import Writer
from service.members.rules import Role, may_of
from service.members.signin import Asker
from service.members.signin.asker import _who
from tests.builders.catalogue import cultivar_id, load_catalogue, make_namer, rootstock_id, taxon_id
from tests.infra.statements import Statements

GALA = "malus-domestica--gala"
APPLE = str(taxon_id("malus-domestica"))


class Web:
    """Asks the app one thing at a time, without a network."""

    def __init__(self, app: FastAPI) -> None:
        self.app = app

    def get(self, path: str, **given: Any) -> httpx.Response:
        return self._ask("GET", path, **given)

    def post(self, path: str, **given: Any) -> httpx.Response:
        return self._ask("POST", path, **given)

    def patch(self, path: str, **given: Any) -> httpx.Response:
        return self._ask("PATCH", path, **given)

    def _ask(self, method: str, path: str, **given: Any) -> httpx.Response:
        async def ask() -> httpx.Response:
            transport = httpx.ASGITransport(app=self.app)
            async with httpx.AsyncClient(transport=transport, base_url="http://club.test") as client:
                return await client.request(method, path, **given)

        return asyncio.run(ask())


@dataclass
class Desk:
    """The catalogue's routes, with somebody of a chosen role before them."""

    web: Web
    askers: dict[str, Asker | None]
    now: list[str] = field(default_factory=lambda: ["stranger"])

    def as_(self, role: str) -> Web:
        self.now[0] = role
        return self.web


@pytest.fixture
def desk(database: Database, writer: Writer, clock: FixedClock) -> Desk:
    load_catalogue(writer)
    app = FastAPI()
    app.include_router(router)
    app.state.database, app.state.writer, app.state.clock = database, writer, clock
    app.add_exception_handler(Problem, _answer)
    askers: dict[str, Asker | None] = {"stranger": None}
    for role in (Role.MEMBER, Role.COLLECTOR, Role.STEWARD, Role.HEALTH_STEWARD, Role.ADMINISTRATOR):
        rights = may_of(frozenset({role}))
        party = make_namer(writer, *rights, name=role).party_id
        askers[role] = Asker(uuid4(), party, role, frozenset({role}), rights, party)
    made = Desk(Web(app), askers)
    app.dependency_overrides[_who] = lambda: made.askers[made.now[0]]
    return made


def _answer(_request: Request, problem: Exception) -> Response:
    assert isinstance(problem, Problem)
    return problem_response(problem)


def key() -> dict[str, str]:
    return {"Idempotency-Key": str(uuid4())}


READS = [
    ("/api/taxa?genus=Prunus", 2),
    (f"/api/taxa/{APPLE}", 1),
    (f"/api/cultivars?taxon_id={APPLE}&limit=5", 2),
    ("/api/cultivars/search?q=boskop", 1),
    (f"/api/cultivars/{cultivar_id(GALA)}", 2),
    ("/api/rootstocks", 2),
    (f"/api/rootstocks/{rootstock_id('m-9')}", 1),
    ("/api/growth-stages?scale=stone", 1),
    ("/api/grafting-methods", 1),
    ("/api/plant-health-agents?genus=Malus", 1),
    (f"/api/join-advice?taxon_id={APPLE}&cultivar_id={cultivar_id(GALA)}&rootstock_id={rootstock_id('m-9')}", 4),
    (f"/api/join-advice/stocks?taxon_id={APPLE}", 3),
]  # fmt: skip


def test_every_list_and_every_thing_is_read_within_its_budget(desk: Desk, statements: Statements) -> None:
    for path, budget in READS:
        with statements.at_most(budget):
            answer = desk.as_("member").get(path)
        assert answer.status_code == 200, (path, answer.text)
        assert answer.json()


def test_a_stranger_reads_nothing(desk: Desk) -> None:
    assert {desk.as_("stranger").get(path).status_code for path, _ in READS} == {401}


def test_a_page_goes_on_by_its_cursor(desk: Desk) -> None:
    first = desk.as_("member").get("/api/rootstocks?limit=60").json()
    second = desk.as_("member").get("/api/rootstocks", params={"limit": 60, "cursor": first["next"]}).json()

    names = [one["name"] for one in first["items"] + second["items"]]
    assert len(names) == len(set(names)) == first["count"] and second["next"] is None
    assert desk.as_("member").get("/api/rootstocks?cursor=nonsense").status_code == 422


@pytest.mark.parametrize("path", ["/api/taxa/", "/api/cultivars/", "/api/rootstocks/"])
def test_what_is_not_there_is_404_and_what_is_no_id_is_422(desk: Desk, path: str) -> None:
    missing = desk.as_("member").get(path + str(uuid4()))

    assert (missing.status_code, missing.headers["content-type"]) == (404, "application/problem+json")
    assert missing.json()["todo"]
    assert desk.as_("member").get(path + "gala").status_code == 422


def naming(**given: Any) -> dict[str, Any]:
    return {"taxon_id": APPLE, "epithet": "Rask's Seedling", **given}


def test_a_variety_is_named_changed_and_found_again(desk: Desk) -> None:
    made = desk.as_("steward").post("/api/cultivars", json=naming(), headers=key())
    path = f"/api/cultivars/{made.json()['id']}"
    read = desk.as_("member").get(path)
    changed = desk.as_("steward").patch(
        path, json={"epithet": "Wilma Rask"}, headers={"If-Match": read.headers["ETag"]}
    )

    assert (made.status_code, read.headers["ETag"], changed.status_code, changed.headers["ETag"]) == (
        201,
        '"v1"',
        200,
        '"v2"',
    )
    assert changed.json()["name"]["plain"] == "Malus domestica ‘Wilma Rask’"
    stale = desk.as_("steward").patch(path, json={"epithet": "W"}, headers={"If-Match": '"v1"'})
    assert (stale.status_code, desk.web.patch(path, json={"epithet": "W"}).status_code) == (412, 428)
    found = desk.as_("member").get("/api/cultivars/search", params={"q": "rask's seedling"}).json()[0]
    assert (found["epithet"], found["matched"]) == ("Wilma Rask", "Rask's Seedling")


def test_the_same_request_twice_names_one_variety(desk: Desk) -> None:
    same = key()
    first = desk.as_("steward").post("/api/cultivars", json=naming(), headers=same)
    again = desk.as_("steward").post("/api/cultivars", json=naming(), headers=same)
    other = desk.as_("steward").post("/api/cultivars", json=naming(epithet="Other"), headers=same)
    known = desk.as_("steward").post("/api/cultivars", json=naming(), headers=key())

    assert (first.json(), again.status_code) == (again.json(), 201)
    assert (other.status_code, known.status_code, known.json()["facts"]["cultivar_id"]) == (
        422,
        409,
        first.json()["id"],
    )
    assert desk.as_("steward").post("/api/cultivars", json=naming(epithet="Third")).status_code == 400


def test_who_may_change_what(desk: Desk) -> None:
    etag = {"If-Match": '"v1"'}
    wood = f"/api/cultivars/{cultivar_id(GALA)}"

    def tries(role: str) -> tuple[int, ...]:
        web = desk.as_(role)
        told = naming(epithet=f"Of the {role.replace('_', ' ').title()}")
        return (
            web.post("/api/cultivars", json=told, headers=key()).status_code,
            web.post("/api/cultivars", json={**told, "epithet": told["epithet"] + " Too", "provisional": True}, headers=key()).status_code,
            web.post(f"{wood}/names", json={"name": f"Gala of {role}"}, headers=key()).status_code,
            web.patch(wood, json={"group_name": "X"}, headers={"If-Match": '"v99"'}).status_code,
            web.patch(f"{wood}/protection", json={"protection": "free"}, headers={"If-Match": '"v99"'}).status_code,
        )  # fmt: skip

    assert tries("stranger") == (401,) * 5
    assert tries("member") == (403,) * 5
    assert tries("health_steward") == (403,) * 5
    assert tries("collector") == (403, 201, 201, 403, 403)
    assert tries("steward") == (201, 201, 201, 412, 412)
    assert tries("administrator") == (201, 201, 201, 412, 412)
    assert (
        desk.as_("steward").patch(wood, json={"group_name": "X"}, headers=etag).status_code == 412
    )  # spellings moved it on


def test_a_look_into_the_register_is_noted(desk: Desk) -> None:
    path = f"/api/cultivars/{cultivar_id('malus-domestica--scilate')}"
    body = {
        "protection": "protected",
        "protected_until": "2031-05-01",
        "register_name": "A register",
        "checked_on": "2026-02-01",
    }

    noted = desk.as_("steward").patch(f"{path}/protection", json=body, headers={"If-Match": '"v1"'})

    rights = noted.json()["rights"]
    assert (noted.status_code, rights["protected_until"], rights["checked_on"]) == (
        200,
        "2031-05-01",
        "2026-02-01",
    )
    assert rights["checked_by_id"] == str(desk.askers["steward"].party_id)  # type: ignore[union-attr]


WRONG: list[dict[str, Any]] = [
    {"epithet": ""},
    {"epithet": "x" * 301},
    {"epithet": "two\nlines"},
    {"epithet": "\u0000"},
    {"epithet": None},
    {"taxon_id": "apple"},
    {"taxon_id": str(uuid4())},
    {"colour": "red"},
    {"names": [{"name": ""}]},
    {"names": [{"name": "x", "kind": "rumour"}]},
    {"names": [{"name": "x"}] * 51},
    {"sport_of_id": str(uuid4())},
]


def test_a_wrong_body_is_422_and_nothing_is_written(desk: Desk) -> None:
    def standing() -> int:
        return desk.as_("member").get("/api/cultivars?limit=1").json()["count"]

    before = standing()
    answers = [
        desk.as_("steward").post("/api/cultivars", json=naming(**wrong), headers=key()) for wrong in WRONG
    ]

    assert [answer.status_code for answer in answers] == [422] * len(WRONG)
    assert standing() == before


@pytest.mark.parametrize("typed", ["🍎", "שלום", "Ж" * 300, "<script>&\"'"])
@pytest.mark.databases("sqlite")
def test_a_name_of_any_script_comes_back_as_it_was_and_safe_for_a_page(desk: Desk, typed: str) -> None:
    made = desk.as_("steward").post("/api/cultivars", json=naming(epithet=typed), headers=key()).json()

    assert made["epithet"] == typed and "<script" not in made["name"]["html"]
