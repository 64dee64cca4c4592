"""Looks at bundles."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Body, Request

from service.lib.paging import Page
from service.lib.request import READ_PROBLEMS, WRITE_PROBLEMS, Pages, Read, StrictRoute, Write, problems
from service.members.rules import SEE_CARE, May
from service.members.signin import Asker, may
from service.storage import actions, queries, schemas

router = APIRouter(prefix="/api", tags=["storage"], route_class=StrictRoute)
reads: Any = problems(*READ_PROBLEMS)
writes: Any = problems(*WRITE_PROBLEMS)
Looker = Annotated[Asker, may(May.BUNDLE_CHECKS)]
Carer = Annotated[Asker, may(May.BUNDLE_CHECKS, to=SEE_CARE)]


@router.get("/bundles/{bundle_id}/checks", responses=reads)
def get_bundle_checks(
    bundle_id: UUID, session: Read, member: Carer, paging: Pages
) -> Page[schemas.BundleCheckRead]:
    """The looks at one bundle, the latest first."""
    return queries.list_checks(session, bundle_id, paging)


@router.get("/stores/{store_id}/checks-due", responses=reads)
def get_checks_due(
    store_id: UUID, request: Request, session: Read, member: Carer
) -> list[schemas.CheckDueRead]:
    """Bundles of a store that should be looked at, and why: mould beside them, something found, or long ago."""
    return queries.checks_due(session, store_id, request.app.state.clock.now())


@router.get("/checks-due", responses=reads)
def get_checks_due_everywhere(request: Request, session: Read, member: Carer) -> list[schemas.StoreDue]:
    """The same of every open store, by its name."""
    return queries.checks_due_everywhere(session, request.app.state.clock.now())


@router.post("/bundle-checks", status_code=201, responses=writes)
async def post_bundle_checks(
    body: Annotated[list[schemas.BundleCheckCreate], Body(min_length=1, max_length=schemas.MOST_AT_ONCE)],
    member: Looker,
    write: Write,
) -> list[schemas.BundleCheckRead]:
    """Write down looks at bundles; what lies beside mould is named, to be looked at next."""
    return await write(actions.record_bundle_checks, member, body)
