"""A store's temperatures and humidities, day by day and hour by hour, and what rings in it."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Query, Request, Response

from service.lib.request import (
    EDIT_PROBLEMS,
    READ_PROBLEMS,
    Edit,
    IfMatch,
    Read,
    StrictRoute,
    problems,
    with_etag,
)
from service.lib.schemas import Instant
from service.members.rules import May
from service.members.signin import Asker, may
from service.storage import actions, queries, schemas
from service.storage.queries.ringing import LOOKED_AT
from service.storage.rules.spans import MOST_DAYS, USUAL_DAYS
from service.storage.schemas import limits as limit_schemas
from service.storage.schemas.loggers import QuietRead

router = APIRouter(prefix="/api", tags=["storage"], route_class=StrictRoute)
reads: Any = problems(*READ_PROBLEMS)
edits: Any = problems(*EDIT_PROBLEMS)
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


@router.get("/stores/{store_id}/quiet-loggers", responses=reads)
def get_quiet_loggers(store_id: UUID, request: Request, session: Read, member: Host) -> list[QuietRead]:
    """Of the loggers that hang in a store: which are silent, though they sent by themselves, and their gaps of a week."""
    queries.get_store(session, store_id)
    return queries.quiet_in_store(session, store_id, request.app.state.clock.now())


@router.get("/stores/{store_id}/limits", responses=reads)
def get_limits(
    store_id: UUID, session: Read, member: Host, response: Response
) -> limit_schemas.StoreLimitsRead:
    """What rings in a store: its own limits, those that stand without them, those that hold. The ETag is their version."""
    limits = queries.store_limits(session, store_id)
    with_etag(response, limits.version)
    return limits


@router.put("/stores/{store_id}/limits", responses=edits)
async def put_limits(
    store_id: UUID, body: limit_schemas.OwnLimitsSet, member: Host, version: IfMatch, edit: Edit, response: Response
) -> limit_schemas.StoreLimitsRead:  # fmt: skip
    """Set a store's own limits, all at once, from now on: its host, whoever acts for the host, or a steward."""
    limits = await edit(actions.set_limits, member, store_id, version, body)
    with_etag(response, limits.version)
    return limits
