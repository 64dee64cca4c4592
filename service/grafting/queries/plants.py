"""Grafted plants, in lists and one by one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.tables import Bundle
from service.catalogue.tables import Cultivar, Rootstock, Taxon
from service.collection.tables import Collection
from service.grafting.queries.bench import open_plant_stops, variety_of
from service.grafting.rules import NoSuchPlant, Part, PlantState, PlantToPlant
from service.grafting.schemas import PlantSummary
from service.grafting.tables import Graft, GraftWood, Plant, PlantStop
from service.lib.paging import Page, Paging, page_of
from service.trees.rules import Identity
from service.trees.tables import SourceTree

_Stock = aliased(SourceTree, name="stock_tree")
_Mother = aliased(SourceTree, name="mother_tree")


@dataclass(frozen=True)
class PlantFacts:
    """A plant as pages and traces need it."""

    id: UUID
    number: int
    code: str | None
    graft_id: UUID
    holder_id: UUID | None
    source_tree_id: UUID | None
    state: PlantState
    open_stops: int
    kind: str
    variety: str
    stock: str
    grafted_at: datetime


def _summaries() -> Any:
    return select(Plant, open_plant_stops().label("open_stops"))


def plant_summary(row: Any) -> PlantSummary:
    return PlantSummary(
        **{**row.Plant.model_dump(exclude={"note", "made_at"}), "state": PlantState(row.Plant.state)},
        open_stops=row.open_stops,
    )


def plants_with_wood() -> Any:
    """Plants with the wood they were made of; one row for each scion, that of the smallest collection number first."""
    return (
        select(
            Plant, open_plant_stops().label("open_stops"), col(Graft.done_at), col(Graft.rootstock_id), col(Graft.stock_as_told),
            col(Graft.for_party_id), col(Rootstock.name).label("rootstock"), col(_Stock.number).label("tree_number"),
            col(Collection.taxon_id), col(Collection.cultivar_id), col(Collection.name_as_told), col(GraftWood.part), col(Taxon.kind),
            col(Cultivar.epithet),
            col(Cultivar.trade_designation), col(Cultivar.protection), col(Cultivar.protected_until),
            col(_Mother.identity).label("mother_identity"), col(_Mother.no_propagation_contract),
        )
        .join(Graft, col(Graft.id) == col(Plant.graft_id))
        .join(GraftWood, col(GraftWood.graft_id) == col(Graft.id))
        .join(Bundle, col(Bundle.id) == col(GraftWood.bundle_id))
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(_Mother, col(_Mother.id) == col(Collection.tree_id))
        .outerjoin(Rootstock, col(Rootstock.id) == col(Graft.rootstock_id))
        .outerjoin(_Stock, col(_Stock.id) == col(Graft.stock_tree_id))
        .order_by(col(Plant.number), col(GraftWood.part).desc(), col(Collection.number), col(Bundle.id))
    )  # fmt: skip


def stock_of(row: Any) -> str:
    return str(
        row.rootstock
        or row.stock_as_told
        or (f"tree {row.tree_number}" if row.tree_number is not None else "")
    )


def facts_for_plants(session: Session, plant_ids: Iterable[UUID]) -> dict[UUID, PlantFacts]:
    """Plants by id; one statement whatever their number."""
    found: dict[UUID, list[Any]] = {}
    for row in session.execute(
        plants_with_wood().where(col(Plant.id).in_(list(plant_ids)), col(GraftWood.part) == Part.SCION)
    ):
        found.setdefault(row.Plant.id, []).append(row)
    return {plant_id: _facts(rows) for plant_id, rows in found.items()}


def _facts(rows: Sequence[Any]) -> PlantFacts:
    plant, first = rows[0].Plant, rows[0]
    return PlantFacts(
        plant.id, plant.number, plant.code, plant.graft_id, plant.holder_id, plant.source_tree_id, PlantState(plant.state),
        first.open_stops, first.kind, varieties_of(rows), stock_of(first), first.done_at,
    )  # fmt: skip


def varieties_of(rows: Iterable[Any]) -> str:
    return " and ".join(dict.fromkeys(variety_of(row) for row in rows))


def plants_of_grafts(session: Session, graft_ids: Iterable[UUID]) -> dict[UUID, list[PlantSummary]]:
    """The plants that grafts made, by number; one statement."""
    statement = _summaries().where(col(Plant.graft_id).in_(list(graft_ids))).order_by(col(Plant.number))
    found: dict[UUID, list[PlantSummary]] = {}
    for row in session.execute(statement):
        found.setdefault(row.Plant.graft_id, []).append(plant_summary(row))
    return found


def list_plants(
    session: Session,
    paging: Paging,
    *,
    only_for: UUID | None = None,
    holder_id: UUID | None = None,
    state: PlantState | None = None,
) -> Page[PlantSummary]:
    """Plants, the latest first; two statements."""
    statement = _summaries()
    for wanted in (only_for, holder_id):
        if wanted is not None:
            statement = statement.where(col(Plant.holder_id) == wanted)
    wanted_state = col(Plant.state) != PlantState.VOID if state is None else col(Plant.state) == state
    statement = statement.where(wanted_state)
    return page_of(session, statement, [(col(Plant.number), True)], paging, plant_summary)


def lock_plant(session: Session, plant_id: UUID) -> Plant:
    """A plant kept from other writers until this is saved. Raises `NoSuchPlant`."""
    plant = session.execute(
        select(Plant).where(col(Plant.id) == plant_id).with_for_update()
    ).scalar_one_or_none()
    if plant is None:
        raise NoSuchPlant("There is no plant under this id.")
    return plant


def plant_to_plant(session: Session, plant_id: UUID) -> PlantToPlant:
    """A plant with all that carries over to a source tree; one statement. Raises `NoSuchPlant`."""
    rows = session.execute(plants_with_wood().where(col(Plant.id) == plant_id)).all()
    scions = [row for row in rows if row.part == Part.SCION]
    if not scions:
        raise NoSuchPlant("There is no plant under this id.")
    first, plant = scions[0], scions[0].Plant
    same_kind = [row.cultivar_id for row in scions if row.taxon_id == first.taxon_id and row.cultivar_id]
    return PlantToPlant(
        plant_id, plant.number, PlantState(plant.state), plant.source_tree_id, first.open_stops, first.taxon_id, first.cultivar_id,
        first.name_as_told, Identity(first.mother_identity) if first.mother_identity else None,
        any(row.no_propagation_contract for row in rows), first.rootstock_id, stock_of(first),
        tuple(dict.fromkeys(variety_of(row) for row in rows if row.part == Part.INTERSTEM)), plant.holder_id,
        tuple(one for one in dict.fromkeys(same_kind) if one != first.cultivar_id),
    )  # fmt: skip


def plants_bound_by(session: Session, stop_id: UUID) -> dict[UUID, bool]:
    """The plants a stop was ever put on, and whether it binds them now; one statement."""
    rows = session.execute(
        select(col(PlantStop.plant_id), col(PlantStop.lifted_at)).where(col(PlantStop.stop_id) == stop_id)
    )
    return {row.plant_id: row.lifted_at is None for row in rows}


def stops_on_plants(session: Session, plant_ids: Iterable[UUID]) -> dict[UUID, list[UUID]]:
    """The stops that bind plants now; one statement."""
    statement = select(col(PlantStop.plant_id), col(PlantStop.stop_id)).where(
        col(PlantStop.plant_id).in_(list(plant_ids)), col(PlantStop.lifted_at).is_(None)
    )
    found: dict[UUID, list[UUID]] = {}
    for row in session.execute(statement):
        found.setdefault(row.plant_id, []).append(row.stop_id)
    return found
