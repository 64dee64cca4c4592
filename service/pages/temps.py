"""How warm a store was, as a picture with its table."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Request, Response

from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages.pictures import NARROW, both_widths, temps_of
from service.pages.render import render
from service.storage import queries

router = APIRouter(route_class=PageRoute)
Host = Annotated[Asker, may(May.STORE)]
DAYS = 42


@router.get("/store/{store_id}/temperature")
def get_temperature(request: Request, session: Read, asker: Host, store_id: UUID) -> Response:
    """The last six weeks of a store, day by day."""
    store = queries.get_store(session, store_id)
    temps = queries.store_temps(session, store_id, request.app.state.clock.now(), DAYS)
    picture = both_widths(temps_of(temps, store.name), temps_of(temps, store.name, width=NARROW))
    return render(request, "store/temperature.html", asker=asker, store=store, temps=temps, picture=picture)
