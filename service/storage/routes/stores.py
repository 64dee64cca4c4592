"""Stores, places, boxes, what is put away, where wood lies and lay."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Body, Query, Response

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
from service.members.rules import May
from service.members.signin import Asker, may
from service.storage import actions, queries, schemas
from service.storage.rules import Closeness

router = APIRouter(prefix="/api", tags=["storage"], route_class=StrictRoute)
reads: Any = problems(*READ_PROBLEMS)
writes: Any = problems(*WRITE_PROBLEMS)
edits: Any = problems(*EDIT_PROBLEMS)
Host = Annotated[Asker, may(May.STORE)]
At = Annotated[Instant | None, Query(description="At this moment; now if left out.")]


@router.get("/stores", responses=reads)
def get_stores(
    session: Read, member: Host, paging: Pages, open_only: Annotated[bool, Query(description="Leave closed stores out.")] = False,
    host_id: Annotated[UUID | None, Query(description="Only those that stand with this person.")] = None,
) -> Page[schemas.StoreRead]:  # fmt: skip
    """Stores by name, with their places."""
    return queries.list_stores(session, paging, open_only=open_only, host_id=host_id)


@router.post("/stores", status_code=201, responses=writes)
async def post_store(
    body: schemas.StoreCreate, member: Host, write: Write, response: Response
) -> schemas.StoreRead:
    """Set up a store; it has a place called nothing, which means anywhere in it."""
    store = await write(actions.add_store, member, body)
    with_etag(response, store.version)
    return store


@router.get("/stores/{store_id}", responses=reads)
def get_store(store_id: UUID, session: Read, member: Host, response: Response) -> schemas.StoreRead:
    """One store; the ETag is its version."""
    store = queries.get_store(session, store_id)
    with_etag(response, store.version)
    return store


@router.patch("/stores/{store_id}", responses=edits)
async def patch_store(
    store_id: UUID, body: schemas.StoreUpdate, member: Host, version: IfMatch, edit: Edit, response: Response
) -> schemas.StoreRead:
    """Correct a store, give it another host, close it or open it again."""
    store = await edit(actions.change_store, member, store_id, version, body)
    with_etag(response, store.version)
    return store


@router.get("/stores/{store_id}/contents", responses=reads)
def get_store_contents(
    store_id: UUID, session: Read, member: Host, paging: Pages, at: At = None
) -> Page[schemas.ContentRead]:
    """What lies in a store, in boxes and loose, or lay there at a moment."""
    return queries.contents_of_store(session, store_id, paging, at)


@router.get("/stores/{store_id}/page", responses=reads)
def get_store_page(store_id: UUID, session: Read, member: Host) -> schemas.StorePage:
    """A whole store for its host: every place, every box on it, every bundle."""
    return queries.store_page(session, store_id)


@router.post("/places", status_code=201, responses=writes)
async def post_place(body: schemas.PlaceCreate, member: Host, write: Write) -> schemas.PlaceRead:
    """Add a shelf or corner to a store."""
    return await write(actions.add_place, member, body)


@router.get("/places/{place_id}/contents", responses=reads)
def get_place_contents(
    place_id: UUID, session: Read, member: Host, paging: Pages, at: At = None
) -> Page[schemas.ContentRead]:
    """What lies on a place, in boxes and loose, or lay there at a moment."""
    return queries.contents_of_place(session, place_id, paging, at)


@router.get("/boxes", responses=reads)
def get_boxes(
    session: Read,
    member: Host,
    paging: Pages,
    store_id: Annotated[UUID | None, Query(description="Only those that stand in this store.")] = None,
) -> Page[schemas.BoxRead]:
    """Boxes by name, with where they stand."""
    return queries.list_boxes(session, paging, store_id=store_id)


@router.post("/boxes", status_code=201, responses=writes)
async def post_box(
    body: schemas.BoxCreate, member: Host, write: Write, response: Response
) -> schemas.BoxRead:
    """Add a box, put on its place at once where one is told."""
    box = await write(actions.add_box, member, body)
    with_etag(response, box.version)
    return box


@router.get("/boxes/{box_id}", responses=reads)
def get_box(box_id: UUID, session: Read, member: Host, response: Response) -> schemas.BoxRead:
    """One box and where it stands; the ETag is its version."""
    box = queries.get_box(session, box_id)
    with_etag(response, box.version)
    return box


@router.patch("/boxes/{box_id}", responses=edits)
async def patch_box(
    box_id: UUID, body: schemas.BoxUpdate, member: Host, version: IfMatch, edit: Edit, response: Response
) -> schemas.BoxRead:
    """Rename a box or correct its note."""
    box = await edit(actions.change_box, member, box_id, version, body)
    with_etag(response, box.version)
    return box


@router.get("/boxes/{box_id}/contents", responses=reads)
def get_box_contents(
    box_id: UUID, session: Read, member: Host, paging: Pages, at: At = None
) -> Page[schemas.ContentRead]:
    """What lies in a box, or lay in it at a moment."""
    return queries.contents_of_box(session, box_id, paging, at)


@router.post("/put-away", status_code=201, responses=writes)
async def post_put_away(
    body: Annotated[list[schemas.PutAwayCreate], Body(min_length=1, max_length=schemas.MOST_AT_ONCE)],
    member: Host,
    write: Write,
) -> list[schemas.PutAwayRead]:
    """Put bundles and boxes somewhere, or take them out; one scan moves a box with all that lies in it.

    An entry may come late: give `done_at`. Stopped wood stays where it is, but for a health steward with `to_isolate`.
    """
    return await write(actions.put_away, member, body)


@router.get("/bundles/{bundle_id}/whereabouts", responses=reads)
def get_whereabouts(bundle_id: UUID, session: Read, member: Host, at: At = None) -> schemas.WhereaboutsRead:
    """Where a bundle lies, or lay at a moment."""
    return queries.whereabouts_at(session, bundle_id, at)


@router.get("/bundles/{bundle_id}/stays", responses=reads)
def get_stays(bundle_id: UUID, session: Read, member: Host) -> list[schemas.StayRead]:
    """Where a bundle lay through time, followed through every move of its box."""
    return queries.stays_of(session, bundle_id)


@router.get("/bundles/{bundle_id}/beside", responses=reads)
def get_beside(
    bundle_id: UUID, session: Read, member: Host, from_at: Annotated[Instant | None, Query(description="From this moment on.")] = None,
    until_at: Annotated[Instant | None, Query(description="Until this moment.")] = None,
    at_least: Annotated[Closeness, Query(description="How near it must have lain: box, place or store.")] = Closeness.STORE,
) -> list[schemas.BesideRead]:  # fmt: skip
    """What lay in the same box, on the same place or in the same store, and when; the nearest first."""
    return queries.beside(session, bundle_id, from_at, until_at, at_least=at_least)
