"""Cuts, receipts and rounds over HTTP."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Body, Query, Request, Response

from service.collection import actions, queries, schemas
from service.collection.rules import CollectionKind, Wood
from service.collection.schemas.dormancy import CutDormancy
from service.collection.schemas.winters import SiteWinter
from service.lib.clock import local_day
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
from service.lib.schemas import Day
from service.members import queries as members
from service.members.rules import May
from service.members.signin import Asker, may
from service.trees.schemas import StopCandidate

router = APIRouter(prefix="/api", tags=["collection"], route_class=StrictRoute)
reads: Any = problems(*READ_PROBLEMS)
writes: Any = problems(*WRITE_PROBLEMS)
edits: Any = problems(*EDIT_PROBLEMS)
Reader = Annotated[Asker, may(May.READ)]
Collector = Annotated[Asker, may(May.COLLECT)]
Stopper = Annotated[Asker, may(May.STOP)]
Many = Body(min_length=1, max_length=schemas.MOST_AT_ONCE)
CutFrom = Annotated[Day | None, Query(description="Cut on this day or later.")]
WinterYear = Annotated[
    int | None,
    Query(ge=1900, le=2200, description="The year in which it begins; the present one, unless told."),
]
CutTo = Annotated[Day | None, Query(description="Cut on this day or earlier.")]


@router.get("/collections", responses=reads)
def get_collections(
    session: Read, member: Reader, paging: Pages, kind: CollectionKind | None = None, wood: Wood | None = None,
    tree_id: UUID | None = None, round_id: UUID | None = None, cultivar_id: UUID | None = None, cut_from: CutFrom = None,
    cut_to: CutTo = None,
) -> Page[schemas.CollectionSummary]:  # fmt: skip
    """Cuts and receipts, the newest first."""
    return queries.list_collections(
        session, paging, kind=kind, wood=wood, tree_id=tree_id, round_id=round_id, cultivar_id=cultivar_id, cut_from=cut_from,
        cut_to=cut_to,
    )  # fmt: skip


@router.post("/collections", status_code=201, responses=writes)
async def post_collections(
    body: Annotated[list[schemas.CollectionCreate], Many], member: Collector, write: Write
) -> list[schemas.CollectionRead]:  # fmt: skip
    """Record cuts: all of them or none. Each answer tells what is missing and what to know."""
    return await write(actions.record_collections, member, body)


@router.get("/collections/{collection_id}", responses=reads)
def get_collection(
    collection_id: UUID, session: Read, member: Reader, response: Response
) -> schemas.CollectionRead:
    """One cut or receipt; the ETag is its version."""
    collection = queries.get_collection(session, collection_id)
    with_etag(response, collection.version)
    return collection


@router.patch("/collections/{collection_id}", responses=edits)
async def patch_collection(
    collection_id: UUID, body: schemas.CollectionUpdate, member: Collector, version: IfMatch, edit: Edit, response: Response
) -> schemas.CollectionRead:  # fmt: skip
    """Tell what was left out of a cut or a receipt, or put it right."""
    collection = await edit(actions.finish_collection, member, collection_id, body, version)
    with_etag(response, collection.version)
    return collection


@router.get("/collections/{collection_id}/dormancy", responses=reads)
def get_dormancy(collection_id: UUID, session: Read, member: Reader) -> CutDormancy:
    """What may be done with a cut's wood, by its buds, its leaves and the air of its site: with evidence, and what would change it."""
    return queries.cut_dormancy(session, collection_id)


@router.get("/sites/{site_id}/winter", responses=reads)
def get_winter(
    request: Request, site_id: UUID, session: Read, member: Reader,
    year: WinterYear = None,
) -> SiteWinter:  # fmt: skip
    """Chill and warmth of a site day by day, what each kind there needs, its cuts, and the days of earlier winters."""
    today = local_day(request.app.state.clock.now(), members.club(session).zone)
    return queries.site_winter(session, site_id, today, year)


@router.get("/receipts", responses=reads)
def get_receipts(
    session: Read, member: Reader, paging: Pages, from_party_id: UUID | None = None, cut_from: CutFrom = None, cut_to: CutTo = None
) -> Page[schemas.CollectionSummary]:  # fmt: skip
    """Wood from outside, the newest first."""
    return queries.list_collections(
        session,
        paging,
        kind=CollectionKind.RECEIPT,
        from_party_id=from_party_id,
        cut_from=cut_from,
        cut_to=cut_to,
    )


@router.post("/receipts", status_code=201, responses=writes)
async def post_receipts(
    body: Annotated[list[schemas.ReceiptCreate], Many], member: Collector, write: Write
) -> list[schemas.CollectionRead]:  # fmt: skip
    """Take in wood from outside. From another plant-health area it needs the authority's recorded answer."""
    return await write(actions.record_receipts, member, body)


@router.get("/rounds", responses=reads)
def get_rounds(
    session: Read, member: Reader, paging: Pages, site_id: UUID | None = None
) -> Page[schemas.RoundSummary]:  # fmt: skip
    """Cutting rounds, the newest first."""
    return queries.list_rounds(session, paging, site_id=site_id)


@router.post("/rounds", status_code=201, responses=writes)
async def post_round(body: schemas.RoundCreate, member: Collector, write: Write) -> schemas.RoundRead:
    """Begin a cutting round by hand; the first cut of a day on a site begins one by itself."""
    return await write(actions.start_round, member, body)


@router.get("/rounds/{round_id}", responses=reads)
def get_round(round_id: UUID, session: Read, member: Reader, response: Response) -> schemas.RoundRead:
    """One round with its cuts in their order; the ETag is its version."""
    one = queries.get_round(session, round_id)
    with_etag(response, one.version)
    return one


@router.patch("/rounds/{round_id}", responses=edits)
async def patch_round(
    round_id: UUID, body: schemas.RoundUpdate, member: Collector, version: IfMatch, edit: Edit, response: Response
) -> schemas.RoundRead:  # fmt: skip
    """Say more of a round's tools."""
    one = await edit(actions.change_round, member, round_id, body, version)
    with_etag(response, one.version)
    return one


@router.get("/to-finish/collections", responses=reads)
def get_collections_to_finish(
    session: Read, member: Collector, paging: Pages,
    party_id: Annotated[UUID | None, Query(description="Only what this person recorded or had recorded.")] = None,
) -> Page[schemas.ToFinish]:  # fmt: skip
    """Cuts and receipts that wait for what was left out."""
    return queries.list_to_finish(session, paging, party_id=party_id)


@router.get("/trees/{tree_id}/stop-candidates", responses=reads)
def get_stop_candidates(
    tree_id: UUID, session: Read, member: Stopper,
    agent: Annotated[str, Query(max_length=200, pattern=r"^[^\x00]*$", description="Slug, name or code of what is suspected.")] = "",
) -> list[StopCandidate]:  # fmt: skip
    """Trees to consider for the same stop: hosts on the site, and trees cut later on the same rounds."""
    return queries.stop_candidates(session, tree_id, agent)
