"""Lists over HTTP."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

import anyio.to_thread
from fastapi import APIRouter, Query, Request, Response

from service.lib.paging import Page
from service.lib.request import (
    READ_PROBLEMS,
    WRITE_PROBLEMS,
    Edit,
    Pages,
    Read,
    StrictRoute,
    Write,
    problems,
)
from service.lib.sent_files import Prepared
from service.lists import actions, queries, schemas
from service.lists.rules import ListSort, sample_of
from service.members.rules import May
from service.members.signin import Asker, may

router = APIRouter(prefix="/api", tags=["lists"], route_class=StrictRoute)
reads: Any = problems(*READ_PROBLEMS)
writes: Any = problems(*WRITE_PROBLEMS)
Mover = Annotated[Asker, may(May.PEOPLE)]
_BINARY = {"type": "string", "format": "binary"}
_EXAMPLE = {
    "summary": "Two trees",
    "value": "Variety,Kind,Site\nBramley,Apple,Withy Bank\nVictoria,Plum,Withy Bank\n",
}
_BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {"application/octet-stream": {"schema": _BINARY, "examples": {"trees": _EXAMPLE}}},
    }
}


@router.get("/lists", responses=reads)
def get_lists(session: Read, member: Mover, paging: Pages) -> Page[schemas.ListFileSummary]:
    """Lists that wait or were taken, the latest first."""
    return queries.list_lists(session, paging)


@router.post("/lists", status_code=201, responses=writes, openapi_extra=_BODY)
async def post_list(
    request: Request, member: Mover, write: Write, list_id: UUID, sort: ListSort,
    name: Annotated[str, Query(max_length=200, description="The file's name.")] = "",
) -> schemas.ListFileSummary:  # fmt: skip
    """Send a club's own table, CSV or XLSX, as the body. It waits until it is taken; nothing of it is in the record before."""
    raw = await request.body()

    def read() -> Prepared[actions.SentList]:
        with request.app.state.database.reading() as session:
            return actions.read_sent(session, sort, name, raw)

    return await write(actions.send_list, member, list_id, sort, await anyio.to_thread.run_sync(read))


@router.get("/lists/samples/{sort}", responses=reads, response_class=Response)
def get_list_sample(member: Mover, sort: ListSort) -> Response:
    """A sample of a sort of lists, CSV: headings that are known, and two invented rows."""
    headers = {"Content-Disposition": f'attachment; filename="{sort.value}.csv"'}
    return Response(sample_of(sort), media_type="text/csv; charset=utf-8", headers=headers)


@router.get("/lists/{list_id}", responses=reads)
def get_list(request: Request, list_id: UUID, session: Read, member: Mover) -> schemas.ListFileRead:
    """A list: its columns, its first rows as they are read, what it asks once for each spelling, what cannot be used."""
    return queries.look_at_list(session, list_id, request.app.state.clock.now(), looker=member)


@router.put("/lists/{list_id}/form", responses=writes)
async def put_list_form(
    request: Request, list_id: UUID, body: schemas.ListFormSet, member: Mover, edit: Edit
) -> schemas.ListFileSummary:
    """Say which sheet and which column tells what, and what holds where a row tells nothing."""

    def read() -> Prepared[queries.ListCounted]:
        with request.app.state.database.reading() as session:
            return queries.read_form(session, list_id, body)

    return await edit(actions.set_list_form, member, list_id, body, await anyio.to_thread.run_sync(read))


@router.put("/lists/{list_id}/answers", responses=writes)
async def put_list_answers(
    list_id: UUID, body: schemas.ListAnswersSet, member: Mover, edit: Edit
) -> schemas.ListFileSummary:
    """Answer what the list asks; answers given before stay."""
    return await edit(actions.answer_list, member, list_id, body)


@router.post("/lists/{list_id}/take", status_code=201, responses=writes)
async def post_list_take(
    request: Request, list_id: UUID, body: schemas.ListTake, member: Mover, write: Write
) -> schemas.ListFileSummary:
    """Take a list, whole or not at all."""
    state = request.app.state

    def read() -> Prepared[queries.ListPrepared]:
        with state.database.reading() as session:
            return queries.prepare_list(session, list_id, state.clock.now())

    return await write(actions.take_list, member, list_id, body, await anyio.to_thread.run_sync(read))


@router.post("/lists/{list_id}/take-back", status_code=201, responses=writes)
async def post_list_take_back(
    list_id: UUID, body: schemas.ListTakeBack, member: Mover, write: Write
) -> schemas.ListFileSummary:
    """Take a taken list back, whole or not at all, while nothing of the record rests on what it brought."""
    return await write(actions.take_list_back, member, list_id, body)


@router.post("/lists/{list_id}/drop", status_code=201, responses=writes)
async def post_list_drop(list_id: UUID, member: Mover, write: Write) -> schemas.ListFileSummary:
    """Throw a waiting list away."""
    return await write(actions.drop_list, member, list_id)
