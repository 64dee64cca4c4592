"""Ripening fruit in a store: in since a day, out on a day."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Request, Response

from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages.forms import Form, read_form, submitted
from service.pages.render import frame, render
from service.storage import actions, queries
from service.storage.schemas import FruitCreate, FruitEnd, FruitRead

router = APIRouter(route_class=PageRoute)
Host = Annotated[Asker, may(May.STORE)]
AMOUNTS = (("ripe", "ripe fruit in the closed fridge"), ("some", "some fruit, in a store that is aired"))


@router.get("/store/{store_id}/fruit")
def get_fruit(request: Request, session: Read, asker: Host, store_id: UUID) -> Response:
    return _page(
        request, session, asker, store_id, Form(from_on=frame(request).today, until_on=frame(request).today, amount="ripe")
    )  # fmt: skip


def _page(request: Request, session: Read, asker: Asker, store_id: UUID, form: Form) -> Response:
    store = queries.get_store(session, store_id)
    return render(
        request, "store/fruit.html", asker=asker, form=form, store=store, amounts=AMOUNTS,
        spells=queries.fruit_in(session, [store_id]).get(store_id, []),
    )  # fmt: skip


@router.post("/store/{store_id}/fruit")
async def post_fruit(request: Request, session: Read, asker: Host, store_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> FruitRead:
        body = form.into(FruitCreate, "what", "amount", "from_on", id=form.id("form_key"), store_id=store_id)
        return await form.write(actions.put_fruit_in, asker, body)

    return await submitted(
        request, form, save, lambda _: (f"/store/{store_id}/fruit", "It is written down. Take it out soon: it harms the buds."),
        lambda: _page(request, session, asker, store_id, form),
    )  # fmt: skip


@router.post("/store/{store_id}/fruit/{fruit_id}/out")
async def post_fruit_out(
    request: Request, session: Read, asker: Host, store_id: UUID, fruit_id: UUID
) -> Response:
    form = await read_form(request)

    async def save() -> FruitRead:
        return await form.write(actions.take_fruit_out, asker, fruit_id, form.into(FruitEnd, "until_on"))

    return await submitted(
        request, form, save, lambda _: (f"/store/{store_id}/fruit", "The fruit is out."),
        lambda: _page(request, session, asker, store_id, form),
    )  # fmt: skip
