"""Rootstocks, growth stages, grafting methods and plant-health agents."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.catalogue import schemas
from service.catalogue.queries.kinds import NoSuchEntry
from service.catalogue.rules import AgentNames, meant_agents, rank_agents
from service.catalogue.tables import (
    GraftingMethod,
    GrowthStage,
    HealthAgent,
    ReferenceTaken,
    Rootstock,
    Taxon,
)
from service.lib.paging import Page, Paging, page_of


def reference_taken(session: Session) -> str:
    """The digest of the reference files this database has; empty before the first start."""
    return session.execute(select(col(ReferenceTaken.sha256))).scalar_one_or_none() or ""


def rootstocks_with_kind() -> Any:
    return select(Rootstock, col(Taxon.kind), col(Taxon.botanical_name)).join(
        Taxon, col(Taxon.id) == col(Rootstock.taxon_id)
    )


def _rootstock_read(row: Any) -> schemas.RootstockRead:
    stock = row.Rootstock
    return schemas.RootstockRead(
        id=stock.id, taxon_id=stock.taxon_id, name=stock.name, kind=row.kind, botanical_name=row.botanical_name, form=stock.form,
        vigour=stock.vigour, note=stock.note, other_names=split(stock.other_names), source=stock.source, mark=stock.mark,
    )  # fmt: skip


def list_rootstocks(
    session: Session, paging: Paging, *, taxon_id: UUID | None = None
) -> Page[schemas.RootstockRead]:
    statement = rootstocks_with_kind()
    if taxon_id is not None:
        statement = statement.where(col(Rootstock.taxon_id) == taxon_id)
    keys: list[tuple[Any, bool]] = [(col(Rootstock.name), False), (col(Rootstock.id), False)]
    return page_of(session, statement, keys, paging, _rootstock_read)


def get_rootstock(session: Session, rootstock_id: UUID) -> schemas.RootstockRead:
    row = session.execute(rootstocks_with_kind().where(col(Rootstock.id) == rootstock_id)).first()
    if row is None:
        raise NoSuchEntry("There is no such rootstock in the catalogue.")
    return _rootstock_read(row)


def facts_for_rootstocks(
    session: Session, rootstock_ids: Iterable[UUID]
) -> dict[UUID, schemas.RootstockRead]:
    """Rootstocks by id; one statement."""
    rows = session.execute(rootstocks_with_kind().where(col(Rootstock.id).in_(list(rootstock_ids))))
    return {row.Rootstock.id: _rootstock_read(row) for row in rows}


def list_growth_stages(session: Session, scale: str | None = None) -> list[schemas.GrowthStageRead]:
    """The stages of one list in their order, or of all."""
    statement = select(GrowthStage).order_by(col(GrowthStage.scale), col(GrowthStage.place))
    if scale:
        statement = statement.where(col(GrowthStage.scale) == scale)
    return [schemas.GrowthStageRead.model_validate(row) for row in session.execute(statement).scalars()]


def list_methods(session: Session) -> list[schemas.GraftingMethodRead]:
    rows = session.execute(select(GraftingMethod).order_by(col(GraftingMethod.name))).scalars()
    return [schemas.GraftingMethodRead.model_validate(row) for row in rows]


def get_method(session: Session, slug: str) -> schemas.GraftingMethodRead:
    row = session.execute(select(GraftingMethod).where(col(GraftingMethod.slug) == slug)).scalar_one_or_none()
    if row is None:
        raise NoSuchEntry(f"There is no grafting method “{slug}”.", field="method")
    return schemas.GraftingMethodRead.model_validate(row)


def list_agents(session: Session, *, genus: str | None = None) -> list[schemas.HealthAgentRead]:
    """Agents by name; with a genus, those that live on it."""
    rows = session.execute(
        select(HealthAgent).order_by(col(HealthAgent.name), col(HealthAgent.slug))
    ).scalars()
    agents = [_agent_read(row) for row in rows]
    return [agent for agent in agents if not genus or genus in agent.host_genera]


def search_agents(
    session: Session, typed: str, *, genus: str | None = None, limit: int = 10
) -> list[schemas.HealthAgentRead]:
    """Agents by Latin name, code or common name, with a typing mistake, the nearest first; one statement."""
    agents = {agent.slug: agent for agent in list_agents(session, genus=genus)}
    ranked = rank_agents(typed, [_names(agent) for agent in agents.values()])
    return [agents[one.slug] for _, one in ranked[:limit]]


def meant_by(session: Session, typed: str) -> list[schemas.HealthAgentRead]:
    """The agents that may be meant by what was typed: several go by one common name. One statement."""
    if not typed.strip():
        return []
    agents = {agent.slug: agent for agent in list_agents(session)}
    return [agents[one.slug] for one in meant_agents(typed, [_names(agent) for agent in agents.values()])]


def hosts_of(session: Session, typed: Iterable[str]) -> dict[str, frozenset[str]]:
    """The genera that each of these agents can live on; of one that nobody knows, none. One statement, none for none."""
    wanted = {each for each in typed if each.strip()}
    if not wanted:
        return {}
    agents = {agent.slug: agent for agent in list_agents(session)}
    names = [_names(agent) for agent in agents.values()]
    return {
        each: frozenset(genus for one in meant_agents(each, names) for genus in agents[one.slug].host_genera)
        for each in wanted
    }


def _names(agent: schemas.HealthAgentRead) -> AgentNames:
    return AgentNames(agent.slug, agent.name, tuple(agent.other_names), tuple(split(agent.eppo_code)))


def get_agent(session: Session, slug: str) -> schemas.HealthAgentRead:
    row = session.execute(select(HealthAgent).where(col(HealthAgent.slug) == slug)).scalar_one_or_none()
    if row is None:
        raise NoSuchEntry(f"There is no agent “{slug}” in the catalogue.", field="agent")
    return _agent_read(row)


def _agent_read(row: HealthAgent) -> schemas.HealthAgentRead:
    return schemas.HealthAgentRead(
        **{**row.model_dump(), "host_genera": split(row.host_genera), "other_names": split(row.other_names)}
    )


def split(listed: str) -> list[str]:
    """The parts of a list written with semicolons."""
    return [part.strip() for part in listed.split(";") if part.strip()]
