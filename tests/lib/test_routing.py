"""Routes put together at their first request behave as the framework's own (its `APIRoute` is what they are compared with)."""

from __future__ import annotations

import subprocess
import sys
import threading
from collections.abc import Callable
from uuid import UUID

import httpx
import pytest
from fastapi import APIRouter, FastAPI
from fastapi.exceptions import FastAPIError
from fastapi.routing import APIRoute
from starlette.routing import BaseRoute

from service.lib.routing import LateRoute, PageRoute, take_routes
from tests.infra.web import Client

PATHS = (
    "/", "/T/{code}", "/api/bundles", "/api/bundles/{bundle_id}", "/api/bundles/{bundle_id}/moves", "/api/trace/{kind}/{thing_id}",
    "/files/{path:path}", "/{anything}",
)  # fmt: skip
ASKED = (
    "/", "", "//", "/T/", "/T/4F7K", "/T/4F/7K", "/api", "/api/bundles", "/api/bundles/", "/api/bundlesandmore", "/api/bundles/7",
    "/api/bundles/7/moves", "/api/bundles/7/moves/", "/api/trace/tree/9", "/files/", "/files/a/b", "/x", "/{anything}",
)  # fmt: skip


async def endpoint() -> dict[str, str]:
    return {}


def scope_of(path: str, method: str = "GET", root_path: str = "") -> dict[str, object]:
    return {"type": "http", "path": path, "method": method, "root_path": root_path, "headers": []}


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("root_path", ["", "/club"], ids=["at the top", "below an address"])
def test_an_address_is_matched_as_the_framework_does(path: str, root_path: str) -> None:
    ours, theirs = LateRoute(path, endpoint, methods=["GET"]), APIRoute(path, endpoint, methods=["GET"])

    for asked in ASKED:
        for method in ("GET", "HEAD", "POST"):
            match, found = ours.matches(scope_of(root_path + asked, method, root_path))
            expected, theirs_found = theirs.matches(scope_of(root_path + asked, method, root_path))
            assert match == expected, (path, asked, method)
            assert found.get("path_params") == theirs_found.get("path_params")


def test_a_route_is_put_together_once_when_it_is_first_asked_for(
    app: FastAPI, client: Callable[[str], Client]
) -> None:
    router = APIRouter(route_class=LateRoute)

    @router.get("/late/{thing_id}")
    async def get_late(thing_id: UUID) -> dict[str, UUID]:
        return {"id": thing_id}

    take_routes(app.router.routes, router)
    (route,) = router.routes
    client("stranger").get("/api/no-such-address")
    assert "dependant" not in vars(route)

    answer = client("stranger").get("/late/00000000-0000-0000-0000-000000000007")

    assert answer.json() == {"id": "00000000-0000-0000-0000-000000000007"}
    built = vars(route)["dependant"]
    assert client("stranger").get("/late/x").status_code == 422
    assert vars(route)["dependant"] is built


def test_a_start_puts_no_route_together() -> None:
    """Routes are shared by all apps of a process, and other tests ask them: a fresh process tells."""
    program = (
        "from tempfile import mkdtemp; from pathlib import Path; from service.app import create_app;"
        "from service.lib.settings import Settings; app = create_app(Settings(data_dir=Path(mkdtemp())));"
        "late = [r for r in app.routes if hasattr(type(r), 'get_route_handler')];"
        "print(len(late), sum('dependant' in vars(r) for r in late))"
    )
    said = subprocess.run([sys.executable, "-c", program], check=True, capture_output=True, text=True).stdout

    routes, whole = map(int, said.split())
    assert routes > 200
    assert whole == 0


def test_what_a_route_says_of_itself_is_what_the_framework_says() -> None:
    told = {
        "methods": ["POST"],
        "status_code": 201,
        "responses": {409: {"description": "no"}},
        "tags": ["cuts"],
    }
    ours, theirs = LateRoute("/cuts", endpoint, **told), APIRoute("/cuts", endpoint, **told)

    late = {
        name: getattr(ours, name) for name in ("name", "path", "methods", "endpoint", "include_in_schema")
    }
    whole = {
        name: getattr(ours, name) for name in ("unique_id", "status_code", "responses", "tags", "path_format")
    }

    for name, value in {**late, **whole}.items():
        assert value == getattr(theirs, name), name
    with pytest.raises(AttributeError, match="no_such_thing"):
        ours.no_such_thing  # noqa: B018


def test_a_page_is_left_out_of_the_description() -> None:
    assert PageRoute("/cuts", endpoint).include_in_schema is False
    assert LateRoute("/cuts", endpoint).include_in_schema is True


def test_a_route_that_cannot_be_put_together_says_so_every_time() -> None:
    def of_no_kind(what: threading.Event) -> None: ...

    route = LateRoute("/unsound", of_no_kind)

    for _ in range(2):
        with pytest.raises(FastAPIError, match=r"threading\.Event"):
            route.app  # noqa: B018


def test_requests_at_once_find_one_whole_route() -> None:
    """The framework's own class puts a route together in one thread; ours may be asked by several first."""
    route, found, together = LateRoute("/cuts/{cut_id}", endpoint), list[object](), threading.Barrier(8)

    def ask() -> None:
        together.wait()
        found.append(route.app)

    threads = [threading.Thread(target=ask) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert len(found) == 8
    assert len({id(app) for app in found}) == 1


def test_a_router_whose_routes_are_put_together_at_once_is_not_taken() -> None:
    router, routes = APIRouter(), list[BaseRoute]()
    router.add_api_route("/at-once", endpoint)

    with pytest.raises(TypeError, match="/at-once"):
        take_routes(routes, router)

    assert routes == []


def test_the_same_problem_is_told_of_a_method_that_an_address_does_not_take(
    client: Callable[[str], Client],
) -> None:
    answer: httpx.Response = client("stranger").delete("/api/bundles")

    assert answer.status_code == answer.json()["status"] == 405  # RFC 9457, 3.1.2
    assert answer.json()["todo"].startswith("Look up")
    assert answer.headers["allow"] == "GET"
