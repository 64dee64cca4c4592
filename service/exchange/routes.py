"""Passing wood on, over HTTP."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Body

from service.bundles.schemas import BundleRead
from service.exchange import actions
from service.exchange.schemas import (
    HandOverCreate,
    HandOverRead,
    ReturnCreate,
    SplitCreate,
    SplitRead,
    TableBackCreate,
)
from service.lib.request import WRITE_PROBLEMS, StrictRoute, Write, problems
from service.members.rules import May
from service.members.signin import Asker, may

router = APIRouter(prefix="/api", tags=["passing on"], route_class=StrictRoute)

Sticker = Annotated[Asker, may(May.STICKS)]
Giver = Annotated[Asker, may(May.HAND_OVER)]
MANY = Body(min_length=1, max_length=200)


@router.post("/splits", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_splits(
    body: Annotated[list[SplitCreate], MANY], member: Sticker, write: Write
) -> list[SplitRead]:
    """Put sticks into bundles of their own."""
    return await write(actions.split_bundles, member, body)


@router.post("/hand-overs", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_hand_overs(
    body: Annotated[list[HandOverCreate], MANY], member: Giver, write: Write
) -> list[HandOverRead]:
    """Hand sticks over: as a bundle, under a flag, or out to an open table."""
    return await write(actions.hand_over, member, body)


@router.post("/table-counts", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_table_count(body: TableBackCreate, member: Giver, write: Write) -> BundleRead:
    """Count back what lies on an open table."""
    return await write(actions.count_back, member, body)


@router.post("/returns", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_return(body: ReturnCreate, member: Giver, write: Write) -> BundleRead:
    """Take a handed-over bundle back."""
    return await write(actions.return_bundle, member, body)
