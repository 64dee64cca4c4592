"""Every route as every role, a guest and a stranger: whom it lets in, as `matrix.csv` says.

`yes` lets in, `own` only to one's own thing, `no` refuses. Whatever is tried, the record is put back after it.
"""

from __future__ import annotations

import csv
import json
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from anyio.from_thread import BlockingPortal
from fastapi.routing import APIRoute, iter_route_contexts

from tests.season import plausible
from tests.season.filled_club import FilledClub, filled_club

TABLE = Path(__file__).parent / "matrix.csv"
PEOPLE = ("member", "collector", "host", "steward", "health_steward", "administrator", "guest", "stranger")
# Who has no rights can make no token, so there is none of theirs to revoke.
HAS_NONE = {("guest", "/api/tokens/{token_id}"), ("guest", "/account/tokens/{token_id}/revoke")}
FRAMEWORK = {("GET", "/api/openapi.json"), ("GET", "/static/{path}")}


def rows() -> list[dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


ROWS = rows()


@pytest.fixture(scope="module")
def club(makers, tmp_path_factory, portal: BlockingPortal) -> Iterator[FilledClub]:
    with filled_club(makers("sqlite").migrated(), tmp_path_factory.mktemp("matrix"), portal) as filled:
        yield filled


def ask(club: FilledClub, who: str, method: str, route: str, *, own: bool) -> httpx.Response:
    """What somebody hears who sends what a person would send to this route."""
    things = plausible.things_of(club, who, route, own=own)
    browser, address = club.client(who), route.format_map(things)
    if route.startswith("/api/"):
        body = plausible.filled_in(plausible.API.get((method, route)), things)
        if route in plausible.RAW and method == "POST":
            content, kind = plausible.RAW[route]
            return browser.post(
                address,
                content=content,
                headers={"Content-Type": kind},
                params=plausible.QUESTIONS.get(route),
            )
        etag = club.client("administrator").get(plausible.EDITED_PARTS.sub("", address)).headers.get("ETag")
        headers = {"If-Match": etag} if etag and method in {"PATCH", "PUT"} else {}
        return browser.request(
            method, address, json=body, headers=headers, params=plausible.QUESTIONS.get(route)
        )
    page = {"Accept": "text/html"}
    if method == "GET":
        return browser.get(address, headers=page)
    office = club.client("administrator")
    version = plausible.version_for(office, plausible.VERSIONS.get(route, "").format_map(things))
    form = plausible.filled_in(plausible.PAGES[route], {**things, "version": str(version)})
    files = plausible.FILES.get(route)
    return browser.submit(
        address, plausible.new_form(form), headers=page, **({"files": files} if files else {})
    )


def test_the_table_knows_every_route_and_no_other(club: FilledClub) -> None:
    served = {
        (method, route.path_format)
        for route in iter_route_contexts(club.app.routes)
        if isinstance(route.original_route, APIRoute)
        for method in route.methods or ()
    }

    written = Counter((row["method"], row["route"]) for row in ROWS)
    assert sorted(served - set(written)) == [], "routes without a row"
    assert sorted(set(written) - served - FRAMEWORK) == [], "rows without a route"
    assert [row for row, times in written.items() if times > 1] == [], "rows written twice"
    assert {row[who] for row in ROWS for who in PEOPLE} == {"yes", "own", "no"}


@pytest.mark.parametrize("row", ROWS, ids=[f"{row['method']} {row['route']}" for row in ROWS])
def test_each_route_lets_in_whom_the_table_names(club: FilledClub, row: dict[str, str]) -> None:
    method, route, wrong = row["method"], row["route"], list[str]()
    for who in PEOPLE:
        cell = row[who]
        for own in (True, False) if cell == "own" else (False,):
            let_in = cell == "yes" or own
            answer = ask(club, who, method, route, own=own)
            nothing_there = (who, route) in HAS_NONE and answer.status_code == 404
            fault = (
                ("" if nothing_there else fault_of_let_in(answer))
                if let_in
                else fault_of_refused(answer, who, route)
            )
            if fault:
                wrong.append(f"{who}{' (own)' if own else ''}: {fault}")
            if method != "GET" and answer.status_code < 400:
                club.put_back()

    assert wrong == []


def fault_of_let_in(answer: httpx.Response) -> str:
    return "" if answer.status_code < 400 else f"not let in: {answer.status_code} {told(answer)}"


def fault_of_refused(answer: httpx.Response, who: str, route: str) -> str:
    wanted = 401 if who == "stranger" else 403
    if answer.status_code != wanted:
        return f"{answer.status_code} instead of {wanted}: {told(answer)}"
    if who == "stranger" and not route.startswith("/api/") and "/sign-in?then=" not in answer.text:
        return "the page does not lead to signing in"
    return ""


def told(answer: httpx.Response) -> str:
    kind = answer.headers.get("content-type", "")
    return json.dumps(answer.json())[:400] if "json" in kind else answer.text[:3000]
