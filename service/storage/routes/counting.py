"""Shelves and boxes counted by scanning."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

import anyio.to_thread
from fastapi import APIRouter, Request

from service.lib.request import READ_PROBLEMS, WRITE_PROBLEMS, Read, StrictRoute, Write, problems
from service.lib.sent_pictures import PICTURE_BODY, sent_picture
from service.members.rules import May
from service.members.signin import Asker, may
from service.storage import actions, queries, schemas

router = APIRouter(prefix="/api", tags=["storage"], route_class=StrictRoute)
reads: Any = problems(*READ_PROBLEMS)
writes: Any = problems(*WRITE_PROBLEMS)
Host = Annotated[Asker, may(May.STORE)]


@router.post("/shelf-counts", status_code=201, responses=writes)
async def post_shelf_count(
    body: schemas.ShelfCountCreate, member: Host, write: Write
) -> schemas.ShelfCountRead:
    """Begin to go through a place or a box, tag by tag."""
    return await write(actions.begin_count, member, body)


@router.get("/shelf-counts/{count_id}", responses=reads)
def get_shelf_count(count_id: UUID, session: Read, member: Host) -> schemas.ShelfCountRead:
    """A count as it stands: present, not expected, and not scanned yet; once ended, what was missing then."""
    return queries.get_count(session, count_id)


@router.post("/shelf-counts/{count_id}/scans", status_code=201, responses=writes)
async def post_shelf_scan(
    count_id: UUID, body: schemas.ShelfScanCreate, member: Host, write: Write
) -> schemas.ShelfScanned:
    """A tag that lies there; the same one twice is counted once. Nothing is moved by it."""
    return await write(actions.scan_on_shelf, member, count_id, body)


@router.get("/shelf-counts/{count_id}/photos", responses=reads)
def get_shelf_photos(count_id: UUID, session: Read, member: Host) -> list[schemas.ShelfPhotoRead]:
    """The pictures of a count, the newest first, with the tags that were read in each and where they stand in it."""
    queries.spot_of_count(session, count_id)
    return queries.photos_of_count(session, count_id)


@router.post("/shelf-counts/{count_id}/photos", status_code=201, responses=writes, openapi_extra=PICTURE_BODY)
async def post_shelf_photo(
    request: Request, count_id: UUID, session: Read, member: Host, write: Write
) -> schemas.ShelfPhotoRead:
    """One picture of all that lies there: every tag in it is read and counted. The picture is kept, made small."""
    actions.check_takes_photo(session, count_id)
    sent = await sent_picture(request)
    body = await anyio.to_thread.run_sync(actions.see_shelf, request.app.state.settings.data_dir, sent)
    return await write(actions.read_shelf_photo, member, count_id, body)


@router.post("/shelf-counts/{count_id}/end", status_code=201, responses=writes)
async def post_shelf_count_end(count_id: UUID, member: Host, write: Write) -> schemas.ShelfCountRead:
    """End a count: what was found and what was missing is written down as it stands."""
    return await write(actions.end_count, member, count_id)
