"""Tags over HTTP: who may, what comes back, and what each route costs."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import httpx
import pypdfium2
import pytest
import zxingcpp
from anyio.from_thread import BlockingPortal
from fastapi import FastAPI, Request
from starlette.responses import Response

from service.lib.clock import FixedClock
from service.lib.codes import ALPHABET
from service.lib.database import Database
from service.lib.errors import Problem
from service.lib.request import problem_response
from service.lib.write import Writer
from service.members.rules import May
from service.members.signin.asker import _who
from service.tags.routes import router
from service.tags.rules.sheets import SHEETS
from tests.builders.tags import Yard, confirm_host, make_bundles, make_codes, make_yard, tag_bundles
from tests.infra.cast import ROLES, Cast
from tests.infra.statements import Statements
from tests.infra.web import Client


class Desk:
    """The routes of tags, asked as somebody of a chosen role."""

    def __init__(self, app: FastAPI, portal: BlockingPortal, cast: Cast) -> None:
        self.app, self.portal, self.cast = app, portal, cast

    def ask(self, who: str, method: str, path: str, **given: Any) -> httpx.Response:
        self.app.dependency_overrides[_who] = lambda: self.cast.asker(who)
        return Client(self.app, self.portal).request(method, path, **given)

    def get(self, path: str, who: str = "host", **given: Any) -> httpx.Response:
        return self.ask(who, "GET", path, **given)

    def post(self, path: str, body: Any = None, who: str = "host", **given: Any) -> httpx.Response:
        return self.ask(who, "POST", path, json=body, **given)


@pytest.fixture
def desk(database: Database, writer: Writer, clock: FixedClock, cast: Cast, portal: BlockingPortal) -> Desk:
    app = FastAPI()
    app.include_router(router)
    app.state.database, app.state.writer, app.state.clock = database, writer, clock
    app.add_exception_handler(Problem, _answer)
    return Desk(app, portal, cast)


def _answer(_request: Request, problem: Exception) -> Response:
    assert isinstance(problem, Problem)
    return problem_response(problem)


@pytest.fixture
def yard(writer: Writer, desk: Desk) -> Yard:
    return make_yard(writer)


def _one_tag(writer: Writer, yard: Yard) -> str:
    return tag_bundles(writer, yard, *make_bundles(writer, yard))[0].code


NEEDS = [
    ("GET", "/api/tags?thing_id=00000000-0000-4000-8000-000000000000", May.READ),
    ("GET", "/api/tags/00000000", May.READ),
    ("POST", "/api/tags", May.LABELS),
    ("POST", "/api/tags/00000000/replacement", May.LABELS),
    ("POST", "/api/labelled-cuts", May.COLLECT),
    ("POST", "/api/labelled-receipts", May.COLLECT),
    ("GET", "/api/waiting-labels", May.LABELS),
    ("GET", "/api/label-sheet-sizes", May.READ),
    ("POST", "/api/label-sheet-sizes", May.LABELS),
    ("POST", "/api/label-sheet-sizes/own-0/retirement", May.LABELS),
    ("GET", "/api/label-sheets", May.LABELS),
    ("POST", "/api/label-sheets", May.LABELS),
    ("GET", "/api/label-sheets/00000000-0000-4000-8000-000000000000", May.LABELS),
    ("GET", "/api/label-sheets/00000000-0000-4000-8000-000000000000/pdf", May.LABELS),
    ("GET", "/api/blank-batches", May.LABELS),
    ("GET", "/api/blank-batches/00000000-0000-4000-8000-000000000000", May.LABELS),
    ("GET", "/api/blank-batches/00000000-0000-4000-8000-000000000000/left", May.LABELS),
    ("POST", "/api/blank-batches", May.LABELS),
    ("POST", "/api/blanks-given-up", May.LABELS),
    ("POST", "/api/tags/00000000/binding", May.LABELS),
    ("GET", "/api/public-addresses", May.LABELS),
    ("POST", "/api/public-addresses", May.ADMINISTER),
    ("POST", "/api/public-addresses/00000000-0000-4000-8000-000000000000/confirmation", May.ADMINISTER),
]


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize(("method", "path", "right"), NEEDS)
def test_each_route_answers_those_who_may_and_no_others(
    desk: Desk, cast: Cast, method: str, path: str, right: May
) -> None:
    bodies: dict[str, Any] = {
        "/api/tags": [{"kind": "bundle", "thing_id": str(uuid4())}],
        "/api/label-sheets": {"codes": ["00000000"]},
    }
    bodies["/api/blank-batches"] = {"blanks": 3}
    bodies["/api/blanks-given-up"] = {"codes": ["00000000"]}
    bodies["/api/tags/00000000/binding"] = {"kind": "tree", "thing_id": str(uuid4())}
    bodies["/api/public-addresses"] = {"host": "not printable"}
    bodies["/api/labelled-cuts"] = [
        {"cut": {"tree_id": str(uuid4()), "sticks": 3}, "bundles": [{"sticks": 2}]}
    ]
    bodies["/api/labelled-receipts"] = [
        {"receipt": {"name_as_told": "x", "sticks": 3}, "bundles": [{"sticks": 2}]}
    ]
    for who in (*ROLES, "stranger"):
        answer = desk.ask(who, method, path, json=bodies.get(path) if method == "POST" else None)
        asker = cast.asker(who)
        if asker is None:
            assert answer.status_code == 401
        elif right in asker.may:
            assert answer.status_code in (200, 404, 409, 422), answer.text
        else:
            assert answer.status_code == 403, answer.text


@pytest.mark.databases("sqlite")
def test_every_route_of_tags_is_in_the_table_of_rights_above() -> None:
    routes = {(method, route.path) for route in router.routes for method in route.methods}  # type: ignore[attr-defined]

    assert len(routes) == len(NEEDS)


def test_a_tag_is_answered_by_its_code_in_any_spelling(
    desk: Desk, writer: Writer, yard: Yard, statements: Statements
) -> None:
    code = _one_tag(writer, yard)
    with statements.at_most(1):
        answer = desk.get(f"/api/tags/{code[:4].lower()}%20{code[4:]}", who="member")

    assert answer.status_code == 200
    assert (answer.json()["code"], answer.json()["kind"], answer.json()["state"]) == (code, "bundle", "bound")


def test_mistyped_and_unknown_codes_are_told_apart(desk: Desk, writer: Writer, yard: Yard) -> None:
    code = _one_tag(writer, yard)
    wrong = next(s for s in ALPHABET if s != code[0]) + code[1:]
    mistyped, unknown = desk.get(f"/api/tags/{wrong}"), desk.get(f"/api/tags/{make_codes(1)[0]}")

    assert (mistyped.status_code, mistyped.json()["type"]) == (422, "/problems/mistyped-code")
    assert mistyped.json()["facts"]["suggestion"] == code
    assert (unknown.status_code, unknown.json()["type"]) == (404, "/problems/unknown-tag")


def test_tags_are_made_listed_and_replaced(desk: Desk, writer: Writer, yard: Yard) -> None:
    (bundle,) = make_bundles(writer, yard)
    made = desk.post("/api/tags", [{"kind": "bundle", "thing_id": str(bundle)}])
    assert made.status_code == 201
    code = made.json()[0]["code"]
    replaced = desk.post(f"/api/tags/{code}/replacement")
    assert replaced.status_code == 201
    listed = desk.get("/api/tags", params={"thing_id": str(bundle)})

    assert {tag["code"]: tag["state"] for tag in listed.json()} == {
        code: "lost",
        replaced.json()["tag"]["code"]: "bound",
    }
    assert desk.post(f"/api/tags/{code}/replacement").status_code == 409


def test_labels_are_printed_listed_and_had_again(desk: Desk, writer: Writer, yard: Yard) -> None:
    confirm_host(writer, yard)
    code = _one_tag(writer, yard)
    assert [w["code"] for w in desk.get("/api/waiting-labels").json()["items"]] == [code]
    answer = desk.post(
        "/api/label-sheets", {"codes": [code], "sheet": "letter-3x10", "first_label": 4, "nudge_x_mm": 0.5}
    )
    assert (answer.status_code, answer.headers["content-type"]) == (201, "application/pdf")
    record = desk.get(answer.headers["location"]).json()
    page = pypdfium2.PdfDocument(answer.content)[0].render(scale=203 / 72, grayscale=True).to_pil()

    assert [f.text for f in zxingcpp.read_barcodes(page, formats=zxingcpp.BarcodeFormat.QRCode)] == [
        f"HTTPS://TAGS.MARSH-END.EXAMPLE/T/{code}"
    ]
    assert (record["sheet"], record["labels"], record["first_label"]) == ("letter-3x10", 1, 4)
    assert desk.get(answer.headers["location"] + "/pdf").content == answer.content
    assert desk.get("/api/label-sheets").json()["items"] == [record]
    assert desk.get("/api/waiting-labels").json()["items"] == []


def test_the_same_printing_sent_twice_is_the_same_sheet(desk: Desk, writer: Writer, yard: Yard) -> None:
    confirm_host(writer, yard)
    body = {"codes": [_one_tag(writer, yard)]}
    key = {"Idempotency-Key": str(uuid4())}
    first, again = (desk.post("/api/label-sheets", body, headers=key) for _ in range(2))

    assert first.status_code == again.status_code == 201
    assert first.content == again.content
    assert desk.get("/api/label-sheets").json()["count"] == 1
    assert desk.post("/api/label-sheets", {**body, "copies": 2}, headers=key).status_code == 422


def test_a_printing_known_under_another_key_is_refused(desk: Desk, writer: Writer, yard: Yard) -> None:
    confirm_host(writer, yard)
    body = {"codes": [_one_tag(writer, yard)], "id": str(uuid4())}

    assert desk.post("/api/label-sheets", body).status_code == 201
    assert desk.post("/api/label-sheets", body).status_code == 409


def test_printing_over_http_keeps_to_its_budget(
    desk: Desk, writer: Writer, yard: Yard, statements: Statements
) -> None:
    confirm_host(writer, yard)
    codes = [tag.code for tag in tag_bundles(writer, yard, *make_bundles(writer, yard, 60))]
    with statements.at_most(11):  # 7 to print, 2 to draw, 2 for the key
        assert desk.post("/api/label-sheets", {"codes": codes}).status_code == 201


def test_before_the_address_is_confirmed_printing_is_refused_with_what_to_do(
    desk: Desk, writer: Writer, yard: Yard
) -> None:
    answer = desk.post("/api/label-sheets", {"codes": [_one_tag(writer, yard)]})

    assert (answer.status_code, answer.json()["type"]) == (409, "/problems/no-public-address")
    assert "administrator" in answer.json()["todo"]


def test_the_administrator_proposes_and_confirms_the_address(desk: Desk, yard: Yard) -> None:
    proposed = desk.post("/api/public-addresses", {"host": "tags.example.org"}, who="administrator")
    assert (proposed.status_code, proposed.json()["is_current"]) == (201, False)
    confirmed = desk.post(f"/api/public-addresses/{proposed.json()['id']}/confirmation", who="administrator")
    assert (confirmed.status_code, confirmed.json()["is_current"]) == (201, True)

    assert [(a["host"], a["is_current"]) for a in desk.get("/api/public-addresses").json()] == [
        ("TAGS.EXAMPLE.ORG", True)
    ]


def test_a_host_that_cannot_be_printed_says_why(desk: Desk, yard: Yard) -> None:
    answer = desk.post("/api/public-addresses", {"host": "https://example.org/club"}, who="administrator")

    assert (answer.status_code, answer.json()["field"]) == (422, "host")


def test_the_sheets_are_listed_with_their_measures(desk: Desk) -> None:
    sizes = desk.get("/api/label-sheet-sizes", who="member").json()

    assert [(s["name"], s["labels"], s["label_w_mm"], s["label_h_mm"]) for s in sizes[:2]] == [
        ("a4-3x7", 21, 63.5, 38.1), ("letter-3x10", 30, 66.675, 25.4),
    ]  # fmt: skip
    assert [s["name"] for s in sizes] == list(SHEETS)
    assert not any(s["is_own"] or s["is_retired"] for s in sizes)


def test_a_cut_is_labelled_and_printed_in_two_requests(desk: Desk, writer: Writer, yard: Yard) -> None:
    confirm_host(writer, yard)
    body = [{"cut": {"tree_id": str(yard.tree_id), "sticks": 12}, "bundles": [{"sticks": 5}, {"sticks": 7}]}]
    made = desk.post("/api/labelled-cuts", body, who="collector")
    assert made.status_code == 201, made.text
    codes = [bundle["code"] for bundle in made.json()[0]["bundles"]]
    sheet = desk.post("/api/label-sheets", {"codes": codes}, who="collector")
    page = pypdfium2.PdfDocument(sheet.content)[0].render(scale=203 / 72, grayscale=True).to_pil()

    assert sorted(
        f.text[-8:] for f in zxingcpp.read_barcodes(page, formats=zxingcpp.BarcodeFormat.QRCode)
    ) == sorted(codes)


def test_a_batch_of_blanks_is_made_printed_tied_on_and_counted(
    desk: Desk, writer: Writer, yard: Yard
) -> None:
    refused = desk.post("/api/blank-batches", {"blanks": 3})
    confirm_host(writer, yard)
    made = desk.post("/api/blank-batches", {"blanks": 3})
    batch = f"/api/blank-batches/{made.json()['id']}"
    pdf = desk.get(f"/api/label-sheets/{made.json()['id']}/pdf")
    first, second, third = desk.get(f"{batch}/left").json()
    (bundle,) = make_bundles(writer, yard)
    hung = {"kind": "bundle", "thing_id": str(bundle)}
    bound = desk.post(f"/api/tags/{first}/binding", hung)
    again = desk.post(f"/api/tags/{first}/binding", {**hung, "placement": "wood"})
    torn = desk.post("/api/blanks-given-up", {"codes": [second]})
    lost = desk.post(f"/api/tags/{second}/binding", {**hung, "placement": "wood"})

    assert (refused.status_code, refused.json()["type"]) == (409, "/problems/no-public-address")
    assert (made.status_code, made.json()["printed"]) == (201, 3)
    assert pdf.content.startswith(b"%PDF")
    assert (bound.status_code, bound.json()["state"], bound.json()["thing_id"]) == (201, "bound", str(bundle))
    assert (again.status_code, again.json()["type"]) == (409, "/problems/already-bound")
    assert (torn.status_code, torn.json()[0]["state"]) == (201, "spoiled")
    assert (lost.status_code, lost.json()["type"]) == (409, "/problems/no-longer-blank")
    left = {"printed": 3, "bound": 1, "spoiled": 1, "lost": 0, "left": 1}
    assert desk.get(batch).json().items() >= left.items()
    assert desk.get("/api/blank-batches").json()["items"][0].items() >= left.items()
    assert desk.get(f"{batch}/left").json() == [third]
    assert desk.get(f"/api/blank-batches/{uuid4()}").status_code == 404
