"""What rings in a store, and when: the standing limits, and those that its host or a steward sets for it."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Request, Response
from sqlmodel import Session

from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members import queries as member_queries
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages.forms import Form, read_form, submitted
from service.pages.render import render
from service.storage import actions, queries
from service.storage.queries.own_limits import OWN_NAMES
from service.storage.rules.own_limits import can_set_limits
from service.storage.schemas.limits import OwnLimitsSet, StoreLimitsRead

router = APIRouter(route_class=PageRoute)
Host = Annotated[Asker, may(May.STORE)]


@router.get("/store/{store_id}/limits")
def get_limits(request: Request, session: Read, asker: Host, store_id: UUID) -> Response:
    return _page(request, session, asker, store_id)


def _page(
    request: Request, session: Session, asker: Asker, store_id: UUID, typed: Form | None = None
) -> Response:
    store, limits = queries.store_with_limits(session, store_id)
    own: dict[str, Any] = {
        name: f"{value:g}" for name in OWN_NAMES if (value := getattr(limits.own, name)) is not None
    }
    may_set = can_set_limits(asker, store.host_id)
    form = typed or Form(**own, on_behalf_of=None if may_set else store.host_id)
    people = {store.host_id, *(who for who in (limits.set_by_party_id, limits.set_for_party_id) if who)}
    names = {key: one.name for key, one in member_queries.facts_for_parties(session, people).items()}
    return render(
        request, "store/limits.html", asker=asker, form=form, store=store, limits=limits, names=names,
        version=form.opened_on(limits.version), may_set=may_set or May.ACT_FOR in asker.may,
    )  # fmt: skip


@router.post("/store/{store_id}/limits")
async def post_limits(request: Request, session: Read, asker: Host, store_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> StoreLimitsRead:
        body = form.into(OwnLimitsSet, *OWN_NAMES)
        return await form.write(actions.set_limits, asker, store_id, form.version(), body)

    return await submitted(
        request, form, save,
        lambda made: (f"/store/{made.store_id}/limits", "These limits hold from now on; what was measured is looked at again."),
        lambda: _page(request, session, asker, store_id, form),
    )  # fmt: skip
