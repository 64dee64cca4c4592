"""What must be known before a graft is written down: its woods, its stock, its method, the way between areas."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, func, select
from sqlmodel import Session, col

from service.bundles.queries import ON_HAND
from service.bundles.tables import Bundle
from service.catalogue.queries.stocks import rootstocks_with_kind
from service.catalogue.rules import page_name
from service.catalogue.tables import Cultivar, GraftingMethod, Rootstock, Taxon
from service.collection.tables import Collection
from service.grafting.queries.joins import Sort
from service.grafting.rules import NOT_THERE, FlagHeld, Part, PlantState, StockAtBench, WoodAtBench
from service.grafting.tables import Graft, GraftWood, Plant, PlantStop
from service.lib.codes import group_code
from service.trees.tables import Site, SourceTree


@dataclass(frozen=True)
class TreeAsStock:
    stock: StockAtBench
    sort: Sort
    site_id: UUID


@dataclass(frozen=True)
class PlantAsStock:
    stock: StockAtBench
    state: PlantState
    source_tree_id: UUID | None
    sort: Sort  # of the wood it was made of
    rootstock_id: UUID | None  # what it stands on
    grafted_at: datetime


@dataclass(frozen=True)
class Method:
    slug: str
    name: str
    first_look_weeks: int | None
    verdict_weeks_from: int | None
    verdict_weeks_to: int | None
    verdict_mark: str
    tie: str


def variety_of(row: Any) -> str:
    """The short name of a variety from a row with its parts; what was told where it is not in the list."""
    return (
        page_name(row.epithet, row.trade_designation or "") if row.epithet else row.name_as_told or row.kind
    )


def woods_at_bench(session: Session, bundle_ids: Iterable[UUID]) -> dict[UUID, WoodAtBench]:
    """Bundles as wood to graft; one statement whatever their number."""
    statement = (
        select(
            col(Bundle.id), col(Bundle.code), col(Bundle.holder_id), col(Bundle.grafted), col(Bundle.open_stops), col(Collection.taxon_id),
            col(Collection.cultivar_id), col(Collection.name_as_told), col(Collection.area_id), col(Collection.number), col(Taxon.genus),
            col(Taxon.kind), col(Cultivar.epithet), col(Cultivar.trade_designation),
        )
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .where(col(Bundle.id).in_(list(bundle_ids)))
    )  # fmt: skip
    return {
        row.id: WoodAtBench(
            row.id, row.code, group_code(row.code) if row.code else f"a flag of collection {row.number}", row.kind, variety_of(row),
            row.taxon_id, row.cultivar_id, row.genus, row.area_id, row.holder_id, row.grafted, row.open_stops,
        )
        for row in session.execute(statement)
    }  # fmt: skip


def flags_of(session: Session, bundle_ids: Iterable[UUID], party_id: UUID) -> list[FlagHeld]:
    """The stick flags that a party holds of bundles, those with the most sticks first; one statement."""
    statement = (
        select(col(Bundle.id), col(Bundle.parent_id), col(Bundle.holder_id), ON_HAND.label("on_hand"))
        .where(
            col(Bundle.parent_id).in_(list(bundle_ids)),
            col(Bundle.is_flag),
            col(Bundle.holder_id) == party_id,
        )
        .order_by(ON_HAND.desc(), col(Bundle.id))
    )
    return [FlagHeld(row.id, row.parent_id, row.holder_id, row.on_hand) for row in session.execute(statement)]


def rootstocks_at_bench(session: Session, ids: Iterable[UUID]) -> dict[UUID, StockAtBench]:
    rows = session.execute(rootstocks_with_kind().where(col(Rootstock.id).in_(list(ids))))
    return {row.Rootstock.id: StockAtBench(row.Rootstock.name) for row in rows}


def trees_at_bench(session: Session, ids: Iterable[UUID]) -> dict[UUID, TreeAsStock]:
    """Standing trees as stock, which nobody stops or fells until this is saved; one statement."""
    statement = (
        select(
            col(SourceTree.id), col(SourceTree.number), col(SourceTree.open_stops), col(SourceTree.felled_on), col(SourceTree.taxon_id),
            col(SourceTree.cultivar_id), col(SourceTree.site_id), col(Site.area_id),
        )
        .join(Site, col(Site.id) == col(SourceTree.site_id))
        .where(col(SourceTree.id).in_(list(ids)))
        .order_by(col(SourceTree.id))
        .with_for_update(of=SourceTree, read=True)
    )  # fmt: skip
    return {
        row.id: TreeAsStock(
            StockAtBench(f"tree {row.number}", row.open_stops, row.felled_on is not None, row.area_id), Sort(row.taxon_id, row.cultivar_id),
            row.site_id,
        )
        for row in session.execute(statement)
    }  # fmt: skip


def open_plant_stops() -> ColumnElement[int]:
    """How many stops bind a plant now, beside `Plant` in a statement."""
    return (
        select(func.count())
        .select_from(PlantStop)
        .where(col(PlantStop.plant_id) == col(Plant.id), col(PlantStop.lifted_at).is_(None))
        .correlate(Plant)
        .scalar_subquery()
    )


def lock_plants(session: Session, plant_ids: Iterable[UUID]) -> None:
    """Keep plants from other writers; what binds them is read afterwards, for this may have waited. One statement."""
    statement = select(col(Plant.id)).where(col(Plant.id).in_(list(plant_ids))).order_by(col(Plant.id))
    session.execute(statement.with_for_update(key_share=True))


def plants_at_bench(session: Session, ids: Iterable[UUID]) -> dict[UUID, PlantAsStock]:
    """Plants grafted before, as stock; kept from other writers until this is saved. Two statements."""
    wanted = list(ids)
    lock_plants(session, wanted)
    statement = (
        select(
            col(Plant.id), col(Plant.number), col(Plant.state), col(Plant.source_tree_id), col(Graft.rootstock_id), col(Graft.done_at),
            col(Collection.taxon_id), col(Collection.cultivar_id), open_plant_stops().label("open_stops"),
        )
        .join(Graft, col(Graft.id) == col(Plant.graft_id))
        .join(GraftWood, col(GraftWood.graft_id) == col(Graft.id))
        .join(Bundle, col(Bundle.id) == col(GraftWood.bundle_id))
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .where(col(Plant.id).in_(wanted), col(GraftWood.part) == Part.SCION)
        .order_by(col(Plant.id), col(Collection.number))
    )  # fmt: skip
    found: dict[UUID, PlantAsStock] = {}
    for row in session.execute(statement):
        stock = StockAtBench(f"plant {row.number}", row.open_stops, row.state in NOT_THERE)
        found.setdefault(
            row.id,
            PlantAsStock(
                stock,
                PlantState(row.state),
                row.source_tree_id,
                Sort(row.taxon_id, row.cultivar_id),
                row.rootstock_id,
                row.done_at,
            ),
        )
    return found


def methods_at_bench(session: Session, slugs: Iterable[str]) -> dict[str, Method]:
    rows = session.execute(select(GraftingMethod).where(col(GraftingMethod.slug).in_(list(slugs)))).scalars()
    return {
        row.slug: Method(
            row.slug,
            row.name,
            row.first_look_weeks,
            row.verdict_weeks_from,
            row.verdict_weeks_to,
            row.verdict_mark,
            row.tie,
        )
        for row in rows
    }


def areas_of_sites(session: Session, site_ids: Iterable[UUID]) -> dict[UUID, UUID]:
    return {
        row.id: row.area_id
        for row in session.execute(
            select(col(Site.id), col(Site.area_id)).where(col(Site.id).in_(list(site_ids)))
        )
    }
