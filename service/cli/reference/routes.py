"""Every route of the API and every page: what it does, who may, which problems it may answer with."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from fastapi.dependencies.models import Dependant
from fastapi.routing import APIRoute, iter_route_contexts

from service.app import create_app
from service.cli.reference.words import NOTE
from service.lib.settings import Settings
from service.members import signin

HEAD = """# Routes

{note}
Who may is told by the right that is needed (see [roles](roles.md)), which is also the scope a token needs.
The figures are the statuses of problem answers (see [problems](errors.md)). A change needs an `Idempotency-Key`; an edit needs
`If-Match`. The whole description for programs, with every field, is at `/api/openapi.json`. What people see stands in [pages](pages.md).
"""
PAGES_HEAD = """# Pages

{note}
Pages answer with a page where something is wrong, with the same statuses. Forms carry a token of their own page.
"""


@dataclass(frozen=True)
class Route:
    """A route as the page shows it."""

    path: str
    method: str
    does: str
    who: str
    problems: str
    home: str  # the stage or the moment it belongs to

    @property
    def is_api(self) -> bool:
        return self.path.startswith("/api/")


def every_route() -> list[Route]:
    with TemporaryDirectory() as folder:
        app = create_app(Settings(data_dir=Path(folder)))
        app.state.database.close()
    return sorted(
        (
            _route(context, method)
            for context in iter_route_contexts(app.routes)
            if isinstance(context.original_route, APIRoute)
            for method in context.methods or ()
        ),
        key=lambda route: (route.path, "GET POST PUT PATCH DELETE".split().index(route.method)),
    )


def _route(context: Any, method: str) -> Route:
    who = signin.who_may(_calls(context.dependant))
    right = re.search(r"\(the right (`[\w-]+`(?:, `[\w-]+`)*)\)", who)
    statuses = sorted(int(status) for status in context.responses if int(status) >= 400)
    return Route(
        path=context.path_format, method=method, does=_does(context.endpoint, method), who=right[1] if right else who,
        problems=" ".join(map(str, statuses)), home=context.endpoint.__module__.split(".")[1],
    )  # fmt: skip


def _calls(dependant: Dependant) -> Iterator[object]:
    yield dependant.call
    for each in dependant.dependencies:
        yield from _calls(each)


def _does(endpoint: Any, method: str) -> str:
    """The first sentence of what the route says of itself; its own name in words where it says nothing."""
    said = inspect.getdoc(endpoint) or ""
    if said:
        return re.split(r"(?<=\.)\s", said.replace("\n", " "))[0].replace("|", "\\|")
    name = re.sub(r"^(get|post)_|_page$", "", endpoint.__name__).replace("_", " ")
    return f"{name[0].upper()}{name[1:]}{' (its form, sent)' if method == 'POST' else ''}."


def routes_page() -> str:
    routes = every_route()
    parts = [HEAD.format(note=NOTE)]
    for home in sorted({route.home for route in routes if route.is_api}):
        parts += [
            f"## {home.capitalize()}\n",
            "| method | path | what it does | who may | problems |",
            "| --- | --- | --- | --- | --- |",
        ]
        parts += [
            f"| {route.method} | `{route.path}` | {route.does} | {route.who} | {route.problems} |"
            for route in routes if route.is_api and route.home == home
        ]  # fmt: skip
        parts.append("")
    return "\n".join(parts) + "\n"


def pages_page() -> str:
    """The pages, in a file of their own: with the routes they would be too long to read."""
    parts = [
        PAGES_HEAD.format(note=NOTE),
        "| method | path | what it shows or does | who may |",
        "| --- | --- | --- | --- |",
    ]
    parts += [
        f"| {each.method} | `{each.path}` | {each.does} | {each.who} |"
        for each in every_route()
        if not each.is_api
    ]
    return "\n".join(parts) + "\n"
