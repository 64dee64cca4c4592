"""Recalls, and forgetting a person."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Request

from service.lib.clock import local_day
from service.lib.paging import Page
from service.lib.request import READ_PROBLEMS, WRITE_PROBLEMS, Pages, Read, StrictRoute, Write, problems
from service.members.queries import club
from service.members.rules import May
from service.members.signin import Asker, may
from service.provenance import actions, queries
from service.provenance.schemas import ForgottenRead, RecallCreate, RecallRead, RecallSummary, ToldCreate

router = APIRouter(prefix="/api", tags=["stops and recalls"], route_class=StrictRoute)

Recaller = Annotated[Asker, may(May.RECALL)]
Registrar = Annotated[Asker, may(May.PEOPLE)]


@router.get("/recalls", responses=problems(*READ_PROBLEMS))
def get_recalls(
    session: Read, member: Recaller, paging: Pages, stop_id: UUID | None = None
) -> Page[RecallSummary]:
    """Recalls, the newest first."""
    return queries.list_recalls(session, paging, stop_id=stop_id)


@router.post("/recalls", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_recall(body: RecallCreate, member: Recaller, write: Write) -> RecallRead:
    """Write down everybody to be told of a stop: who has or had the wood, grafted it, or lets a tree of it grow."""
    return await write(actions.start_recall, member, body)


@router.get("/recalls/{recall_id}", responses=problems(*READ_PROBLEMS))
def get_recall(recall_id: UUID, request: Request, session: Read, member: Recaller) -> RecallRead:
    """A recall with everybody in it and how to reach them, sealed contacts of the forgotten too."""
    return queries.get_recall(
        session, recall_id, local_day(request.app.state.clock.now(), club(session).zone)
    )


@router.post("/recalls/{recall_id}/told", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_told(recall_id: UUID, body: ToldCreate, member: Recaller, write: Write) -> RecallRead:
    """A party was told, and how."""
    return await write(actions.mark_told, member, recall_id, body)


@router.post("/recalls/{recall_id}/renewal", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_renewal(recall_id: UUID, member: Recaller, write: Write) -> RecallRead:
    """Take in whoever was found since the recall began."""
    return await write(actions.renew_recall, member, recall_id)


@router.post("/parties/{party_id}/forget", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_forget(party_id: UUID, member: Registrar, write: Write) -> ForgottenRead:
    """Erase who somebody was; their wood stays. Refused while a recall has not reached them."""
    return await write(actions.forget_member, member, party_id)
