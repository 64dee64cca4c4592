"""What a web request brings and gets: the writer bound to its key, versions, problem answers, limits."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Annotated, Any, TypeVar
from uuid import uuid4

import orjson
from fastapi import Depends, Header, Query, Request, Response
from pydantic import BaseModel
from sqlmodel import Session
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.lib import errors
from service.lib.paging import Paging
from service.lib.write import Asking, Writer

T = TypeVar("T")
PROBLEM_TYPE = "application/problem+json"

STATUS: dict[type[errors.Problem], int] = {
    errors.NotFound: 404,
    errors.NotSignedIn: 401,
    errors.NotAllowed: 403,
    errors.Refused: 409,
    errors.Unusable: 422,
    errors.Stale: 412,
    errors.NoVersion: 428,
    errors.NoKey: 400,
    errors.Unreadable: 400,
    errors.TooLarge: 413,
    errors.WrongKind: 415,
    errors.TooMany: 429,
    errors.NotSaved: 503,
}


def status_of(problem: errors.Problem) -> int:
    """The status of a problem's family."""
    return next((STATUS[kind] for kind in type(problem).__mro__ if kind in STATUS), 500)


class ProblemAnswer(BaseModel):
    """A problem answer (RFC 9457): what is wrong, what to do next, and the facts behind it."""

    type: str
    title: str
    status: int
    detail: str
    todo: str = ""
    field: str = ""
    facts: dict[str, Any] = {}
    errors: list[dict[str, Any]] = []


def problem_body(problem: errors.Problem, *, wrong: list[dict[str, Any]] | None = None) -> dict[str, Any]:
    return ProblemAnswer(
        type=f"/problems/{problem.slug()}", title=problem.title, status=status_of(problem), detail=problem.detail,
        todo=problem.todo, field=problem.field, facts=problem.facts, errors=wrong or [],
    ).model_dump(mode="json")  # fmt: skip


def problem_response(problem: errors.Problem, *, wrong: list[dict[str, Any]] | None = None) -> Response:
    body = orjson.dumps(problem_body(problem, wrong=wrong))
    headers = {"Cache-Control": "no-store"}
    if isinstance(problem, errors.TooMany):
        headers["Retry-After"] = str(problem.facts.get("wait_seconds", 60))
    if isinstance(problem, errors.NotSignedIn):
        headers["WWW-Authenticate"] = 'Bearer realm="club"'
    return Response(body, status_of(problem), headers, media_type=PROBLEM_TYPE)


def problems(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """The problem answers a route may give, for its documentation; `lib.description` says the rest of each."""
    return {status: {"description": "", "content": {PROBLEM_TYPE: {}}} for status in sorted(statuses)}


READ_PROBLEMS = (401, 403, 404, 422, 429)
WRITE_PROBLEMS = (400, 401, 403, 404, 409, 413, 415, 422, 429, 503)
EDIT_PROBLEMS = (*WRITE_PROBLEMS, 412, 428)


# -- reading -------------------------------------------------------------------------------------------------


def _read_session(request: Request) -> Iterator[Session]:
    with request.app.state.database.reading() as session:
        yield session


Read = Annotated[Session, Depends(_read_session)]


def _paging(
    cursor: Annotated[str | None, Query(max_length=500, description="`next` of the page before")] = None,
    limit: Annotated[int, Query(ge=1, le=200, description="rows on a page")] = 50,
) -> Paging:
    return Paging(cursor, limit)


Pages = Annotated[Paging, Depends(_paging)]


# -- writing -------------------------------------------------------------------------------------------------

KEY_FORM = re.compile(r"[\x21-\x7e]{8,200}")


@dataclass(frozen=True)
class BoundWrite:
    """`await write(action, member, body)` with this request's idempotency key."""

    writer: Writer
    key: str | None

    async def __call__(self, action: Callable[..., T], member: Asking | None, *args: Any) -> T:
        return await self.writer.write(action, member, *args, key=self.key)


def _write(
    request: Request,
    idempotency_key: Annotated[
        str | None,
        Header(
            alias="Idempotency-Key",
            description="A fresh UUID per thing you do (8 to 200 visible signs); a repeat with it does no harm.",
        ),
    ] = None,
) -> BoundWrite:
    if not idempotency_key or not KEY_FORM.fullmatch(idempotency_key):
        raise errors.NoKey("This change came without a usable Idempotency-Key.")
    return BoundWrite(request.app.state.writer, idempotency_key)


def _edit(request: Request) -> BoundWrite:
    return BoundWrite(request.app.state.writer, None)


Write = Annotated[BoundWrite, Depends(_write)]
Edit = Annotated[BoundWrite, Depends(_edit)]


# -- versions ------------------------------------------------------------------------------------------------

VERSION_FORM = re.compile(r'(?:W/)?"?v([0-9]{1,9})"?')


def etag_of(version: int) -> str:
    return f'"v{version}"'


def with_etag(response: Response, version: int) -> None:
    response.headers["ETag"] = etag_of(version)


def _if_match(
    if_match: Annotated[
        str | None, Header(alias="If-Match", description="The ETag of your last read.")
    ] = None,
) -> int:
    if if_match is None:
        raise errors.NoVersion("This edit does not say which version it read.")
    found = VERSION_FORM.fullmatch(if_match.strip())
    if not found:
        raise errors.Stale("The If-Match you sent is not a version of this thing.", field="If-Match")
    return int(found[1])


IfMatch = Annotated[int, Depends(_if_match)]


# -- around every request --------------------------------------------------------------------------------------


class Guard:
    """Pure ASGI layer: request ids, the limit on bodies before parsing, safe headers on every answer."""

    def __init__(self, app: ASGIApp, *, max_body: int, policy: str) -> None:
        self.app = app
        self.max_body = max_body
        self.fixed = [
            (b"x-content-type-options", b"nosniff"),
            (b"referrer-policy", b"same-origin"),
            (b"x-frame-options", b"DENY"),
            (b"content-security-policy", policy.encode()),
        ]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request_id = uuid4().hex
        scope.setdefault("state", {})["request_id"] = request_id
        told = next((value for name, value in scope["headers"] if name == b"content-length"), b"0")
        if told.isdigit() and int(told) > self.max_body:
            await _refuse_size(scope, receive, send, self.max_body)
            return
        seen = 0

        async def limited() -> Message:
            nonlocal seen
            message = await receive()
            seen += len(message.get("body", b""))
            if seen > self.max_body:
                raise errors.TooLarge(
                    f"More than {self.max_body // 1_000_000} MB was sent.", limit_bytes=self.max_body
                )
            return message

        async def marked(message: Message) -> None:
            if message["type"] == "http.response.start":
                names = {name for name, _ in message["headers"]}
                message["headers"] = [
                    *message["headers"],
                    *(pair for pair in self.fixed if pair[0] not in names),
                ]
                message["headers"].append((b"x-request-id", request_id.encode()))
            await send(message)

        try:
            await self.app(scope, limited, marked)
        finally:
            if (form := scope["state"].get("form")) is not None:
                await form.close()


async def _refuse_size(scope: Scope, receive: Receive, send: Send, limit: int) -> None:
    problem = errors.TooLarge(f"More than {limit // 1_000_000} MB was sent.", limit_bytes=limit)
    await problem_response(problem)(scope, receive, send)
