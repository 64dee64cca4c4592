"""Thermometers read by hand, and fruit in stores."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter

from service.lib.paging import Page
from service.lib.request import READ_PROBLEMS, WRITE_PROBLEMS, Pages, Read, StrictRoute, Write, problems
from service.members.rules import May
from service.members.signin import Asker, may
from service.storage import actions, queries, schemas

router = APIRouter(prefix="/api", tags=["storage"], route_class=StrictRoute)
reads: Any = problems(*READ_PROBLEMS)
writes: Any = problems(*WRITE_PROBLEMS)
Host = Annotated[Asker, may(May.STORE)]
Measurer = Annotated[Asker, may(May.READINGS)]


@router.get("/stores/{store_id}/dial-readings", responses=reads)
def get_dial_readings(
    store_id: UUID, session: Read, member: Host, paging: Pages
) -> Page[schemas.DialReadingRead]:
    """What was read by hand in a store, the latest first; what was taken back is marked."""
    return queries.list_dials(session, store_id, paging)


@router.post("/dial-readings", status_code=201, responses=writes)
async def post_dial_reading(
    body: schemas.DialReadingCreate, member: Measurer, write: Write
) -> schemas.DialReadingRead:
    """Write down what a store's thermometer shows: now, lowest and highest since it was reset, also days later."""
    return await write(actions.read_dial, member, body)


@router.post("/dial-readings/{reading_id}/taken-back", status_code=201, responses=writes)
async def post_dial_reading_taken_back(
    reading_id: UUID, body: schemas.TakenBack, member: Measurer, write: Write
) -> schemas.DialReadingRead:
    """Take back a reading that was mistyped; it stays in the record and counts no more."""
    return await write(actions.take_dial_back, member, reading_id, body)


@router.get("/stores/{store_id}/fruit", responses=reads)
def get_fruit(store_id: UUID, session: Read, member: Host) -> list[schemas.FruitRead]:
    """The ripening fruit that lies or lay in a store, the latest first."""
    queries.get_store(session, store_id)
    return queries.fruit_in(session, [store_id]).get(store_id, [])


@router.post("/store-fruit", status_code=201, responses=writes)
async def post_fruit(body: schemas.FruitCreate, member: Host, write: Write) -> schemas.FruitRead:
    """Write down that ripening fruit lies in a store since a day, or lay there until one."""
    return await write(actions.put_fruit_in, member, body)


@router.post("/store-fruit/{fruit_id}/end", status_code=201, responses=writes)
async def post_fruit_end(
    fruit_id: UUID, body: schemas.FruitEnd, member: Host, write: Write
) -> schemas.FruitRead:
    """Write down the day fruit was taken out; told again, it puts the day right."""
    return await write(actions.take_fruit_out, member, fruit_id, body)
