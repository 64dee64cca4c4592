"""What a store is said to have: what its dial is set to, or what its host tells."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Request, Response
from sqlmodel import Session

from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages.forms import Form, read_form, submitted
from service.pages.render import frame, render
from service.storage import queries
from service.storage.actions.nominal import set_nominal
from service.storage.queries.nominal import nominal_of
from service.storage.rules.own_limits import can_set_limits
from service.storage.schemas.nominal import NominalCreate, NominalRead

router = APIRouter(route_class=PageRoute)
Host = Annotated[Asker, may(May.STORE)]


@router.get("/store/{store_id}/nominal")
def get_nominal(request: Request, session: Read, asker: Host, store_id: UUID) -> Response:
    return _page(request, session, asker, store_id, Form())


def _page(request: Request, session: Session, asker: Asker, store_id: UUID, form: Form) -> Response:
    store, told = queries.get_store(session, store_id), nominal_of(session, store_id)
    may_set = can_set_limits(asker, store.host_id)
    if not may_set:
        form.defaults.setdefault("on_behalf_of", store.host_id)
    return render(
        request, "store/nominal.html", asker=asker, form=form, store=store, said=told,
        may_set=may_set or May.ACT_FOR in asker.may,
    )  # fmt: skip


@router.post("/store/{store_id}/nominal")
async def post_nominal(request: Request, session: Read, asker: Host, store_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> list[NominalRead]:
        at = form.at("done_at", frame(request).zone)
        when = {"done_at": at} if at else {}
        body = form.into(NominalCreate, temp_c=form.text("temp_c") or None, **when)
        return await form.write(set_nominal, asker, store_id, body)

    return await submitted(
        request, form, save,
        lambda _: (f"/store/{store_id}/nominal", "It is written down; how its wood keeps is reckoned anew."),
        lambda: _page(request, session, asker, store_id, form),
    )  # fmt: skip
