"""Looks at grafts, what they come to, and counts of what took."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import and_, func, select
from sqlmodel import Session, col

from service.bundles.tables import Bundle
from service.catalogue.tables import Cultivar, GraftingMethod, Taxon
from service.collection.tables import Collection
from service.grafting.queries.bench import variety_of
from service.grafting.rules import GroupBy, Part, PlantOfGraft, PlantState, Take, TakeLook, standing_take
from service.grafting.schemas import TakeCount
from service.grafting.tables import Graft, GraftOnPlant, GraftWood, Plant, TakeCheck
from service.trees.tables import SourceTree


@dataclass(frozen=True)
class GraftToJudge:
    """A graft as far as a look at it goes, with the bundles of its woods and the plants it concerns."""

    id: UUID
    number: int
    grafts: int
    done_at: datetime
    for_party_id: UUID
    stock_tree_id: UUID | None
    is_taken_back: bool
    verdict_weeks: tuple[int | None, int | None]  # of the method: from, to
    plants: frozenset[UUID]
    holders: frozenset[UUID]
    bundles: frozenset[UUID]


def look_of(check: TakeCheck) -> TakeLook:
    return TakeLook(
        check.id, check.graft_id, check.plant_id, check.alive, check.looked_at, check.doubtful, check.is_verdict, check.seen_on,
        check.recorded_at, check.other_cause,
    )  # fmt: skip


def looks_at(session: Session, graft_ids: Iterable[UUID]) -> dict[UUID, list[TakeLook]]:
    """All looks at grafts; one statement whatever their number."""
    found: dict[UUID, list[TakeLook]] = {}
    for check in session.execute(
        select(TakeCheck).where(col(TakeCheck.graft_id).in_(list(graft_ids)))
    ).scalars():
        found.setdefault(check.graft_id, []).append(look_of(check))
    return found


def takes_of(session: Session, graft_ids: Iterable[UUID]) -> dict[UUID, Take]:
    """What the looks at grafts come to; one statement. A graft nobody looked at is missing from the answer."""
    takes = {graft_id: standing_take(looks) for graft_id, looks in looks_at(session, graft_ids).items()}
    return {graft_id: take for graft_id, take in takes.items() if take is not None}


def latest_graft_of_plants(session: Session, plant_ids: Iterable[UUID]) -> dict[UUID, UUID]:
    """The graft that was last made on each plant, or that made it; one statement."""
    ids = list(plant_ids)
    own = select(col(Plant.id).label("plant_id"), col(Plant.graft_id).label("graft_id")).where(
        col(Plant.id).in_(ids)
    )
    on_it = select(col(GraftOnPlant.plant_id), col(GraftOnPlant.graft_id)).where(
        col(GraftOnPlant.plant_id).in_(ids)
    )
    pairs = own.union_all(on_it).subquery()
    statement = (
        select(pairs.c.plant_id, pairs.c.graft_id, col(Graft.taken_back_at))
        .join(Graft, col(Graft.id) == pairs.c.graft_id)
        .order_by(col(Graft.done_at), col(Graft.number))
    )
    # A plant whose only graft was taken back is still found, so that a look at it is refused in words.
    standing = sorted(session.execute(statement), key=lambda row: row.taken_back_at is None)
    return {row.plant_id: row.graft_id for row in standing}


def grafts_to_judge(session: Session, graft_ids: Iterable[UUID]) -> dict[UUID, GraftToJudge]:
    """Grafts with their plants and woods, kept from other writers until this is saved; three statements."""
    ids = list(graft_ids)
    plants: dict[UUID, set[UUID]] = {}
    holders: dict[UUID, set[UUID]] = {}
    for row in session.execute(_plants_with_graft(ids)):
        plants.setdefault(row.graft_id, set()).add(row.id)
        if row.holder_id:
            holders.setdefault(row.graft_id, set()).add(row.holder_id)
    bundles: dict[UUID, set[UUID]] = {}
    for row in session.execute(
        select(col(GraftWood.graft_id), col(GraftWood.bundle_id)).where(col(GraftWood.graft_id).in_(ids))
    ):
        bundles.setdefault(row.graft_id, set()).add(row.bundle_id)
    rows = session.execute(
        select(
            col(Graft.id),
            col(Graft.number),
            col(Graft.grafts),
            col(Graft.done_at),
            col(Graft.for_party_id),
            col(Graft.stock_tree_id),
            col(Graft.taken_back_at),
            col(GraftingMethod.verdict_weeks_from),
            col(GraftingMethod.verdict_weeks_to),
        )
        .outerjoin(GraftingMethod, col(GraftingMethod.slug) == col(Graft.method))
        .where(col(Graft.id).in_(ids))
        .order_by(col(Graft.id))
        .with_for_update(of=Graft)
    )
    return {
        row.id: GraftToJudge(
            row.id, row.number, row.grafts, row.done_at, row.for_party_id, row.stock_tree_id, row.taken_back_at is not None,
            (row.verdict_weeks_from, row.verdict_weeks_to),
            frozenset(plants.get(row.id, ())),
            frozenset(holders.get(row.id, ())), frozenset(bundles.get(row.id, ())),
        )
        for row in rows
    }  # fmt: skip


def _plants_with_graft(graft_ids: list[UUID]) -> Any:
    """Plants beside the grafts that made them or were made on them."""
    own = select(col(Plant.graft_id), col(Plant.id), col(Plant.holder_id)).where(
        col(Plant.graft_id).in_(graft_ids)
    )
    on_them = (
        select(col(GraftOnPlant.graft_id), col(Plant.id), col(Plant.holder_id))
        .join(Plant, col(Plant.id) == col(GraftOnPlant.plant_id))
        .where(col(GraftOnPlant.graft_id).in_(graft_ids))
    )
    return own.union_all(on_them)


def plants_touched(
    session: Session, plant_ids: Iterable[UUID]
) -> tuple[dict[UUID, list[PlantOfGraft]], dict[UUID, PlantState]]:
    """Plants with every graft they carry, and their state as it stands; two statements."""
    ids = list(plant_ids)
    own = select(col(Plant.id).label("plant_id"), col(Plant.graft_id).label("graft_id")).where(
        col(Plant.id).in_(ids)
    )
    on_it = select(col(GraftOnPlant.plant_id), col(GraftOnPlant.graft_id)).where(
        col(GraftOnPlant.plant_id).in_(ids)
    )
    pairs = own.union_all(on_it).subquery()
    made = (
        select(func.count())
        .select_from(Plant)
        .where(col(Plant.graft_id) == pairs.c.graft_id)
        .correlate(pairs)
        .scalar_subquery()
    )
    statement = select(pairs.c.plant_id, pairs.c.graft_id, col(Graft.grafts), made.label("made")).join(
        Graft, and_(col(Graft.id) == pairs.c.graft_id, col(Graft.taken_back_at).is_(None))
    )
    carried: dict[UUID, list[PlantOfGraft]] = {}
    for row in session.execute(statement):
        carried.setdefault(row.plant_id, []).append(
            PlantOfGraft(row.graft_id, row.plant_id, row.grafts, row.made <= 1)
        )
    states = session.execute(select(col(Plant.id), col(Plant.state)).where(col(Plant.id).in_(ids)))
    return carried, {row.id: PlantState(row.state) for row in states}


def varieties_that_took(session: Session, graft_ids: Iterable[UUID]) -> list[tuple[UUID, UUID, date]]:
    """Standing trees of the same kind with the varieties that these grafts put on them; one statement."""
    ids = list(graft_ids)
    if not ids:
        return []
    statement = (
        select(col(Graft.stock_tree_id), col(Collection.cultivar_id), col(Graft.done_at))
        .join(GraftWood, col(GraftWood.graft_id) == col(Graft.id))
        .join(Bundle, col(Bundle.id) == col(GraftWood.bundle_id))
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(SourceTree, col(SourceTree.id) == col(Graft.stock_tree_id))
        .where(
            col(Graft.id).in_(ids), col(GraftWood.part) == Part.SCION, col(Collection.cultivar_id).is_not(None),
            col(SourceTree.taxon_id) == col(Collection.taxon_id),
        )
        .order_by(col(Graft.done_at).desc())
    )  # fmt: skip
    return [(row.stock_tree_id, row.cultivar_id, row.done_at.date()) for row in session.execute(statement)]


def count_takes(
    session: Session,
    by: GroupBy,
    *,
    season: tuple[datetime, datetime] | None = None,
    only_for: UUID | None = None,
) -> list[TakeCount]:
    """Counts of unions made, judged and alive, by method, by the tree or by the variety of the scion; two statements.

    Only counts: no rate of success is built in or worked out, for so few grafts make no law.
    """
    rows = session.execute(_grafts_by(by, season, only_for)).all()
    takes = takes_of(session, {row.id for row in rows})
    groups: dict[str, list[Any]] = {}
    for row in rows:
        groups.setdefault(str(row.key or ""), []).append(row)
    return sorted(
        (_count(by, key, group, takes) for key, group in groups.items()),
        key=lambda c: (-c.unions, c.name, c.key),
    )


def _grafts_by(by: GroupBy, season: tuple[datetime, datetime] | None, only_for: UUID | None) -> Any:
    keys = {
        GroupBy.METHOD: (col(Graft.method), col(GraftingMethod.name)),
        GroupBy.TREE: (col(Collection.tree_id), col(SourceTree.number)),
        GroupBy.VARIETY: (col(Collection.cultivar_id), col(Taxon.kind)),
    }
    key, name = keys[by]
    statement = (
        select(
            col(Graft.id), col(Graft.grafts), key.label("key"), name.label("name"), col(Taxon.kind), col(Cultivar.epithet),
            col(Cultivar.trade_designation), col(Collection.name_as_told),
        )
        .join(GraftWood, col(GraftWood.graft_id) == col(Graft.id))
        .join(Bundle, col(Bundle.id) == col(GraftWood.bundle_id))
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(SourceTree, col(SourceTree.id) == col(Collection.tree_id))
        .outerjoin(GraftingMethod, col(GraftingMethod.slug) == col(Graft.method))
        .where(col(GraftWood.part) == Part.SCION, col(GraftWood.taken_back).is_(False))
    )  # fmt: skip
    if season is not None:
        statement = statement.where(col(Graft.done_at) >= season[0], col(Graft.done_at) < season[1])
    return statement if only_for is None else statement.where(col(Graft.for_party_id) == only_for)


def _count(by: GroupBy, key: str, rows: list[Any], takes: dict[UUID, Take]) -> TakeCount:
    unions = {row.id: row.grafts for row in rows}  # a graft of two scions counts once
    judged = [take for graft_id, take in takes.items() if graft_id in unions and take.is_verdict]
    looked_at = sum(take.looked_at for take in judged)
    names = {
        GroupBy.METHOD: rows[0].name or "method not told",
        GroupBy.TREE: f"tree {rows[0].name}" if rows[0].name else "wood from outside",
        GroupBy.VARIETY: f"{rows[0].kind} {variety_of(rows[0])}" if key else "variety not in the list",
    }
    return TakeCount(
        by=by, key=key, name=names[by], grafts=len(unions), unions=sum(unions.values()), judged=looked_at,
        alive=sum(take.alive for take in judged), doubtful=sum(take.doubtful for take in judged),
        not_judged=sum(unions.values()) - looked_at,
    )  # fmt: skip
