"""Loggers and their readings."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

import anyio.to_thread
from fastapi import APIRouter, Query, Request, Response

from service.lib.paging import Page
from service.lib.request import (
    EDIT_PROBLEMS,
    READ_PROBLEMS,
    WRITE_PROBLEMS,
    Edit,
    IfMatch,
    Pages,
    Read,
    StrictRoute,
    Write,
    problems,
    with_etag,
)
from service.lib.schemas import Instant
from service.lib.sent_files import Prepared
from service.members.queries import club
from service.members.rules import May
from service.members.signin import Asker, may
from service.storage import actions, queries, schemas
from service.storage.queries.readings import (
    hours_read,
    read_readings,
)
from service.storage.rules import FileTold, span_of

router = APIRouter(prefix="/api", tags=["storage"], route_class=StrictRoute)
reads: Any = problems(*READ_PROBLEMS)
writes: Any = problems(*WRITE_PROBLEMS)
edits: Any = problems(*EDIT_PROBLEMS)
Host = Annotated[Asker, may(May.STORE)]
Measurer = Annotated[Asker, may(May.READINGS)]
From = Annotated[Instant, Query(description="From this moment on.")]
Until = Annotated[Instant, Query(description="Up to this moment, at most 32 days later.")]


@router.get("/loggers", responses=reads)
def get_loggers(
    session: Read, member: Host, paging: Pages, used_only: Annotated[bool, Query(description="Leave out those no longer used.")] = False
) -> Page[schemas.LoggerSummary]:  # fmt: skip
    """Loggers by name, where they hang, and how far their readings reach."""
    return queries.list_loggers(session, paging, used_only=used_only)


@router.post("/loggers", status_code=201, responses=writes)
async def post_logger(
    body: schemas.LoggerCreate, member: Host, write: Write, response: Response
) -> schemas.LoggerRead:
    """Add a logger, hung in its place at once where one is told."""
    logger = await write(actions.add_logger, member, body)
    with_etag(response, logger.version)
    return logger


@router.get("/loggers/{logger_id}", responses=reads)
def get_logger(logger_id: UUID, session: Read, member: Host, response: Response) -> schemas.LoggerRead:
    """One logger: where it hangs and hung, what is added to its readings, what is left out of them."""
    logger = queries.get_logger(session, logger_id)
    with_etag(response, logger.version)
    return logger


@router.patch("/loggers/{logger_id}", responses=edits)
async def patch_logger(
    logger_id: UUID, body: schemas.LoggerUpdate, member: Host, version: IfMatch, edit: Edit, response: Response
) -> schemas.LoggerRead:  # fmt: skip
    """Rename a logger, correct what is known of it, take it out of use or into it again."""
    logger = await edit(actions.change_logger, member, logger_id, version, body)
    with_etag(response, logger.version)
    return logger


@router.post("/loggers/{logger_id}/moves", status_code=201, responses=writes)
async def post_logger_move(
    logger_id: UUID, body: schemas.LoggerMoveCreate, member: Host, write: Write
) -> schemas.LoggerRead:
    """Hang a logger somewhere from a moment on, or take it out; told again for the same moment it puts the first right."""
    return await write(actions.hang_logger, member, logger_id, body)


@router.post("/loggers/{logger_id}/offsets", status_code=201, responses=writes)
async def post_logger_offset(
    logger_id: UUID, body: schemas.LoggerOffsetCreate, member: Host, write: Write
) -> schemas.LoggerRead:
    """Write down what a comparison found: so much is added to every reading from then on."""
    return await write(actions.set_offset, member, logger_id, body)


@router.post("/loggers/{logger_id}/left-out", status_code=201, responses=writes)
async def post_left_out(
    logger_id: UUID, body: schemas.LeftOutCreate, member: Host, write: Write
) -> schemas.LoggerRead:
    """Leave a stretch of readings out: they are kept, and count for nothing."""
    return await write(actions.leave_out, member, logger_id, body)


@router.post("/left-out/{stretch_id}/end", status_code=201, responses=writes)
async def post_left_out_end(stretch_id: UUID, member: Host, write: Write) -> schemas.LoggerRead:
    """Take a stretch of readings in again."""
    return await write(actions.take_in_again, member, stretch_id)


@router.put("/loggers/{logger_id}/readings", responses=writes)
async def put_readings(
    logger_id: UUID, body: schemas.ReadingBatch, member: Measurer, edit: Edit
) -> schemas.ReadingsTaken:
    """Send readings of a logger, whole or not at all. It needs no key: what stands already is left, so send it again at will.

    What is odd about them is taken, and told as `doubts`: the other unit, a stuck sensor, days said twice.

    The right `readings` alone is enough: a token for a logger's program needs no other scope.
    """
    return await edit(actions.send_readings, member, logger_id, body)


@router.get("/loggers/{logger_id}/readings", responses=reads)
def get_readings(
    logger_id: UUID, session: Read, member: Host, from_at: From, until_at: Until
) -> list[schemas.ReadingRead]:
    """The readings of a logger digit by digit as they came, those that are left out among them."""
    return read_readings(queries.readings_of_logger(session, logger_id, span_of(from_at, until_at)))


@router.get("/loggers/{logger_id}/hours", responses=reads)
def get_logger_hours(
    logger_id: UUID, session: Read, member: Host, from_at: From, until_at: Until
) -> list[schemas.HourRead]:
    """Hourly means of a logger, offsets added and stretches left out. An hour without a reading is not there."""
    return hours_read(queries.record_of_logger(session, logger_id, span_of(from_at, until_at)).hours())


@router.get("/stores/{store_id}/hours", responses=reads)
def get_store_hours(
    store_id: UUID, session: Read, member: Host, from_at: From, until_at: Until
) -> list[schemas.LoggerHours]:
    """Hourly means of all that was measured in a store, by logger, while it hung there."""
    return queries.hours_in_store(session, store_id, span_of(from_at, until_at))


# -- files -------------------------------------------------------------------------------------------------------------


@router.get("/loggers/{logger_id}/files", responses=reads)
def get_files(logger_id: UUID, session: Read, member: Host, paging: Pages) -> Page[schemas.FileSummary]:
    """The files of a logger that wait or were taken, the latest first."""
    return queries.list_files(session, logger_id, paging)


@router.post("/loggers/{logger_id}/files", status_code=201, responses=writes)
async def post_file(
    logger_id: UUID, body: schemas.FileSend, member: Host, write: Write
) -> schemas.FileSummary:
    """Send a logger's CSV file as text. It waits until it is taken; nothing of it is in the record before."""
    await anyio.to_thread.run_sync(actions.check_rows_of, body.text)
    return await write(actions.send_text, member, logger_id, body)


@router.get("/reading-files/{file_id}", responses=reads)
def get_file(request: Request, file_id: UUID, session: Read, member: Host) -> schemas.FileRead:
    """A file: its columns, how it is read, and what it would bring: faults, gaps, what differs from the record."""
    now, zone = request.app.state.clock.now(), club(session).zone
    return queries.look_at_file(session, file_id, now, zone).file


@router.put("/reading-files/{file_id}/form", responses=writes)
async def put_file_form(
    file_id: UUID, body: schemas.FileFormSet, member: Host, edit: Edit
) -> schemas.FileSummary:
    """Say which column is what, the unit and the zone; it is remembered for the logger's next file."""
    return await edit(actions.set_file_form, member, file_id, body)


@router.post("/reading-files/{file_id}/take", status_code=201, responses=writes)
async def post_file_take(
    request: Request, file_id: UUID, body: schemas.FileTake, member: Host, write: Write
) -> schemas.FileSummary:
    """Take a file's readings, whole or not at all. The same file twice adds nothing."""
    state = request.app.state

    def read() -> Prepared[FileTold | None]:
        with state.database.reading() as session:
            return queries.prepare_file(session, file_id, state.clock.now())

    return await write(actions.take_file, member, file_id, body, await anyio.to_thread.run_sync(read))


@router.post("/reading-files/{file_id}/drop", status_code=201, responses=writes)
async def post_file_drop(file_id: UUID, member: Host, write: Write) -> schemas.FileSummary:
    """Throw a waiting file away."""
    return await write(actions.drop_file, member, file_id)


@router.post("/reading-files/{file_id}/taken-back", status_code=201, responses=writes)
async def post_file_taken_back(file_id: UUID, member: Host, write: Write) -> schemas.FileSummary:
    """Take what a file brought out of the record again, and nothing else."""
    return await write(actions.take_file_back, member, file_id)
