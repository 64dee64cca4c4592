"""What a store is said to have: what its dial is set to, or what its host tells."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter

from service.lib.request import READ_PROBLEMS, WRITE_PROBLEMS, Read, StrictRoute, Write, problems
from service.members.rules import May
from service.members.signin import Asker, may
from service.storage.actions.nominal import set_nominal
from service.storage.queries.nominal import nominal_of
from service.storage.schemas.nominal import NominalCreate, NominalRead

router = APIRouter(prefix="/api", tags=["storage"], route_class=StrictRoute)
reads: Any = problems(*READ_PROBLEMS)
writes: Any = problems(*WRITE_PROBLEMS)
Host = Annotated[Asker, may(May.STORE)]


@router.get("/stores/{store_id}/nominal", responses=reads)
def get_nominal(store_id: UUID, session: Read, member: Host) -> list[NominalRead]:
    """What a store was said to have, the latest first; it counts for hours in which nothing measured."""
    return nominal_of(session, store_id)


@router.post("/stores/{store_id}/nominal", status_code=201, responses=writes)
async def post_nominal(store_id: UUID, body: NominalCreate, member: Host, write: Write) -> list[NominalRead]:
    """Say what its dial is set to, or what its host says it has, from a moment on."""
    return await write(set_nominal, member, store_id, body)
