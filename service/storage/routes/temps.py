"""A store's temperatures and humidities, day by day and hour by hour."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Query, Request

from service.lib.request import READ_PROBLEMS, Read, StrictRoute, problems
from service.lib.schemas import Instant
from service.members.rules import May
from service.members.signin import Asker, may
from service.storage import queries, schemas
from service.storage.queries.ringing import LOOKED_AT
from service.storage.rules.spans import MOST_DAYS, USUAL_DAYS

router = APIRouter(prefix="/api", tags=["storage"], route_class=StrictRoute)
reads: Any = problems(*READ_PROBLEMS)
Host = Annotated[Asker, may(May.STORE)]
Since = Annotated[Instant | None, Query(description="recorded since then; the last 60 days if left out")]
Days = Annotated[int, Query(ge=1, le=MOST_DAYS, description="how many days; none after today is told")]
FirstDay = Annotated[date | None, Query(description="the first of them; if left out, today is the last")]


@router.get("/stores/{store_id}/temperatures", responses=reads)
def get_temperatures(
    store_id: UUID, request: Request, session: Read, member: Host, days: Days = USUAL_DAYS, from_day: FirstDay = None
) -> schemas.StoreTempsRead:  # fmt: skip
    """How warm and damp each day in a store was, of up to a week each hour; what its wood bears, what went beyond, what rang."""
    return queries.store_temps(session, store_id, request.app.state.clock.now(), days, from_day)


@router.get("/store-rings", responses=reads)
def get_store_rings(
    request: Request, session: Read, member: Host, since: Since = None
) -> list[schemas.RingRead]:
    """Freezing and heat in all stores, each event once, the latest first; what was withdrawn is marked."""
    now = request.app.state.clock.now()
    return queries.list_rings(session, since or now - LOOKED_AT, most=200)
