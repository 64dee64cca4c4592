"""Routes of a stage with somebody of a chosen role before them, and nothing else of the app."""

from __future__ import annotations

import asyncio
from typing import Any
from uuid import UUID, uuid4

import httpx
from fastapi import APIRouter, FastAPI, Request
from starlette.responses import Response

from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.errors import Problem
from service.lib.request import problem_response
from service.lib.write import Writer
from service.members.rules import Role, may_of
from service.members.signin import Asker
from service.members.signin.asker import _who
from tests.builders.storage import make_person

ROLES = (Role.MEMBER, Role.COLLECTOR, Role.HOST, Role.STEWARD, Role.HEALTH_STEWARD, Role.ADMINISTRATOR)


class Desk:
    """Asks one thing at a time, without a network: `desk.post("host", "/api/boxes", {...})`."""

    def __init__(self, database: Database, writer: Writer, clock: FixedClock, *routers: APIRouter) -> None:
        self.app = FastAPI()
        for router in routers:
            self.app.include_router(router)
        self.app.state.database, self.app.state.writer, self.app.state.clock = database, writer, clock
        self.app.add_exception_handler(Problem, _answer)
        self.askers: dict[str, Asker | None] = {"stranger": None}
        for role in ROLES:
            party = make_person(writer, role, name=f"A {role}").party_id
            self.askers[role] = Asker(uuid4(), party, role, frozenset({role}), may_of([role]), party)
        self.now: Asker | None = None
        self.app.dependency_overrides[_who] = lambda: self.now

    def party(self, who: str) -> UUID:
        asker = self.askers[who]
        assert asker is not None
        return asker.party_id

    def get(self, who: str, path: str, **given: Any) -> httpx.Response:
        return self.ask(who, "GET", path, **given)

    def post(self, who: str, path: str, body: Any, *, key: str | None = None) -> httpx.Response:
        headers = {"Idempotency-Key": key or str(uuid4())}
        return self.ask(who, "POST", path, json=body, headers=headers)

    def patch(self, who: str, path: str, body: Any, version: str | None) -> httpx.Response:
        return self.ask(who, "PATCH", path, json=body, headers={"If-Match": version} if version else {})

    def ask(self, who: str, method: str, path: str, **given: Any) -> httpx.Response:
        self.now = self.askers[who]

        async def ask() -> httpx.Response:
            transport = httpx.ASGITransport(app=self.app)
            async with httpx.AsyncClient(transport=transport, base_url="http://club.test") as client:
                return await client.request(method, path, **given)

        return asyncio.run(ask())


def _answer(_request: Request, problem: Exception) -> Response:
    assert isinstance(problem, Problem)
    return problem_response(problem)
