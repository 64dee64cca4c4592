"""Tags, label sheets and public addresses over HTTP."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Body, Request, Response
from starlette.concurrency import run_in_threadpool

from service.lib.paging import Page
from service.lib.request import READ_PROBLEMS, WRITE_PROBLEMS, Pages, Read, StrictRoute, Write, problems
from service.members.rules import May
from service.members.signin import Asker, may
from service.tags import actions, queries
from service.tags.rules.words import TagKind
from service.tags.schemas import (
    MOST_TAGS,
    BlankBatchCreate,
    BlankBatchRead,
    BlanksGivenUp,
    LabelledCollection,
    LabelledCutCreate,
    LabelledReceiptCreate,
    LabelSheetCreate,
    LabelSheetRead,
    PublicAddressCreate,
    PublicAddressRead,
    SheetSize,
    SheetSizeCreate,
    TagBinding,
    TagCreate,
    TagRead,
    TagReplaced,
    WaitingLabel,
)

router = APIRouter(prefix="/api", tags=["tags"], route_class=StrictRoute)
Reader = Annotated[Asker, may(May.READ)]
Labeller = Annotated[Asker, may(May.LABELS)]
Collector = Annotated[Asker, may(May.COLLECT)]
Administrator = Annotated[Asker, may(May.ADMINISTER)]


Tags = Annotated[list[TagCreate], Body(min_length=1, max_length=MOST_TAGS)]
Cuts = Annotated[list[LabelledCutCreate], Body(min_length=1, max_length=MOST_TAGS)]
Receipts = Annotated[list[LabelledReceiptCreate], Body(min_length=1, max_length=MOST_TAGS)]


class PdfResponse(Response):
    media_type = "application/pdf"


_PDF = {
    "content": {"application/pdf": {"schema": {"type": "string", "format": "binary"}}},
    "description": "The sheet, ready to print.",
}


def _pdf(pdf: bytes, batch_id: UUID, status: int = 200) -> PdfResponse:
    headers = {
        "Location": f"/api/label-sheets/{batch_id}",
        "Content-Disposition": f'inline; filename="labels-{batch_id}.pdf"',
        "Cache-Control": "private, no-store",
    }
    return PdfResponse(pdf, status, headers)


# -- tags --------------------------------------------------------------------------------------------------------


@router.get("/tags", responses=problems(*READ_PROBLEMS))
def get_tags_of(thing_id: UUID, _member: Reader, session: Read) -> list[TagRead]:
    """The tags that one thing has or had, the latest first."""
    return queries.list_tags_of(session, thing_id)


@router.get("/tags/{code}", responses=problems(*READ_PROBLEMS))
def get_tag(code: str, _member: Reader, session: Read) -> TagRead:
    """A tag by its code, typed with or without spaces, in any case. A mistyped code is told from an unknown one."""
    return queries.get_tag(session, code)


@router.post("/tags", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_tags(body: Tags, member: Labeller, write: Write) -> list[TagRead]:
    """Tags for things that have none, and second tags for bundles."""
    return await write(actions.add_tags, member, body)


@router.post("/tags/{code}/replacement", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_replacement(code: str, member: Labeller, write: Write) -> TagReplaced:
    """A new tag for the thing whose tag was lost. The old code still resolves."""
    return await write(actions.replace_tag, member, code)


# -- blank tags, printed ahead -----------------------------------------------------------------------------------


@router.get("/blank-batches", responses=problems(*READ_PROBLEMS))
def get_blank_batches(_member: Labeller, session: Read, paging: Pages) -> Page[BlankBatchRead]:
    """Batches of blank tags, the latest first: how many were printed, bound, spoiled, lost, and are left."""
    return queries.list_blank_batches(session, paging)


@router.get("/blank-batches/{batch_id}", responses=problems(*READ_PROBLEMS))
def get_blank_batch(batch_id: UUID, _member: Labeller, session: Read) -> BlankBatchRead:
    """One batch of blank tags and what became of them."""
    return queries.get_blank_batch(session, batch_id)


@router.get("/blank-batches/{batch_id}/left", responses=problems(*READ_PROBLEMS))
def get_blanks_left(batch_id: UUID, _member: Labeller, session: Read) -> list[str]:
    """The codes that are bound to nothing yet and were not given up, in the order of printing."""
    return queries.list_blanks_left(session, batch_id)


@router.post("/blank-batches", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_blank_batch(body: BlankBatchCreate, member: Labeller, write: Write) -> BlankBatchRead:
    """New blank tags to print ahead; refused until the public address is confirmed."""
    return await write(actions.print_blanks, member, body)


@router.post("/blanks-given-up", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_blanks_given_up(body: BlanksGivenUp, member: Labeller, write: Write) -> list[TagRead]:
    """Write down blank tags as spoiled or lost: they are never bound. All of them or none."""
    return await write(actions.give_up_blanks, member, body)


@router.post("/tags/{code}/binding", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_binding(code: str, body: TagBinding, member: Labeller, write: Write) -> TagRead:
    """Bind a blank tag to the thing it was hung on, for good. Of two who bind the same one, one succeeds."""
    return await write(actions.bind_blank, member, code, body)


# -- collecting and labelling in one call ------------------------------------------------------------------------


@router.post("/labelled-cuts", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_labelled_cuts(body: Cuts, member: Collector, write: Write) -> list[LabelledCollection]:
    """Cuts at trees, tied into bundles that get their tags: all of it or nothing."""
    return await write(actions.collect_and_label, member, body)


@router.post("/labelled-receipts", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_labelled_receipts(body: Receipts, member: Collector, write: Write) -> list[LabelledCollection]:
    """Wood from outside, tied into bundles that get their tags: all of it or nothing."""
    return await write(actions.receive_and_label, member, body)


# -- labels ------------------------------------------------------------------------------------------------------


@router.get("/waiting-labels", responses=problems(*READ_PROBLEMS))
def get_waiting_labels(
    request: Request, _member: Labeller, session: Read, paging: Pages, kind: TagKind | None = None
) -> Page[WaitingLabel]:
    """Tags in use whose labels were never printed, the oldest first."""
    return queries.list_waiting_labels(session, paging, now=request.app.state.clock.now(), kind=kind)


@router.get("/label-sheet-sizes", responses=problems(*READ_PROBLEMS))
def get_sheet_sizes(_member: Reader, session: Read, retired: bool = False) -> list[SheetSize]:
    """The sheets and rolls of labels that can be printed on, used last first; with `retired`, also those offered no more."""
    return queries.list_sheet_sizes(session, retired=retired)


@router.post("/label-sheet-sizes", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_sheet_size(body: SheetSizeCreate, member: Labeller, write: Write) -> SheetSize:
    """Write down a sheet or roll as it was measured. It is never changed: one that was measured wrong is retired."""
    return await write(actions.add_sheet, member, body)


@router.post("/label-sheet-sizes/{name}/retirement", responses=problems(*WRITE_PROBLEMS))
async def post_sheet_retirement(name: str, member: Labeller, write: Write) -> SheetSize:
    """Offer a sheet of the club's own no more."""
    return await write(actions.retire_sheet, member, name)


@router.get("/label-sheets", responses=problems(*READ_PROBLEMS))
def get_label_sheets(_member: Labeller, session: Read, paging: Pages) -> Page[LabelSheetRead]:
    """Printings of labels, the latest first."""
    return queries.list_label_sheets(session, paging)


@router.post(
    "/label-sheets",
    status_code=201,
    response_class=PdfResponse,
    responses={**problems(*WRITE_PROBLEMS), 201: _PDF},
)
async def post_label_sheet(
    body: LabelSheetCreate, member: Labeller, write: Write, session: Read
) -> PdfResponse:
    """Print labels: the answer is the PDF, its `Location` the record of the printing."""
    batch = await write(actions.print_labels, member, body)
    return _pdf(await run_in_threadpool(queries.draw_sheet, session, batch.id), batch.id, 201)


@router.get("/label-sheets/{sheet_id}", responses=problems(*READ_PROBLEMS))
def get_label_sheet(sheet_id: UUID, _member: Labeller, session: Read) -> LabelSheetRead:
    """One printing of labels: when, by whom, on which sheet, which tags."""
    return queries.get_label_sheet(session, sheet_id)


@router.get(
    "/label-sheets/{sheet_id}/pdf",
    response_class=PdfResponse,
    responses={**problems(*READ_PROBLEMS), 200: _PDF},
)
def get_label_sheet_pdf(sheet_id: UUID, _member: Labeller, session: Read) -> PdfResponse:
    """The same sheet again, the same to the byte."""
    return _pdf(queries.draw_sheet(session, sheet_id), sheet_id)


# -- the address tags carry --------------------------------------------------------------------------------------


@router.get("/public-addresses", responses=problems(*READ_PROBLEMS))
def get_public_addresses(_member: Labeller, session: Read) -> list[PublicAddressRead]:
    """Every address ever proposed, the current one first. Scans accept all that were confirmed."""
    return queries.list_addresses(session)


@router.post("/public-addresses", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_public_address(
    body: PublicAddressCreate, member: Administrator, write: Write
) -> PublicAddressRead:
    """Propose the host name that tags are to carry; nothing is printed with it until it is confirmed."""
    return await write(actions.propose_address, member, body)


@router.post(
    "/public-addresses/{address_id}/confirmation", status_code=201, responses=problems(*WRITE_PROBLEMS)
)
async def post_confirmation(address_id: UUID, member: Administrator, write: Write) -> PublicAddressRead:
    """Labels carry this address from now on. Old addresses stay accepted for ever."""
    return await write(actions.confirm_address, member, address_id)
