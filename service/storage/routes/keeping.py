"""How wood keeps."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Query, Request

from service.lib.request import READ_PROBLEMS, Read, StrictRoute, problems
from service.members.rules import SEE_STORES, May
from service.members.signin import Asker, may
from service.storage.queries.elsewhere import what_if
from service.storage.queries.keeping import keeping_of
from service.storage.queries.use_first import MOST_SHOWN, use_first_for
from service.storage.schemas.keeping import KeepingRead, UseFirstRead, WhatIfRead

router = APIRouter(prefix="/api", tags=["storage"], route_class=StrictRoute)
reads: Any = problems(*READ_PROBLEMS)
Reader = Annotated[Asker, may(May.READ)]
Looker = Annotated[Asker, may(May.BUNDLE_CHECKS, to=SEE_STORES)]
OfStore = Annotated[UUID | None, Query(description="of this store; of all if left out")]
Most = Annotated[int, Query(ge=1, le=2000, description="how many at most")]


@router.get("/bundles/{bundle_id}/keeping", responses=reads)
def get_keeping(bundle_id: UUID, request: Request, session: Read, member: Reader) -> KeepingRead:
    """Whether this wood will live, as reckoned from where it lay: what it rests on, the share with its band, dates."""
    return keeping_of(session, bundle_id, request.app.state.clock.now())


@router.get("/bundles/{bundle_id}/elsewhere", responses=reads)
def get_elsewhere(bundle_id: UUID, request: Request, session: Read, member: Looker) -> WhatIfRead:
    """How long this wood would keep in each open store: days gained or lost, and which store is not to be used, and why."""
    return what_if(session, bundle_id, request.app.state.clock.now())


@router.get("/use-first", responses=reads)
def get_use_first(
    request: Request, session: Read, member: Reader, store_id: OfStore = None, most: Most = MOST_SHOWN
) -> list[UseFirstRead]:
    """What keeps shortest first: your own wood and that in your stores; to stewards all wood in store. What is stopped is marked."""
    return use_first_for(session, member, request.app.state.clock.now(), store_id, most)
