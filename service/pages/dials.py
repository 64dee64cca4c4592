"""What was read by hand in a store, and a reading taken back that was mistyped."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Request, Response

from service.lib.paging import Paging
from service.lib.request import Pages, Read
from service.lib.routing import PageRoute
from service.members import queries as member_queries
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages.forms import Form, read_form, submitted
from service.pages.render import render
from service.storage import actions, queries
from service.storage.schemas import DialReadingRead, TakenBack

router = APIRouter(route_class=PageRoute)
Host = Annotated[Asker, may(May.READINGS)]
SHOWN = 30


@router.get("/store/{store_id}/dials")
def get_dials(request: Request, session: Read, asker: Host, store_id: UUID, paging: Pages) -> Response:
    """The readings of a store's thermometer, the latest first, those crossed out among them."""
    store = queries.get_store(session, store_id)
    page = queries.list_dials(session, store_id, Paging(paging.cursor, limit=SHOWN))
    who = member_queries.facts_for_parties(session, {one.by_party_id for one in page.items})
    return render(
        request, "store/dials.html", asker=asker, store=store, page=page, names={key: one.name for key, one in who.items()}
    )  # fmt: skip


@router.get("/store/dials/{reading_id}/taken-back")
def get_dial_back(request: Request, session: Read, asker: Host, reading_id: UUID) -> Response:
    return _back_form(request, session, asker, reading_id, Form())


def _back_form(request: Request, session: Read, asker: Asker, reading_id: UUID, form: Form) -> Response:
    one = queries.get_dial(session, reading_id)
    store = queries.get_store(session, one.store_id)
    return render(request, "store/dial_back.html", asker=asker, form=form, one=one, store=store)


@router.post("/store/dials/{reading_id}/taken-back")
async def post_dial_back(request: Request, session: Read, asker: Host, reading_id: UUID) -> Response:
    """Cross out a reading; it stays in the record and counts no more."""
    form = await read_form(request)

    async def save() -> DialReadingRead:
        return await form.write(actions.take_dial_back, asker, reading_id, form.into(TakenBack, "why"))

    return await submitted(
        request, form, save,
        lambda made: (f"/store/{made.store_id}/dials", "The reading is crossed out and counts no more. Type the right one anew."),
        lambda: _back_form(request, session, asker, reading_id, form),
    )  # fmt: skip
