"""What people see: one module per moment of the season, on the same actions and queries as the API."""

from __future__ import annotations

import importlib
from typing import Any

from fastapi import FastAPI, Request, Response
from starlette.staticfiles import StaticFiles

from service.lib.errors import NotSignedIn, Problem
from service.lib.request import status_of
from service.pages.render import STATIC, render

MOMENTS = (
    "answer",
    "home",
    "collecting",
    "labels",
    "store",
    "exchange_day",
    "grafting_day",
    "records",
    "stopping",
    "account",
)


class _Files(StaticFiles):
    """Files whose address changes with their content may be kept for a year."""

    def file_response(self, *args: Any, **kwargs: Any) -> Response:
        answer = super().file_response(*args, **kwargs)
        answer.headers["Cache-Control"] = "public, max-age=31536000, immutable"
        return answer


def mount_pages(app: FastAPI) -> None:
    """Add every moment's pages and the static files."""
    for moment in MOMENTS:
        app.include_router(importlib.import_module(f"service.pages.{moment}").router, include_in_schema=False)
    app.mount("/static", _Files(directory=STATIC), name="static")


def problem_page(request: Request, problem: Problem, wrong: list[dict[str, Any]]) -> Response:
    """What went wrong, as a page: what happened, that nothing was lost, what to do next."""
    answer = render(
        request,
        "problem.html",
        status=status_of(problem),
        problem=problem,
        wrong=wrong,
        sign_in=isinstance(problem, NotSignedIn),
    )
    if isinstance(problem, NotSignedIn):
        answer.headers["WWW-Authenticate"] = 'Bearer realm="club"'
    return answer
