"""What people see: one module per moment of the season, on the same actions and queries as the API."""

from __future__ import annotations

import importlib
from typing import Any

from fastapi import FastAPI, Request, Response
from starlette.staticfiles import StaticFiles

from service.lib.errors import NotSignedIn, Problem
from service.lib.request import status_of
from service.lib.routing import take_routes
from service.members.rules import FormNotOurs, UnknownParty
from service.members.signin import SAFE_METHODS, came_from_us, find_asker
from service.pages import acting
from service.pages.forms import Form, is_id
from service.pages.render import STATIC, render

MOMENTS = (
    "answer",
    "offline",
    "scanning",
    "home",
    "paper",
    "met_trees",  # before the next: /cut/new-tree is no tree's id
    "pencilled",  # the same
    "collecting",
    "blanks",  # before the next: /labels/blank is no sheet's id
    "sheets",  # the same
    "labels",
    "counting",  # the same: /store/count is no store's id
    "weighing",  # before the next: /store/weigh is no store's id
    "dials",  # the same
    "fruit",
    "loggers",
    "store",
    "temps",
    "own_limits",
    "nominal",
    "watching",
    "keeping",
    "my_fridge",
    "slips",  # before the next: /hand-over/slip is no bundle's id
    "exchange_day",
    "grafting_day",
    "plants",
    "owning",
    "records",
    "sites",
    "site_air",
    "winters",
    "learned",  # before the next: it stands below it
    "science",
    "lifting",
    "lists",
    "stopping",
    "correcting",
    "account",
    "calendars",
    "problems",
)


DECODER = "decoder/worker.js"
DECODER_POLICY = (
    "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; object-src 'none'; base-uri 'none'"
)


class _Files(StaticFiles):
    """Files whose address changes with their content may be kept for a year."""

    def file_response(self, *args: Any, **kwargs: Any) -> Response:
        answer = super().file_response(*args, **kwargs)
        answer.headers["Cache-Control"] = "public, max-age=31536000, immutable"
        if str(args[0]).endswith(DECODER):
            # What is compiled from a wasm file runs in this worker alone; no page may do that.
            answer.headers["Content-Security-Policy"] = DECODER_POLICY
        return answer


def mount_pages(app: FastAPI) -> None:
    """Add every moment's pages and the static files."""
    for moment in MOMENTS:
        take_routes(app.router.routes, importlib.import_module(f"service.pages.{moment}").router)
    app.mount("/static", _Files(directory=STATIC), name="static")


def problem_page(request: Request, problem: Problem, wrong: list[dict[str, Any]]) -> Response:
    """What went wrong, as a page: what happened, what became of the change, what to do next."""
    answer = render(
        request,
        "problem.html",
        asker=find_asker(request),
        status=status_of(problem),
        problem=problem,
        wrong=wrong,
        changing=request.method not in SAFE_METHODS,
        sign_in=isinstance(problem, NotSignedIn),
        typed=_typed(request, problem),
        whom=_whom(request, problem),
        signed_in_as=getattr(request.state, "signed_in_as", ""),
        csrf_token=getattr(request.state, "csrf_token", ""),
    )
    if isinstance(problem, NotSignedIn):
        answer.headers["WWW-Authenticate"] = 'Bearer realm="club"'
    return answer


def _whom(request: Request, problem: Problem) -> Form | None:
    """Where nobody goes by the name that was typed: the field for it once more."""
    if not (isinstance(problem, UnknownParty) and problem.field == acting.FIELD):
        return None
    form = getattr(request.state, "form", None)
    told = form.get(acting.FIELD) if form is not None else None
    again = Form(on_behalf_of=told if isinstance(told, str) and not is_id(told.strip()) else "")
    again.wrong = {acting.FIELD: problem.detail}
    return again


def _typed(request: Request, problem: Problem) -> list[tuple[str, str]]:
    """What was typed into a form that came after its sign-in had ended, or for somebody whom nobody knows, to be sent again.

    A file that was chosen cannot be kept so: its form is to be gone back to.
    """
    form = getattr(request.state, "form", None)
    kinds = NotSignedIn | FormNotOurs | UnknownParty
    if form is None or not isinstance(problem, kinds) or came_from_us(request) is not True:
        return []
    if isinstance(problem, UnknownParty) and any(not isinstance(value, str) for value in form.values()):
        return []
    return [
        (name, value)
        for name, value in form.multi_items()
        if isinstance(value, str) and name != "csrf_token" and "password" not in name
    ]
