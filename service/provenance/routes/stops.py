"""Stops over all stages."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter

from service.lib.request import READ_PROBLEMS, WRITE_PROBLEMS, Read, StrictRoute, Write, problems
from service.members.rules import May
from service.members.signin import Asker, may
from service.provenance import actions, queries
from service.provenance.schemas import StopBind, StopOnWoodRead, StopOpen, StopRelease
from service.trees.schemas import StopRead, StopStepCreate

router = APIRouter(prefix="/api/stops", tags=["stops and recalls"], route_class=StrictRoute)

Stopper = Annotated[Asker, may(May.STOP)]
Releaser = Annotated[Asker, may(May.RELEASE)]


@router.post("", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_stop(body: StopOpen, member: Stopper, write: Write) -> StopOnWoodRead:
    """Stop a tree or a bundle, and all that came of its wood, at once; says whom to tell and what else to consider."""
    return await write(actions.open_stop, member, body)


@router.get("/{stop_id}/wood", responses=problems(*READ_PROBLEMS))
def get_wood(stop_id: UUID, session: Read, member: Stopper) -> StopOnWoodRead:
    """What a stop binds now, whom to tell, and what else to consider."""
    return queries.get_stop_on_wood(session, stop_id)


@router.post("/{stop_id}/bind", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_bind(stop_id: UUID, body: StopBind, member: Stopper, write: Write) -> StopOnWoodRead:
    """Take further trees and bundles into a stop, with all that came of them: what was proposed, or what a person decides."""
    return await write(actions.bind_also, member, stop_id, body)


@router.post("/{stop_id}/release", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_release(stop_id: UUID, body: StopRelease, member: Releaser, write: Write) -> StopOnWoodRead:
    """Let bundles go that were bound in error, with the reason and all that came of them alone; the rest stays bound."""
    return await write(actions.release_from_stop, member, stop_id, body)


@router.post("/{stop_id}/confirm", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_confirm(stop_id: UUID, body: StopStepCreate, member: Releaser, write: Write) -> StopRead:
    """What was suspected was found."""
    return await write(actions.confirm_stop, member, stop_id, body)


@router.post("/{stop_id}/clear", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_clear(stop_id: UUID, body: StopStepCreate, member: Releaser, write: Write) -> StopRead:
    """The stop is over: all that it bound is free, but for what another stop binds."""
    return await write(actions.clear_stop, member, stop_id, body)
