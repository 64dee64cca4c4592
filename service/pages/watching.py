"""All stores at once, for stewards: what rang and who was told, which looks are due, what mail did not arrive."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Request, Response

from service.lib.jobs import given_up
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members import queries as member_queries
from service.members.rules import MAIL_WORDS, May
from service.members.signin import Asker, may
from service.pages.render import render
from service.storage import queries

router = APIRouter(route_class=PageRoute)
Host = Annotated[Asker, may(May.STORE)]
# Why it failed is for the log: what a program says of itself helps nobody here, and may tell what is nobody's business.
UNDONE_WORDS = {
    "rings": "Frost and heat of a store were not looked for",
    "doses": "The hours of a store were not put together",
    "keeping": "How wood keeps was not reckoned anew",
    "weekly": "A weekly letter was not written",
    "forecasts": "What was told of wood when it left was not kept",
    "learning": "What takes teach was not reckoned anew",
}
RANG_LATELY, MAIL_LATELY = timedelta(days=14), timedelta(days=14)


@router.get("/looks-due")
def get_looks_due(request: Request, session: Read, asker: Host) -> Response:
    """Looks due in every store, the most urgent first, under what rang lately."""
    now = request.app.state.clock.now()
    rang = queries.list_rings(session, now - RANG_LATELY)
    looks_after_people = May.PEOPLE in asker.may
    return render(
        request, "store/looks_due.html", asker=asker, due=queries.checks_due_everywhere(session, now), rang=rang, mail_words=MAIL_WORDS,
        letters=member_queries.letters_about(session, [one.id for one in rang]) if looks_after_people else {},
        unmailed=member_queries.mail_in_trouble(session, now - MAIL_LATELY) if looks_after_people else [],
        undone=given_up(session, now - MAIL_LATELY) if May.ADMINISTER in asker.may else [],
        undone_words=UNDONE_WORDS, mail_on=bool(request.app.state.settings.mail_host),
    )  # fmt: skip
