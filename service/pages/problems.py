"""What each kind of problem means: where the `type` of a problem answer leads to."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from service.lib.errors import NotFound, Problem, every_problem
from service.lib.request import status_of_kind
from service.lib.routing import PageRoute
from service.members.signin import MaybeSignedIn
from service.pages.render import render

router = APIRouter(route_class=PageRoute)


def _kinds() -> dict[str, type[Problem]]:
    return {kind.slug(): kind for kind in sorted(every_problem(), key=lambda kind: kind.title)}


@router.get("/problems")
def get_problems(request: Request, asker: MaybeSignedIn) -> Response:
    """Every kind of problem, by its title."""
    return render(request, "problems/all.html", asker=asker, kinds=_kinds())


@router.get("/problems/{slug}")
def get_problem(request: Request, slug: str, asker: MaybeSignedIn) -> Response:
    """One kind of problem: what is wrong, and what to do next."""
    kind = _kinds().get(slug)
    if kind is None:
        raise NotFound(
            "No problem goes by this name.", todo="Look through the list of all problems at /problems."
        )
    return render(
        request,
        "problems/one.html",
        asker=asker,
        kind=kind,
        status=200,
        number=status_of_kind(kind),
        slug=slug,
    )
