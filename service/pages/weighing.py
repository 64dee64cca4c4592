"""The bag on a scale: scan, number, save, one after another."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Request, Response

from service.bundles import queries as bundle_queries
from service.lib.codes import group_code
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages.forms import Form, WrongFields, is_id, read_form, submitted
from service.pages.render import frame, render
from service.storage import actions, queries
from service.storage.rules import AreYouSure
from service.storage.schemas import TakenBack, WeighingCreate, WeighingMade, WeighingRead

router = APIRouter(route_class=PageRoute)
Looker = Annotated[Asker, may(May.BUNDLE_CHECKS)]
NAMES = ("grams", "empty_grams", "moment", "note", "sure")


@router.get("/store/weigh")
def get_weigh(
    request: Request, session: Read, asker: Looker, thing: str = "", bundle: UUID | None = None
) -> Response:
    form = Form(thing=thing, bundle=bundle or "", moment="weighed")
    return _weigh_form(request, session, asker, form)


def _weigh_form(request: Request, session: Read, asker: Asker, form: Form) -> Response:
    told = form.text("bundle")
    known = bundle_queries.get_bundle(session, UUID(told)) if is_id(told) else None
    before = queries.weighings_of(session, known.id) if known else None
    return render(
        request, "store/weigh.html", asker=asker, form=form, known=known, before=before, unsure=isinstance(form.problem, AreYouSure)
    )  # fmt: skip


@router.post("/store/weigh")
async def post_weigh(request: Request, session: Read, asker: Looker) -> Response:
    form = await read_form(request)

    async def save() -> WeighingMade:
        told = form.text("bundle")
        if not told and not form.text("thing"):
            raise WrongFields({"thing": "scan or type the code on the bag"})
        which = {"bundle_id": told} if told else {"code": form.text("thing")}
        at = form.at("weighed_at", frame(request).zone)
        when = {"weighed_at": at} if at else {}
        body = form.into(WeighingCreate, *NAMES, id=form.id("form_key"), **which, **when)
        return await form.write(actions.weigh_bag, asker, body)

    def then(made: WeighingMade) -> tuple[str, str]:
        loss = f" {made.loss.words} {made.loss.finding.words}" if made.loss else ""
        words = f"{made.grams:g} g written down.{loss}"
        return (f"/bundles/{made.bundle_id}" if form.text("bundle") else "/store/weigh"), words

    return await submitted(
        request, form, save, then, lambda: _weigh_form(request, session, asker, form),
        at={"code": "thing", "bundle_id": "thing", "done_at": "weighed_at"},
    )  # fmt: skip


@router.get("/store/weigh/{weighing_id}/taken-back")
def get_taken_back(request: Request, session: Read, asker: Looker, weighing_id: UUID) -> Response:
    return _back_form(request, session, asker, weighing_id, Form())


def _back_form(request: Request, session: Read, asker: Asker, weighing_id: UUID, form: Form) -> Response:
    one = queries.get_weighing(session, weighing_id)
    code = bundle_queries.get_bundle(session, one.bundle_id).code
    return render(
        request, "store/weighing_back.html", asker=asker, form=form, one=one, code=group_code(code) if code else "a stick flag"
    )  # fmt: skip


@router.post("/store/weigh/{weighing_id}/taken-back")
async def post_taken_back(request: Request, session: Read, asker: Looker, weighing_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> WeighingRead:
        body = form.into(TakenBack, "why")
        return await form.write(actions.take_weighing_back, asker, weighing_id, body)

    return await submitted(
        request, form, save, lambda made: (f"/bundles/{made.bundle_id}", "The weight is crossed out and counts no more."),
        lambda: _back_form(request, session, asker, weighing_id, form),
    )  # fmt: skip
