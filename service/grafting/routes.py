"""The bench over HTTP: grafts, plants, takes."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Body, Depends, Query, Request, Response

from service.grafting import actions, queries, rules, schemas
from service.grafting.rules import GroupBy, PlantState
from service.lib.clock import local_day, start_of_day
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
from service.lib.schemas import Line
from service.members.queries import club
from service.members.rules import May
from service.members.signin import Asker, may

router = APIRouter(prefix="/api", tags=["grafting"], route_class=StrictRoute)
reads: Any = problems(*READ_PROBLEMS)
writes: Any = problems(*WRITE_PROBLEMS)
edits: Any = problems(*EDIT_PROBLEMS)
Reader = Annotated[Asker, may(May.READ)]
Grafter = Annotated[Asker, may(May.GRAFT)]
Planter = Annotated[Asker, may(May.TREES)]
Year = Annotated[
    int | None, Query(ge=1900, le=2200, description="Grafts of this calendar year in the club's zone.")
]


def _season(session: Read, year: Year = None) -> tuple[datetime, datetime] | None:
    zone = club(session).zone
    return year and (start_of_day(date(year, 1, 1), zone), start_of_day(date(year + 1, 1, 1), zone))  # type: ignore[return-value]


def _today(request: Request, session: Read) -> date:
    return local_day(request.app.state.clock.now(), club(session).zone)


Season = Annotated[tuple[datetime, datetime] | None, Depends(_season)]
Today = Annotated[date, Depends(_today)]


@router.get("/grafts", responses=reads)
def get_grafts(
    session: Read, member: Reader, paging: Pages, season: Season,
    party_id: Annotated[UUID | None, Query(description="Only those made for this person.")] = None,
    method: Annotated[Line | None, Query(max_length=60, description="Only those made by this method.")] = None,
) -> Page[schemas.GraftSummary]:  # fmt: skip
    """Grafts, the latest first. Who does not handle the club's sticks sees their own."""
    only_for = rules.sees_only(member)
    return queries.list_grafts(
        session, paging, only_for=only_for, party_id=party_id, season=season, method=method
    )


@router.post("/grafts", status_code=201, responses=writes)
async def post_grafts(
    body: Annotated[list[schemas.GraftCreate], Body(min_length=1, max_length=schemas.MOST_AT_ONCE)],
    member: Grafter,
    write: Write,
) -> list[schemas.GraftRead]:
    """Write down grafts of scanned wood: what it was put on, by which method, how many, the plants they made.

    What is known of each join is told with its source and warns; nothing but a stop refuses it. Who does not handle the
    club's sticks grafts only wood they hold. Disinfect tools between trees and varieties, mind your hands, and follow
    your plant-health authority's rules and licensed practice first.
    """
    return await write(actions.record_grafts, member, body)


@router.get("/grafts/due", responses=reads)
def get_takes_due(session: Read, member: Reader, paging: Pages, today: Today) -> Page[schemas.GraftSummary]:
    """Grafts whose take should have been judged by today and was not, the longest due first."""
    return queries.list_takes_due(session, paging, today, only_for=rules.sees_only(member))


@router.get("/grafts/counts", responses=reads)
def get_take_counts(
    session: Read,
    member: Reader,
    season: Season,
    by: Annotated[GroupBy, Query(description="method, tree or variety")] = GroupBy.METHOD,
) -> list[schemas.TakeCount]:
    """How many were made, judged and alive. Counts only: so few make no law."""
    return queries.count_takes(session, by, season=season, only_for=rules.sees_only(member))


@router.get("/grafts/{graft_id}", responses=reads)
def get_graft(graft_id: UUID, session: Read, member: Reader, response: Response) -> schemas.GraftRead:
    """One graft with its plants and looks; the ETag is its version."""
    graft = queries.get_graft(session, graft_id, only_for=rules.sees_only(member))
    with_etag(response, graft.version)
    return graft


@router.patch("/grafts/{graft_id}", responses=edits)
async def patch_graft(
    graft_id: UUID,
    body: schemas.GraftUpdate,
    member: Grafter,
    version: IfMatch,
    edit: Edit,
    response: Response,
) -> schemas.GraftRead:
    """Correct a graft's note, or when its take shall be judged."""
    graft = await edit(actions.change_graft, member, graft_id, version, body)
    with_etag(response, graft.version)
    return graft


@router.post("/grafts/{graft_id}/taken-back", status_code=201, responses=writes)
async def post_taken_back(
    graft_id: UUID, body: schemas.GraftUndo, member: Grafter, write: Write
) -> schemas.GraftRead:
    """Take back a graft that was recorded by mistake: its sticks return to their bundles, its plants become void."""
    return await write(actions.take_back_graft, member, graft_id, body)


@router.post("/take-checks", status_code=201, responses=writes)
async def post_take_checks(
    body: Annotated[list[schemas.TakeCheckCreate], Body(min_length=1, max_length=schemas.MOST_AT_ONCE)],
    member: Grafter,
    write: Write,
) -> list[schemas.TakeChecked]:
    """Write down whether grafts took: so many alive of so many looked at. Later looks win."""
    return await write(actions.record_take_checks, member, body)


@router.get("/plants", responses=reads)
def get_plants(
    session: Read, member: Reader, paging: Pages, holder_id: Annotated[UUID | None, Query(description="Only this person's.")] = None,
    state: Annotated[PlantState | None, Query(description="Only in this state.")] = None,
) -> Page[schemas.PlantSummary]:  # fmt: skip
    """Grafted plants, the latest first. Who does not handle the club's sticks sees their own."""
    return queries.list_plants(
        session, paging, only_for=rules.sees_only(member), holder_id=holder_id, state=state
    )


@router.get("/plants/{plant_id}", responses=reads)
def get_plant(plant_id: UUID, session: Read, member: Reader, response: Response) -> schemas.PlantRead:
    """One plant with every graft it carries; the ETag is its version."""
    plant = queries.get_plant(session, plant_id, only_for=rules.sees_only(member))
    with_etag(response, plant.version)
    return plant


@router.patch("/plants/{plant_id}", responses=edits)
async def patch_plant(
    plant_id: UUID,
    body: schemas.PlantUpdate,
    member: Grafter,
    version: IfMatch,
    edit: Edit,
    response: Response,
) -> schemas.PlantRead:
    """Correct a plant's note, or say that it is no longer there."""
    plant = await edit(actions.change_plant, member, plant_id, version, body)
    with_etag(response, plant.version)
    return plant


@router.get("/plants/{plant_id}/moves", responses=reads)
def get_plant_moves(
    plant_id: UUID, session: Read, member: Reader, paging: Pages
) -> Page[schemas.PlantMoveRead]:
    """How a plant came from one hand to the next, in recorded order; names only for who handles people's wood."""
    queries.get_plant(session, plant_id, only_for=rules.sees_only(member))
    return queries.list_plant_moves(session, plant_id, paging, with_names=rules.any_wood(member))


@router.post("/plant-moves", status_code=201, responses=writes)
async def post_plant_moves(
    body: Annotated[list[schemas.PlantMoveCreate], Body(min_length=1, max_length=schemas.MOST_AT_ONCE)],
    member: Grafter,
    write: Write,
) -> list[schemas.PlantMoveRead]:
    """Hand plants over, give them outside, take them back, or write down that they died.

    Refused where a stop binds the plant, or where it would cross a plant-health boundary without the authority's answer.
    """
    return await write(actions.pass_on_plants, member, body)


@router.post("/plants/{plant_id}/source-tree", status_code=201, responses=writes)
async def post_source_tree(
    plant_id: UUID, body: schemas.PlantAsTree, member: Planter, write: Write
) -> schemas.PlantedTree:
    """A grafted plant that took becomes a source tree, once; variety, stock and interstem carry over."""
    return await write(actions.plant_as_tree, member, plant_id, body)
