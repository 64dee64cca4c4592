"""Builds the app: routers, pages, the one error handler, static files, start-up."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator, Iterator
from typing import Any

from fastapi import FastAPI, Request, Response
from fastapi.dependencies.models import Dependant
from fastapi.exceptions import RequestValidationError
from fastapi.openapi.utils import get_openapi
from fastapi.routing import APIRoute, iter_route_contexts
from sqlalchemy.exc import DataError, DBAPIError, InterfaceError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeout
from starlette.exceptions import HTTPException

from service.bundles.queries import bundles_of_collections, bundles_of_trees
from service.bundles.routes import router as bundles
from service.catalogue.actions import supply_bundles_of_cultivars
from service.catalogue.routes import router as catalogue
from service.collection.actions import supply_bundles_of_collections
from service.collection.queries import was_cut
from service.collection.routes import router as collection
from service.exchange.routes import router as exchange
from service.grafting import actions as grafting_actions
from service.grafting.actions.learning import learning, learning_wanted
from service.grafting.queries.labels import words_of_plants
from service.grafting.routes import router as grafting
from service.lib import errors
from service.lib.clock import Clock, StartedClock, SystemClock
from service.lib.database import Database
from service.lib.description import describe
from service.lib.jobs import Kind, Worker
from service.lib.mail import post_of
from service.lib.program import program_version
from service.lib.request import SAFE_HEADERS, BodyTooLarge, Guard, problem_response
from service.lib.routing import take_routes
from service.lib.settings import Settings
from service.lib.write import Writer
from service.lists.routes import router as lists
from service.members import signin
from service.members.actions import mailing, supply_all_bundles
from service.members.routes import router as members
from service.pages import mount_pages, problem_page
from service.pages.long_lists import LongLists
from service.provenance.actions import follow_changes
from service.provenance.queries import all_bundles, bundles_of_cultivars
from service.provenance.routes import router as provenance
from service.storage import actions as storage_actions
from service.storage.actions.dosing import dosing, keeping, keeping_wanted
from service.storage.actions.forecasts import forecasting, forecasts_wanted
from service.storage.queries.labels import words_of_boxes, words_of_stores
from service.storage.routes import router as storage
from service.tags.actions import supply_kind
from service.tags.routes import router as tags
from service.tags.rules.words import TagKind
from service.trees.actions import supply_bundles_of_trees, supply_cuts_of_trees
from service.trees.routes import router as trees

ROUTERS = (
    provenance,
    lists,
    bundles,
    tags,
    storage,
    exchange,
    grafting,
    collection,
    trees,
    catalogue,
    members,
)

TICKS = [storage_actions.weekly_wanted, keeping_wanted, forecasts_wanted, learning_wanted]

DESCRIPTION = """A grafting club's record of its scionwood, from the cut on a tree to a graft that took.

Every change carries an `Idempotency-Key`: the same request twice is done once. Edits carry the `ETag` they read as
`If-Match`. What goes wrong is told as a problem answer (RFC 9457) that says what to do next."""


def create_app(
    settings: Settings, *, database: Database | None = None, clock: Clock | None = None, background: bool = False
) -> FastAPI:  # fmt: skip
    """The service over one club's database, which must be migrated already; with `background`, its jobs are done too."""
    clock = clock or (StartedClock(settings.fixed_now) if settings.fixed_now else SystemClock())
    database = database or Database(settings.resolved_database_url(), synchronous=settings.sqlite_synchronous)
    writer = Writer(database, clock, group_wait_ms=settings.group_wait_ms)
    follow_changes(writer)
    _join_stages()
    jobs = Worker(database, writer, _kinds(settings), TICKS)

    @contextlib.asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        writer.start()
        if background:
            jobs.start()
        try:
            yield
        finally:
            jobs.stop()
            writer.stop()
            database.close()

    app = FastAPI(
        title="Scionwood record", version=program_version() or "0.1.0", description=DESCRIPTION, lifespan=lifespan, docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json", separate_input_output_schemas=False,
    )  # fmt: skip
    app.state.settings, app.state.database, app.state.clock = settings, database, clock
    app.state.writer, app.state.jobs = writer, jobs
    app.state.long_lists = LongLists()
    app.state.public_origins = [
        origin.strip() for origin in settings.trusted_origins.split(",") if origin.strip()
    ]
    signin.prepare(app)
    for router in ROUTERS:
        take_routes(app.router.routes, router)
    mount_pages(app)
    _answer_problems(app)
    app.openapi = lambda: _openapi(app)  # type: ignore[method-assign]
    app.add_middleware(Guard, max_body=settings.max_body_mb * 1_000_000, answer=_answer)
    return app


def _kinds(settings: Settings) -> list[Kind]:
    """All that is done in the background."""
    return [
        mailing(post_of(settings), settings.mail_links_to),
        storage_actions.ringing(),
        dosing(),
        keeping(),
        forecasting(),
        learning(),
        storage_actions.weekly_letters(),
    ]


def _join_stages() -> None:
    """Tell earlier stages what only later ones know: whose wood a tree's is, and what labels of theirs say."""
    supply_all_bundles(all_bundles)
    supply_bundles_of_trees(bundles_of_trees)
    supply_cuts_of_trees(was_cut)
    supply_bundles_of_cultivars(bundles_of_cultivars)
    supply_bundles_of_collections(bundles_of_collections)
    supply_kind(TagKind.BOX, words=words_of_boxes, set_codes=storage_actions.set_codes)
    supply_kind(TagKind.STORE, words=words_of_stores, set_codes=storage_actions.set_codes)
    supply_kind(TagKind.PLANT, words=words_of_plants, set_codes=grafting_actions.set_codes)


def _openapi(app: FastAPI) -> dict[str, Any]:
    """The description of the API alone, made when it is first asked for."""
    if app.openapi_schema is None:
        written = get_openapi(
            title=app.title, version=app.version, description=app.description, routes=app.routes,
            separate_input_output_schemas=False,
        )  # fmt: skip
        let_in = {
            (method.lower(), route.path_format or ""): signin.who_may(_calls(route.dependant))
            for route in iter_route_contexts(app.routes)
            for method in route.methods or ()
            if isinstance(route.original_route, APIRoute)
        }
        app.openapi_schema = describe(written, let_in, signin.WAYS_IN)
    return app.openapi_schema


def _calls(dependant: Dependant) -> Iterator[object]:
    yield dependant.call
    for each in dependant.dependencies:
        yield from _calls(each)


# -- what went wrong -----------------------------------------------------------------------------------------------


def _answer_problems(app: FastAPI) -> None:
    app.add_exception_handler(errors.Problem, _on_problem)  # type: ignore[arg-type]
    app.add_exception_handler(RequestValidationError, _on_wrong_shape)  # type: ignore[arg-type]
    app.add_exception_handler(HTTPException, _on_http)  # type: ignore[arg-type]
    for away in (OperationalError, InterfaceError, PoolTimeout):
        app.add_exception_handler(away, _on_no_database)
    app.add_exception_handler(DataError, _on_strange_value)
    app.add_exception_handler(Exception, _on_fault)


def _wants_page(request: Request) -> bool:
    return not request.url.path.startswith("/api") and "text/html" in request.headers.get("accept", "")


def _answer(request: Request, problem: errors.Problem, wrong: list[dict[str, Any]] | None = None) -> Response:
    if _wants_page(request):
        with contextlib.suppress(DBAPIError, PoolTimeout):  # a page needs the club's name
            return problem_page(request, problem, wrong or [])
    return problem_response(problem, wrong=wrong, changing=request.method not in signin.SAFE_METHODS)


def _on_problem(request: Request, problem: errors.Problem) -> Response:
    return _answer(request, problem)


def _what(each: dict[str, Any]) -> str:
    if each["type"] == "too_long" and isinstance(each.get("input"), str):
        return f"String should have at most {each['ctx']['max_length']} characters"
    return str(each["msg"])


def _on_wrong_shape(request: Request, error: RequestValidationError) -> Response:
    wrong = [
        {"at": ".".join(str(part) for part in each["loc"]), "what": _what(each), "kind": each["type"]}
        for each in error.errors()
    ]
    if any(each["kind"] == "json_invalid" for each in wrong):
        why = next(
            (str(each["ctx"]["error"]) for each in error.errors() if each["type"] == "json_invalid"), ""
        )
        return _answer(
            request, errors.Unreadable(f"The body is not sound JSON: {why}.", at=wrong[0]["at"]), wrong
        )
    first = f"{wrong[0]['at']}: {wrong[0]['what']}" if wrong else ""
    more = f" (and {len(wrong) - 1} more)" if len(wrong) > 1 else ""
    problem = errors.Unusable(first + more, todo="Mend what `errors` names and send it again.")
    return _answer(request, problem, wrong)


_HTTP: dict[int, type[errors.Problem]] = {
    400: errors.Unreadable, 401: errors.NotSignedIn, 403: errors.NotAllowed, 404: errors.NotFound, 413: errors.TooLarge,
    405: errors.NotAllowedHere, 415: errors.WrongKind, 429: errors.TooMany,
}  # fmt: skip


def _on_no_database(request: Request, _error: Exception) -> Response:
    """The writer tells of its own troubles; what comes here broke while reading, before anything was changed."""
    return _answer(request, errors.Unreachable("The database does not answer."))


def _on_strange_value(request: Request, _error: Exception) -> Response:
    return _answer(
        request, errors.Unusable("The database takes no such value.", todo="Check what you asked for.")
    )


def _on_fault(request: Request, _error: Exception) -> Response:
    number = getattr(request.state, "request_id", "")
    answer = _answer(request, errors.Broken(f"This answer has the number {number}.", request_id=number))
    # This answer is made outside of the layer that marks all others.
    answer.headers.update({**SAFE_HEADERS, "x-request-id": number})
    return answer


def _on_http(request: Request, error: HTTPException) -> Response:
    if isinstance(error, BodyTooLarge):
        return _answer(request, error.problem)
    problem = _HTTP.get(error.status_code, errors.Problem)(
        "" if error.status_code in _HTTP else str(error.detail)
    )
    answer = _answer(request, problem)
    answer.status_code = error.status_code
    for name, value in (error.headers or {}).items():
        answer.headers[name] = value
    return answer
