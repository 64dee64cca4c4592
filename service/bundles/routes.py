"""Bundles and their sticks over HTTP."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Query, Response

from service.bundles import actions, queries
from service.bundles.schemas import (
    AuditRead,
    BalanceRead,
    BundleRead,
    BundleSummary,
    BundleUpdate,
    CutToLengthCreate,
    DiscardCreate,
    GiveOutsideCreate,
    RecountCreate,
    StickMoveRead,
)
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
from service.members.rules import May, check_may_ask_who_has, names_only
from service.members.signin import Asker, may

router = APIRouter(prefix="/api", tags=["bundles"], route_class=StrictRoute)

Reader = Annotated[Asker, may(May.READ)]
Sticker = Annotated[Asker, may(May.STICKS)]


@router.get("/bundles", responses=problems(*READ_PROBLEMS))
def get_bundles(
    session: Read, member: Reader, paging: Pages,
    tree_id: UUID | None = None, collection_id: UUID | None = None, cultivar_id: UUID | None = None, holder_id: UUID | None = None,
    parent_id: UUID | None = None, of_club: bool = False, on_hand: bool = False, stopped: Annotated[bool | None, Query()] = None,
) -> Page[BundleSummary]:  # fmt: skip
    """Bundles, newest first. Who holds them is told to who hands wood over or looks after people; your own always."""
    check_may_ask_who_has(member, holder_id)
    return queries.list_bundles(
        session, paging, tree_id=tree_id, collection_id=collection_id, cultivar_id=cultivar_id, holder_id=holder_id,
        parent_id=parent_id, of_club=of_club, on_hand=on_hand, stopped=stopped, name_only=names_only(member),
    )  # fmt: skip


@router.get("/bundles/{bundle_id}", responses=problems(*READ_PROBLEMS))
def get_bundle(bundle_id: UUID, session: Read, member: Reader, response: Response) -> BundleRead:
    """One bundle and its counters. Who holds it is told to who hands wood over or looks after people; your own always."""
    bundle = queries.get_bundle(session, bundle_id, name_only=names_only(member))
    with_etag(response, bundle.version)
    return bundle


@router.patch("/bundles/{bundle_id}", responses=problems(*EDIT_PROBLEMS))
async def patch_bundle(
    bundle_id: UUID, body: BundleUpdate, member: Sticker, write: Edit, version: IfMatch, response: Response
) -> BundleRead:
    """Mend what was measured or noted."""
    bundle = await write(actions.change_bundle, member, bundle_id, body, version)
    with_etag(response, bundle.version)
    return bundle


@router.get("/bundles/{bundle_id}/moves", responses=problems(*READ_PROBLEMS))
def get_moves(bundle_id: UUID, session: Read, member: Sticker, paging: Pages) -> Page[StickMoveRead]:
    """The ledger of a bundle, in recorded order, with everybody whose hands its sticks went through."""
    return queries.list_moves(session, bundle_id, paging)


@router.post("/discards", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_discard(body: DiscardCreate, member: Sticker, write: Write) -> BundleRead:
    """Throw sticks away."""
    return await write(actions.discard_sticks, member, body)


@router.post("/cuts-to-length", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_cut_to_length(body: CutToLengthCreate, member: Sticker, write: Write) -> BundleRead:
    """Cut long sticks into several."""
    return await write(actions.cut_to_length, member, body)


@router.post("/recounts", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_recount(body: RecountCreate, member: Sticker, write: Write) -> BundleRead:
    """Note a count; the record follows it."""
    return await write(actions.recount_bundle, member, body)


@router.post("/given-outside", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_given_outside(body: GiveOutsideCreate, member: Sticker, write: Write) -> BundleRead:
    """Sticks leave the record."""
    return await write(actions.give_outside, member, body)


@router.get("/collections/{collection_id}/balance", responses=problems(*READ_PROBLEMS))
def get_balance(collection_id: UUID, session: Read, member: Reader) -> BalanceRead:
    """Where the sticks of a cutting and all their descendants are."""
    return BalanceRead.model_validate(queries.balance_of_collection(session, collection_id))


@router.get("/audit", responses=problems(*READ_PROBLEMS))
def get_audit(session: Read, member: Annotated[Asker, may(May.ADMINISTER)]) -> AuditRead:
    """Compare every counter with the ledger, and every cutting with conservation."""
    return queries.audit(session)
