"""What a web request brings and gets: the writer bound to its key, versions, problem answers, limits."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable, Coroutine, Iterator
from dataclasses import dataclass
from typing import Annotated, Any, TypeVar
from uuid import uuid4

import orjson
from fastapi import Depends, Header, Query, Request, Response
from pydantic import BaseModel
from sqlmodel import Session
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.lib import errors
from service.lib.etags import Tagger, as_given
from service.lib.paging import Paging
from service.lib.routing import LateRoute
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
    errors.NotAllowedHere: 405,
    errors.TooMany: 429,
    errors.NotSaved: 503,
    errors.Unreachable: 503,
    errors.Broken: 500,
}


def status_of(problem: errors.Problem) -> int:
    """The status of a problem's family."""
    return status_of_kind(type(problem))


def status_of_kind(kind: type[errors.Problem]) -> int:
    return next((STATUS[each] for each in kind.__mro__ if each in STATUS), 500)


class ProblemAnswer(BaseModel):
    """A problem answer (RFC 9457): what is wrong, what became of the change, what to do next, and the facts.

    `outcome`, `todo`, `field`, `lift`, `facts` and `errors` are extension members (section 3.2): `lift` is the address of the
    page whose form lifts a refusal, with what is known filled in; empty where there is none.
    """

    type: str
    title: str
    status: int
    detail: str
    outcome: str = ""
    todo: str = ""
    field: str = ""
    lift: str = ""
    facts: dict[str, Any] = {}
    errors: list[dict[str, Any]] = []


def problem_body(
    problem: errors.Problem, *, wrong: list[dict[str, Any]] | None = None, changing: bool = True
) -> dict[str, Any]:
    """`changing`: a change was asked for, so it must be said what became of it."""
    return ProblemAnswer(
        type=f"/problems/{problem.slug()}", title=problem.title, status=status_of(problem), detail=problem.detail,
        outcome=problem.outcome if changing else "", todo=problem.todo, field=problem.field,
        lift=problem.lift, facts=problem.facts, errors=wrong or [],
    ).model_dump(mode="json")  # fmt: skip


def problem_response(
    problem: errors.Problem, *, wrong: list[dict[str, Any]] | None = None, changing: bool = True
) -> Response:
    body = orjson.dumps(problem_body(problem, wrong=wrong, changing=changing))
    headers = {"Cache-Control": "no-store"}
    if isinstance(problem, errors.TooMany):
        headers["Retry-After"] = str(problem.facts.get("wait_seconds", 60))
    if isinstance(problem, errors.NotSignedIn):
        headers["WWW-Authenticate"] = 'Bearer realm="club"'
    return Response(body, status_of(problem), headers, media_type=PROBLEM_TYPE)


def problems(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """The problem answers a route may give, for its documentation; `lib.description` says the rest of each."""
    return {status: {"description": "", "content": {PROBLEM_TYPE: {}}} for status in sorted(statuses)}


READ_PROBLEMS = (400, 401, 403, 404, 422, 429, 503)
WRITE_PROBLEMS = (400, 401, 403, 404, 409, 413, 415, 422, 429, 503)
EDIT_PROBLEMS = (*WRITE_PROBLEMS, 412, 428)


# -- reading -------------------------------------------------------------------------------------------------


def _read_session(request: Request) -> Iterator[Session]:
    with request.app.state.database.reading() as session:
        yield session


Read = Annotated[Session, Depends(_read_session)]


async def _paging(
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


# Plain functions would each wait for a thread of the pool.
async def _write(
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


async def _edit(request: Request) -> BoundWrite:
    return BoundWrite(request.app.state.writer, None)


Write = Annotated[BoundWrite, Depends(_write)]
Edit = Annotated[BoundWrite, Depends(_edit)]


# -- versions ------------------------------------------------------------------------------------------------

ANY_TAG = "*"  # whatever stands now (RFC 9110, 13.1.1)
VERSION_FORM = re.compile(r'(?:W/)?"?v([0-9]{1,9})(?:-[0-9a-f]{1,64})?"?')


def etag_of(version: int) -> str:
    return f'"v{version}"'


def with_etag(response: Response, version: int) -> None:
    response.headers["ETag"] = etag_of(version)


async def _if_match(
    if_match: Annotated[
        str | None,
        Header(alias="If-Match", description="The ETag of your last read; * for whatever stands now."),
    ] = None,
) -> int:
    if if_match is None:
        raise errors.NoVersion("This edit does not say which version it read.")
    if if_match.strip() == ANY_TAG:
        return errors.ANY_VERSION
    found = VERSION_FORM.fullmatch(as_given(if_match))
    if not found:
        raise errors.Stale("The If-Match you sent is not a version of this thing.", field="If-Match")
    return int(found[1])


IfMatch = Annotated[int, Depends(_if_match)]


# -- bodies ----------------------------------------------------------------------------------------------------


class BodyTooLarge(HTTPException):
    """The limit was passed while the body was read. The framework passes on this family alone from there."""

    def __init__(self, problem: errors.TooLarge) -> None:
        super().__init__(413, problem.detail)
        self.problem = problem


def strict_json(raw: bytes) -> Any:
    """JSON that can be understood in one way only (RFC 8259). Raises `json.JSONDecodeError`.

    Two values under one name, NaN and half a sign would be read differently by different programs.
    """
    try:
        text = raw.decode()
        if "\\u" in text:
            orjson.loads(text)  # refuses half of a pair of signs, which no database keeps
        return json.loads(text, object_pairs_hook=_each_name_once, parse_constant=_no_number)
    except json.JSONDecodeError as error:
        raise json.JSONDecodeError(error.msg, "", error.pos) from error
    except UnicodeDecodeError as error:
        raise json.JSONDecodeError("it is not UTF-8 text", "", error.start) from error
    except RecursionError as error:
        raise json.JSONDecodeError("it is nested too deeply", "", 0) from error
    except ValueError as error:
        raise json.JSONDecodeError(str(error), "", 0) from error


def _each_name_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    told = dict(pairs)
    if len(told) < len(pairs):
        twice = next(name for name, times in Counter(name for name, _ in pairs).items() if times > 1)
        raise ValueError(f"the name '{twice[:60]}' stands twice in one object")
    return told


def _no_number(word: str) -> Any:
    raise ValueError(f"{word} is not a number of JSON")


def _check_says_json(request: Request) -> None:
    brings = request.headers.get("content-length", "0") != "0" or "transfer-encoding" in request.headers
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if brings and not (
        kind == "application/json" or (kind.startswith("application/") and kind.endswith("+json"))
    ):
        raise errors.WrongKind(
            f"This takes JSON; what came says it is {kind[:60] or 'nothing at all'}.",
            todo="Send it as JSON, with the header Content-Type: application/json.",
        )


class _StrictRequest(Request):
    async def json(self) -> Any:
        if not hasattr(self, "_json"):
            self._json = strict_json(await self.body())
        return self._json


class StrictRoute(LateRoute):
    """A route of the API, whose body must be sound JSON."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        inner, takes_json = super().get_route_handler(), self.body_field is not None

        async def strictly(request: Request) -> Response:
            if takes_json:
                _check_says_json(request)
            return await inner(_StrictRequest(request.scope, request.receive))

        return strictly


# -- around every request --------------------------------------------------------------------------------------

CONTENT_POLICY = (
    "default-src 'self'; img-src 'self' data: blob:; style-src 'self'; script-src 'self'; object-src 'none'; "
    "base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
SAFE_HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "x-frame-options": "DENY",
    "content-security-policy": CONTENT_POLICY,
}
ProblemTeller = Callable[[Request, errors.Problem], Response]


def _tagging(scope: Scope, send: Send) -> Send:
    """Where the API is read, what is sent goes through the one place that gives answers their tags."""
    if scope["method"] not in ("GET", "HEAD") or not scope["path"].startswith("/api/"):
        return send
    return Tagger(send, Headers(scope=scope).get("if-none-match", ""))


class Guard:
    """Pure ASGI layer: request ids, the limit on bodies before parsing, safe headers on every answer."""

    def __init__(self, app: ASGIApp, *, max_body: int, answer: ProblemTeller) -> None:
        self.app = app
        self.max_body = max_body
        self.answer = answer
        self.fixed = [(name.encode(), value.encode()) for name, value in SAFE_HEADERS.items()]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request_id = uuid4().hex
        scope.setdefault("state", {})["request_id"] = request_id
        problem = self._refusal(scope)
        if problem is not None:
            await self.answer(Request(scope, receive), problem)(scope, receive, send)
            return
        seen = 0

        async def limited() -> Message:
            nonlocal seen
            message = await receive()
            seen += len(message.get("body", b""))
            if seen > self.max_body:
                raise BodyTooLarge(self._too_large())
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
            await self.app(scope, limited, _tagging(scope, marked))
        finally:
            if (form := scope["state"].get("form")) is not None:
                await form.close()

    def _refusal(self, scope: Scope) -> errors.Problem | None:
        """What is wrong with a request before a byte of its body is read."""
        told = next((value for name, value in scope["headers"] if name == b"content-length"), b"0")
        if told.isdigit() and int(told) > self.max_body:
            return self._too_large()
        if "\x00" in scope["path"] or b"%00" in scope["query_string"]:
            # No name holds it, and PostgreSQL takes it nowhere.
            return errors.Unreadable("The address holds a NUL sign.", todo="Take the sign out and ask again.")
        return None

    def _too_large(self) -> errors.TooLarge:
        return errors.TooLarge(
            f"More than {self.max_body // 1_000_000} MB was sent.", limit_bytes=self.max_body
        )
