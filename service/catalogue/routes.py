"""The catalogue over HTTP."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Depends, Query, Request, Response

from service.catalogue import actions, queries, schemas
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
from service.members.rules import May
from service.members.signin import Asker, may

router = APIRouter(prefix="/api", tags=["catalogue"], route_class=StrictRoute)
reads: Any = problems(*READ_PROBLEMS)
writes: Any = problems(*WRITE_PROBLEMS)
edits: Any = problems(*EDIT_PROBLEMS)
Reader = Annotated[Asker, may(May.READ)]
Collector = Annotated[Asker, may(May.COLLECT)]
Steward = Annotated[Asker, may(May.CATALOGUE)]


def _now(request: Request) -> datetime:
    now: datetime = request.app.state.clock.now()
    return now


Now = Annotated[datetime, Depends(_now)]
KindId = Annotated[UUID | None, Query(description="Only of this kind.")]
Genus = Annotated[str | None, Query(max_length=100, description="Only of this genus.")]


@router.get("/taxa", responses=reads)
def get_taxa(session: Read, member: Reader, paging: Pages, genus: Genus = None) -> Page[schemas.TaxonRead]:
    """Kinds of plant."""
    return queries.list_taxa(session, paging, genus=genus)


@router.get("/taxa/{taxon_id}", responses=reads)
def get_taxon(taxon_id: UUID, session: Read, member: Reader) -> schemas.TaxonRead:
    """One kind."""
    return queries.get_taxon(session, taxon_id)


@router.get("/cultivars", responses=reads)
def get_cultivars(
    session: Read, member: Reader, paging: Pages, taxon_id: KindId = None,
    provisional: Annotated[bool | None, Query(description="Only names that a steward has still to settle, or only settled ones.")] = None,
) -> Page[schemas.CultivarSummary]:  # fmt: skip
    """Varieties by name."""
    return queries.list_cultivars(session, paging, taxon_id=taxon_id, provisional=provisional)


@router.get("/cultivars/search", responses=reads)
def search_cultivars(
    session: Read, member: Reader,
    q: Annotated[str, Query(max_length=300, description="Any spelling: a synonym, without accents, with a typing mistake.")],
    kind: Annotated[str | None, Query(max_length=100, description="Only of this kind, by its page word.")] = None,
    taxon_id: KindId = None, limit: Annotated[int, Query(ge=1, le=20)] = 10,
) -> list[schemas.CultivarFound]:  # fmt: skip
    """Varieties by any spelling, the nearest first, with the spelling that was found."""
    return queries.search_cultivars(session, q, kind=kind, taxon_id=taxon_id, limit=limit)


@router.get("/cultivars/{cultivar_id}", responses=reads)
def get_cultivar(
    cultivar_id: UUID, session: Read, member: Reader, now: Now, response: Response
) -> schemas.CultivarRead:
    """One variety with its spellings; the ETag is its version."""
    cultivar = queries.get_cultivar(session, cultivar_id, now)
    with_etag(response, cultivar.version)
    return cultivar


@router.post("/cultivars", status_code=201, responses=writes)
async def post_cultivar(
    body: schemas.CultivarCreate, member: Collector, write: Write
) -> schemas.CultivarRead:
    """Name a variety: for good as a steward, provisionally as a collector."""
    return await write(actions.name_cultivar, member, body)


@router.patch("/cultivars/{cultivar_id}", responses=edits)
async def patch_cultivar(
    cultivar_id: UUID,
    body: schemas.CultivarUpdate,
    member: Steward,
    version: IfMatch,
    edit: Edit,
    response: Response,
) -> schemas.CultivarRead:
    """Correct a variety's name; the old one stays as a spelling."""
    cultivar = await edit(actions.change_cultivar, member, cultivar_id, version, body)
    with_etag(response, cultivar.version)
    return cultivar


@router.patch("/cultivars/{cultivar_id}/protection", responses=edits)
async def patch_protection(
    cultivar_id: UUID,
    body: schemas.ProtectionSet,
    member: Steward,
    version: IfMatch,
    edit: Edit,
    response: Response,
) -> schemas.CultivarRead:
    """Note what a look into the register showed."""
    cultivar = await edit(actions.note_protection, member, cultivar_id, version, body)
    with_etag(response, cultivar.version)
    return cultivar


@router.post("/cultivars/{cultivar_id}/names", status_code=201, responses=writes)
async def post_spelling(
    cultivar_id: UUID, body: schemas.SpellingCreate, member: Collector, write: Write
) -> schemas.SpellingRead:
    """Add a synonym or a donor's spelling."""
    return await write(actions.add_spelling, member, cultivar_id, body)


@router.get("/rootstocks", responses=reads)
def get_rootstocks(
    session: Read, member: Reader, paging: Pages, taxon_id: KindId = None
) -> Page[schemas.RootstockRead]:
    """Rootstocks by name."""
    return queries.list_rootstocks(session, paging, taxon_id=taxon_id)


@router.get("/rootstocks/{rootstock_id}", responses=reads)
def get_rootstock(rootstock_id: UUID, session: Read, member: Reader) -> schemas.RootstockRead:
    """One rootstock."""
    return queries.get_rootstock(session, rootstock_id)


@router.get("/growth-stages", responses=reads)
def get_growth_stages(
    session: Read,
    member: Reader,
    scale: Annotated[str | None, Query(max_length=24, description="pome, stone or plain")] = None,
) -> list[schemas.GrowthStageRead]:
    """Growth stages of the leaf bud, list by list."""
    return queries.list_growth_stages(session, scale)


@router.get("/grafting-methods", responses=reads)
def get_grafting_methods(session: Read, member: Reader) -> list[schemas.GraftingMethodRead]:
    """Ways of joining wood and stock."""
    return queries.list_methods(session)


@router.get("/plant-health-agents", responses=reads)
def get_plant_health_agents(
    session: Read, member: Reader, genus: Genus = None
) -> list[schemas.HealthAgentRead]:
    """Diseases and pests that wood can carry. Not a legal list: the plant-health authority decides."""
    return queries.list_agents(session, genus=genus)


@router.get("/plant-health-agents/search", responses=reads)
def search_plant_health_agents(
    session: Read, member: Reader,
    q: Annotated[str, Query(max_length=300, description="Latin name, EPPO code or common name, with a typing mistake.")],
    genus: Genus = None, limit: Annotated[int, Query(ge=1, le=20)] = 10,
) -> list[schemas.HealthAgentRead]:  # fmt: skip
    """Diseases and pests by whatever people call them, the nearest first."""
    return queries.search_agents(session, q, genus=genus, limit=limit)


@router.get("/join-advice", responses=reads)
def get_join_advice(
    session: Read, member: Reader, taxon_id: Annotated[UUID, Query(description="The wood's kind.")],
    cultivar_id: Annotated[UUID | None, Query(description="The wood's variety.")] = None,
    rootstock_id: Annotated[UUID | None, Query(description="The rootstock; or give stock_taxon_id.")] = None,
    stock_taxon_id: Annotated[UUID | None, Query(description="The kind of the tree that is worked over.")] = None,
) -> schemas.JoinAdviceRead:  # fmt: skip
    """Whether a wood and a stock unite, in this direction."""
    return queries.advise_join(session, taxon_id, cultivar_id, rootstock_id, stock_taxon_id=stock_taxon_id)


@router.get("/join-advice/stocks", responses=reads)
def get_stocks_for_wood(
    session: Read, member: Reader, taxon_id: Annotated[UUID, Query(description="The wood's kind.")],
    cultivar_id: Annotated[UUID | None, Query(description="The wood's variety.")] = None,
    limit: Annotated[int, Query(ge=1, le=50)] = 8,
) -> list[schemas.StockAdviceRead]:  # fmt: skip
    """The stocks a wood may be joined to, the surest first."""
    return queries.advice_for_wood(session, taxon_id, cultivar_id, limit=limit)
