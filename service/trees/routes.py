"""Trees over HTTP: sites, trees, looks, stops as they stand, pictures."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any
from uuid import UUID

import anyio.to_thread
from fastapi import APIRouter, Body, Depends, Query, Request, Response
from fastapi.responses import FileResponse

from service.lib.clock import local_day
from service.lib.paging import Page
from service.lib.pictures import check_pictures_kept, keep_picture, path_of_picture
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
from service.lib.sent_pictures import PICTURE_BODY, sent_picture
from service.members import queries as members
from service.members.rules import May
from service.members.signin import Asker, may
from service.trees import actions, queries, schemas
from service.trees.rules import CheckKind, MayCut, StopReason

router = APIRouter(prefix="/api", tags=["trees"], route_class=StrictRoute)
reads: Any = problems(*READ_PROBLEMS)
writes: Any = problems(*WRITE_PROBLEMS)
edits: Any = problems(*EDIT_PROBLEMS)
Reader = Annotated[Asker, may(May.READ)]
Planter = Annotated[Asker, may(May.TREES)]
Looker = Annotated[Asker, may(May.TREE_CHECKS)]
Many = Body(min_length=1, max_length=schemas.MOST_AT_ONCE)


def _exact(member: Reader) -> bool:
    return May.TREE_CHECKS in member.may


# Where exactly a tree stands is told to who works with trees; the others see the site's name.
Exact = Annotated[bool, Depends(_exact)]


def _today(request: Request, session: Read) -> date:
    return local_day(request.app.state.clock.now(), members.club(session).zone)


Today = Annotated[date, Depends(_today)]
FirstDay = Annotated[date, Query(description="The first day.")]
LastDay = Annotated[date, Query(description="The last day.")]


# -- sites ---------------------------------------------------------------------------------------------------------


@router.get("/sites", responses=reads)
def get_sites(
    session: Read, exact: Exact, paging: Pages, area_id: Annotated[UUID | None, Query(description="Only in this plant-health area.")] = None
) -> Page[schemas.SiteRead]:  # fmt: skip
    """Sites by name."""
    return queries.list_sites(session, paging, exact=exact, area_id=area_id)


@router.post("/sites", status_code=201, responses=writes)
async def post_sites(
    body: Annotated[list[schemas.SiteCreate], Many], member: Planter, write: Write
) -> list[schemas.SiteRead]:  # fmt: skip
    """Enter sites, each in its plant-health area."""
    return await write(actions.add_sites, member, body)


@router.get("/sites/{site_id}", responses=reads)
def get_site(site_id: UUID, session: Read, exact: Exact, response: Response) -> schemas.SiteRead:
    """One site; the ETag is its version."""
    site = queries.get_site(session, site_id, exact=exact)
    with_etag(response, site.version)
    return site


@router.patch("/sites/{site_id}", responses=edits)
async def patch_site(
    site_id: UUID, body: schemas.SiteUpdate, member: Planter, version: IfMatch, edit: Edit, response: Response
) -> schemas.SiteRead:  # fmt: skip
    """Correct a site."""
    site = await edit(actions.change_site, member, site_id, body, version)
    with_etag(response, site.version)
    return site


@router.get("/sites/{site_id}/air", responses=reads)
def get_site_air(
    site_id: UUID, session: Read, member: Reader, from_day: FirstDay, until_day: LastDay
) -> schemas.SiteAirRead:
    """The lowest and the highest air temperature of each day, and where it was measured. A day without a reading is not there."""
    return queries.air_at_site(session, site_id, from_day, until_day)


@router.post("/sites/{site_id}/air", status_code=201, responses=writes)
async def post_site_air(
    site_id: UUID, body: schemas.AirRecordCreate, member: Planter, write: Write
) -> schemas.AirTaken:
    """Enter days of a site's air temperature, whole or not at all; a day told before takes the new values."""
    return await write(actions.record_air, member, site_id, body)


# -- trees ---------------------------------------------------------------------------------------------------------


@router.get("/trees", responses=reads)
def get_trees(
    session: Read, exact: Exact, paging: Pages, site_id: UUID | None = None, taxon_id: UUID | None = None,
    cultivar_id: UUID | None = None, owner_id: UUID | None = None, may_cut: MayCut | None = None,
    stopped: Annotated[bool | None, Query(description="Only trees that are stopped, or only those that are not.")] = None,
    felled: Annotated[bool | None, Query(description="Only felled trees, or only standing ones.")] = None,
    provisional: bool | None = None,
    q: Annotated[str, Query(max_length=200, pattern=r"^[^\x00]*$", description="A number, or any spelling of the variety.")] = "",
) -> Page[schemas.TreeSummary]:  # fmt: skip
    """Trees by number."""
    return queries.list_trees(
        session, paging, exact=exact, site_id=site_id, taxon_id=taxon_id, cultivar_id=cultivar_id, owner_id=owner_id, may_cut=may_cut,
        stopped=stopped, felled=felled, provisional=provisional, q=q,
    )  # fmt: skip


@router.post("/trees", status_code=201, responses=writes)
async def post_trees(
    body: Annotated[list[schemas.TreeCreate], Many], member: Planter, write: Write
) -> list[schemas.TreeRead]:  # fmt: skip
    """Enter trees; each gets its number."""
    return await write(actions.add_trees, member, body)


@router.get("/trees/{tree_id}", responses=reads)
def get_tree(tree_id: UUID, session: Read, exact: Exact, response: Response) -> schemas.TreeRead:
    """One tree with its varieties and the stops that bind it; the ETag is its version."""
    tree = queries.get_tree(session, tree_id, exact=exact)
    with_etag(response, tree.version)
    return tree


@router.get("/trees/{tree_id}/owner-word", responses=reads)
def get_owner_word(tree_id: UUID, session: Read, member: Looker) -> list[schemas.OwnerWordRead]:
    """What was said of cutting this tree, the newest first, and who wrote it down for whom."""
    return queries.owner_words(session, tree_id)


@router.put("/trees/{tree_id}/owner-word", responses=edits)
async def put_owner_word(
    tree_id: UUID, body: schemas.OwnerWordSet, member: Reader, version: IfMatch, edit: Edit, response: Response
) -> schemas.TreeRead:  # fmt: skip
    """Say whether a tree may be cut and how much: its owner, whoever acts for the owner, or a steward."""
    tree = await edit(actions.set_owner_word, member, tree_id, body, version)
    with_etag(response, tree.version)
    return tree


@router.patch("/trees/{tree_id}", responses=edits)
async def patch_tree(
    tree_id: UUID, body: schemas.TreeUpdate, member: Planter, version: IfMatch, edit: Edit, response: Response
) -> schemas.TreeRead:  # fmt: skip
    """Correct what is known of a tree. A stopped one takes notes only, or its name where that is in doubt."""
    tree = await edit(actions.change_tree, member, tree_id, body, version)
    with_etag(response, tree.version)
    return tree


def _looks(request: Request, body: Annotated[list[schemas.LookCreate], Many]) -> list[schemas.LookCreate]:
    check_pictures_kept(request.app.state.settings.data_dir, [look.picture for look in body])
    return body


def _looks_at_trees(
    request: Request, body: Annotated[list[schemas.TreeCheckCreate], Many]
) -> list[schemas.TreeCheckCreate]:
    check_pictures_kept(request.app.state.settings.data_dir, [look.picture for look in body])
    return body


Looks = Annotated[list[schemas.LookCreate], Depends(_looks)]
LooksAtTrees = Annotated[list[schemas.TreeCheckCreate], Depends(_looks_at_trees)]


@router.get("/trees/{tree_id}/checks", responses=reads)
def get_tree_checks(
    tree_id: UUID, session: Read, member: Reader, paging: Pages, kind: CheckKind | None = None
) -> Page[schemas.TreeCheckRead]:  # fmt: skip
    """Looks at a tree, the newest first."""
    return queries.list_tree_checks(session, paging, tree_id, kind=kind)


@router.post("/trees/{tree_id}/checks", status_code=201, responses=writes)
async def post_checks_of_tree(
    tree_id: UUID, body: Looks, member: Looker, write: Write
) -> list[schemas.TreeCheckRead]:  # fmt: skip
    """Write down looks at a tree. A symptom or a wrong fruit comes back with the stop it asks for."""
    return await write(actions.record_looks_at_tree, member, tree_id, body)


@router.post("/tree-checks", status_code=201, responses=writes)
async def post_tree_checks(
    body: LooksAtTrees, member: Looker, write: Write
) -> list[schemas.TreeCheckRead]:  # fmt: skip
    """Write down looks at many trees."""
    return await write(actions.record_tree_checks, member, body)


@router.get("/sites/{site_id}/round", responses=reads)
def get_site_round(site_id: UUID, session: Read, member: Looker, today: Today) -> schemas.SiteRound:
    """The trees that stand on a site in walking order, with this season's looks in leaf and in fruit."""
    return queries.site_round(session, site_id, today)


@router.post("/tree-checks/{look_id}/taken-back", responses=writes)
async def post_look_taken_back(look_id: UUID, member: Looker, write: Write) -> schemas.TreeCheckRead:
    """Take back a look that was written down by mistake."""
    return await write(actions.take_back_look, member, look_id)


def _picture_kept(request: Request, body: schemas.LookPicture) -> schemas.LookPicture:
    check_pictures_kept(request.app.state.settings.data_dir, [body.picture])
    return body


@router.post("/tree-checks/{look_id}/picture", responses=writes)
async def post_picture_of_look(
    look_id: UUID, body: Annotated[schemas.LookPicture, Depends(_picture_kept)], member: Looker, write: Write
) -> schemas.TreeCheckRead:  # fmt: skip
    """Add a picture to a look that has none yet."""
    return await write(actions.add_picture, member, look_id, body)


# -- stops -----------------------------------------------------------------------------------------------------------


@router.get("/stops", responses=reads)
def get_stops(
    session: Read, member: Reader, paging: Pages,
    is_open: Annotated[bool | None, Query(alias="open", description="Only stops that bind, or only those that were cleared.")] = None,
    reason: StopReason | None = None, tree_id: UUID | None = None,
) -> Page[schemas.StopSummary]:  # fmt: skip
    """Stops, the newest first."""
    return queries.list_stops(session, paging, is_open=is_open, reason=reason, tree_id=tree_id)


@router.get("/stops/{stop_id}", responses=reads)
def get_stop(stop_id: UUID, session: Read, member: Reader, response: Response) -> schemas.StopRead:
    """One stop with its steps and the trees it binds."""
    stop = queries.get_stop(session, stop_id)
    with_etag(response, stop.version)
    return stop


# -- pictures --------------------------------------------------------------------------------------------------------


@router.post("/pictures", status_code=201, responses=problems(*WRITE_PROBLEMS), openapi_extra=PICTURE_BODY)
async def post_picture(request: Request, member: Looker, write: Write) -> schemas.PictureRead:
    """Send a picture. It is re-encoded, so its address is that of what is kept; the same picture is kept once."""
    folder, sent = request.app.state.settings.data_dir, await sent_picture(request)
    kept = await anyio.to_thread.run_sync(keep_picture, folder, sent)
    return schemas.PictureRead.model_validate({**vars(kept), "address": f"/api/pictures/{kept.sha256}"})


@router.get(
    "/pictures/{sha256}",
    responses={**reads, 200: {"content": {"image/jpeg": {}}}},
    response_class=FileResponse,
)
def get_picture(request: Request, sha256: str, member: Reader) -> FileResponse:
    """A kept picture; it never changes."""
    path = path_of_picture(request.app.state.settings.data_dir, sha256)
    return FileResponse(
        path, media_type="image/jpeg", headers={"Cache-Control": "private, max-age=31536000, immutable"}
    )
