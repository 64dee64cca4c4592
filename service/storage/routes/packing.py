"""How wood is packed."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Body, Request

from service.lib.request import READ_PROBLEMS, WRITE_PROBLEMS, Read, StrictRoute, Write, problems
from service.members.rules import May
from service.members.signin import Asker, may
from service.storage import actions, queries, schemas

router = APIRouter(prefix="/api", tags=["storage"], route_class=StrictRoute)
reads: Any = problems(*READ_PROBLEMS)
writes: Any = problems(*WRITE_PROBLEMS)
Looker = Annotated[Asker, may(May.BUNDLE_CHECKS)]


@router.get("/bundles/{bundle_id}/packings", responses=reads)
def get_packings(bundle_id: UUID, request: Request, session: Read, member: Looker) -> schemas.PackingsRead:
    """How a bundle is packed, and what was told of it, the latest first."""
    return queries.get_packings(session, bundle_id, request.app.state.clock.now())


@router.post("/packings", status_code=201, responses=writes)
async def post_packings(
    body: Annotated[list[schemas.PackingCreate], Body(min_length=1, max_length=schemas.MOST_AT_ONCE)],
    member: Looker,
    write: Write,
) -> list[schemas.PackingRead]:
    """Write down how bundles are packed, each from its own hour on; the code of a box tells it of all that lies in it then."""
    return await write(actions.tell_packing, member, body)
