"""A host's home: the fridge in the garage, and nothing of other stores."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Request, Response

from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members import queries as member_queries
from service.members.rules import MAIL_WORDS, LetterKind, May
from service.members.signin import Asker, may
from service.pages.forms import Form, is_id, read_form, submitted
from service.pages.render import frame, render
from service.storage import actions, queries
from service.storage.rules import AreYouSure, what_to_do
from service.storage.schemas import DialReadingCreate, DialReadingRead

router = APIRouter(route_class=PageRoute)
Host = Annotated[Asker, may(May.READINGS)]
DAYS, WEEK = 42, timedelta(days=7)
RANG_LATELY = timedelta(days=42)
WRITES_BY_ITSELF = timedelta(days=3)  # a logger that wrote since then: nobody need read a thermometer


@router.get("/my-fridge")
def get_my_fridge(request: Request, session: Read, asker: Host, store: UUID | None = None) -> Response:
    """The stores that stand with whoever asks, one at a time: its dial, what rings, looks due, this week."""
    return _page(request, session, asker, Form(store_id=store or "", unit="C"))


def _page(request: Request, session: Read, asker: Asker, form: Form) -> Response:
    mine = queries.stores_of_host(session, asker.party_id)
    told = form.text("store_id")
    store = next((one for one in mine if str(one.id) == told), None)
    if store is None and is_id(told):  # whoever stands before somebody else's fridge has scanned its door
        store = queries.get_store(session, UUID(told))
    store = store or (mine[0] if mine else None)
    if store is None:
        return render(request, "store/no_fridge.html", asker=asker)
    now = request.app.state.clock.now()
    rang = queries.list_rings(session, now - RANG_LATELY, [store.id])
    loggers = queries.loggers_in_store(session, store.id)
    quiet = queries.quiet_in_store(session, store.id, now, loggers)
    silent = {one.logger_id for one in quiet if one.until_at is None}
    temps = queries.store_temps(session, store.id, now, DAYS)
    rings = next((one for one in temps.alarms if one.rings), None)
    here = queries.limits_here(session, [store.id] if rings else [])
    return render(
        request, "store/my_fridge.html", asker=asker, form=form, store=store, others=[one for one in mine if one.id != store.id],
        temps=temps, due=queries.checks_due(session, store.id, now),
        last=queries.last_dials(session, [store.id]).get(store.id), week=queries.came_and_went(session, store.id, now - WEEK),
        quiet=quiet, writes=[one for one in loggers if one.last_at and now - one.last_at < WRITES_BY_ITSELF and one.id not in silent],
        fruit=queries.fruit_now(session, [store.id], frame(request).today).get(store.id),
        unsure=isinstance(form.problem, AreYouSure), rang=rang, mail_words=MAIL_WORDS,
        what_to_do=what_to_do(rings.kind, rings.extreme_c, here[store.id]) if rings else (),
        letter=member_queries.last_letter(session, asker.party_id, LetterKind.WEEKLY),
    )  # fmt: skip


@router.post("/my-fridge")
async def post_my_fridge(request: Request, session: Read, asker: Host) -> Response:
    """What the thermometer shows."""
    form = await read_form(request)

    async def save() -> DialReadingRead:
        names = ("store_id", "now", "lowest", "highest", "unit", "reset_done", "sure")
        body = form.into(DialReadingCreate, *names, id=form.id("form_key"))
        return await form.write(actions.read_dial, asker, body)

    told = form.text("store_id")
    address = f"/my-fridge?store={told}" if is_id(told) else "/my-fridge"
    return await submitted(
        request, form, save, lambda _: (address, "The reading is written down."),
        lambda: _page(request, session, asker, form),
    )  # fmt: skip
