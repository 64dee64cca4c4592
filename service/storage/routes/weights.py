"""Bags on a scale."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter

from service.lib.request import READ_PROBLEMS, WRITE_PROBLEMS, Read, StrictRoute, Write, problems
from service.members.rules import SEE_CARE, May
from service.members.signin import Asker, may
from service.storage import actions, queries, schemas

router = APIRouter(prefix="/api", tags=["storage"], route_class=StrictRoute)
reads: Any = problems(*READ_PROBLEMS)
writes: Any = problems(*WRITE_PROBLEMS)
Looker = Annotated[Asker, may(May.BUNDLE_CHECKS)]
Carer = Annotated[Asker, may(May.BUNDLE_CHECKS, to=SEE_CARE)]


@router.get("/bundles/{bundle_id}/weighings", responses=reads)
def get_weighings(bundle_id: UUID, session: Read, member: Carer) -> schemas.WeighingsRead:
    """What a bundle's bag weighed, the latest first, and what its wood lost of its fresh mass."""
    return queries.get_weighings(session, bundle_id)


@router.post("/weighings", status_code=201, responses=writes)
async def post_weighing(body: schemas.WeighingCreate, member: Looker, write: Write) -> schemas.WeighingMade:
    """Write down what a bag with its wood weighs: by itself, or before or after sticks are taken out."""
    return await write(actions.weigh_bag, member, body)


@router.post("/weighings/{weighing_id}/taken-back", status_code=201, responses=writes)
async def post_weighing_taken_back(
    weighing_id: UUID, body: schemas.TakenBack, member: Looker, write: Write
) -> schemas.WeighingRead:
    """Take back a weight that was mistyped; it stays in the record and counts no more."""
    return await write(actions.take_weighing_back, member, weighing_id, body)
