"""Whom to tell of a stop: read off all that it binds, set by set."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from sqlalchemy import Integer, Select, and_, case, func, literal, literal_column, or_, select, union_all
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.queries.counters import ON_HAND
from service.bundles.rules import MoveKind
from service.bundles.tables import Bundle, BundleStop, StickMove
from service.collection.tables import Collection
from service.grafting.rules import PlantMoveKind
from service.grafting.tables import Graft, GraftWood, Plant, PlantMove, PlantStop
from service.members.rules import PartyKind
from service.members.tables import Party
from service.provenance.rules.telling import PartyFound, Tie, TieFacts, ToTell, Unknown, plan_telling
from service.provenance.tables import Recall, RecallParty
from service.storage.tables import Place, Stay, Store
from service.trees.rules import StopState
from service.trees.tables import SourceTree, Stop, TreeStop

_BoxStay = aliased(Stay, name="box_stay")
# What was handed out of a bundle was handed into another, which tells the same.
IN_HAND = (MoveKind.HANDED_IN, MoveKind.RETURNED, MoveKind.NOT_REPORTED)


def parties_to_tell(session: Session, stop_id: UUID) -> list[ToTell]:
    """Everybody who has or had wood that this stop binds; two statements."""
    tied = _ties(_bundles_of(stop_id), _plants_of(stop_id), _trees_of(stop_id)).subquery()
    rows = session.execute(
        select(
            tied.c.party_id, tied.c.tie, func.count(tied.c.thing.distinct()).label("things"), func.sum(tied.c.sticks).label("sticks")
        ).group_by(tied.c.party_id, tied.c.tie)
    )  # fmt: skip
    ties = [TieFacts(row.party_id, Tie(row.tie), row.things, int(row.sticks or 0)) for row in rows]
    return plan_telling(ties, parties_by_id(session, {tie.party_id for tie in ties}))


def parties_by_id(session: Session, party_ids: set[UUID]) -> list[PartyFound]:
    if not party_ids:
        return []
    columns = col(Party.id), col(Party.kind), col(Party.name), col(Party.forgotten_at)
    rows = session.execute(select(*columns).where(col(Party.id).in_(party_ids)))
    return [PartyFound(row.id, PartyKind(row.kind), row.name, row.forgotten_at is not None) for row in rows]


def _bundles_of(stop_id: UUID) -> Select[*tuple[Any, ...]]:
    return select(col(BundleStop.bundle_id)).where(
        col(BundleStop.stop_id) == stop_id, col(BundleStop.lifted_at).is_(None)
    )


def _plants_of(stop_id: UUID) -> Select[*tuple[Any, ...]]:
    return select(col(PlantStop.plant_id)).where(
        col(PlantStop.stop_id) == stop_id, col(PlantStop.lifted_at).is_(None)
    )


def _trees_of(stop_id: UUID) -> Select[*tuple[Any, ...]]:
    return select(col(TreeStop.tree_id), col(TreeStop.is_origin)).where(
        col(TreeStop.stop_id) == stop_id, col(TreeStop.lifted_at).is_(None)
    )


def _row(party: Any, tie: Any, thing: Any, sticks: Any = None) -> tuple[Any, ...]:
    told = literal(tie.value) if isinstance(tie, Tie) else tie
    count = literal_column("0", Integer()) if sticks is None else sticks
    return party.label("party_id"), told.label("tie"), thing.label("thing"), count.label("sticks")


def _ties(
    bundles: Select[*tuple[Any, ...]], plants: Select[*tuple[Any, ...]], trees: Select[*tuple[Any, ...]]
) -> Any:
    """Party, tie, thing, sticks: one row each, for whatever the three SELECTs of ids name."""
    bound = bundles.subquery("bound")
    bound_trees = trees.subquery("bound_trees")
    holding = case((ON_HAND > 0, literal(Tie.HOLDS.value)), else_=literal(Tie.HELD.value))
    owning = case(
        (bound_trees.c.is_origin, literal(Tie.OWNS_ORIGIN.value)), else_=literal(Tie.OWNS_TREE.value)
    )
    return union_all(
        select(*_row(col(Bundle.holder_id), holding, col(Bundle.id), ON_HAND))
        .join(bound, bound.c.bundle_id == col(Bundle.id))
        .where(col(Bundle.holder_id).is_not(None)),
        select(*_row(col(StickMove.party_id), Tie.HELD, col(StickMove.bundle_id)))
        .join(bound, bound.c.bundle_id == col(StickMove.bundle_id))
        .join(Bundle, col(Bundle.id) == col(StickMove.bundle_id))
        .where(
            col(StickMove.kind).in_(IN_HAND), col(StickMove.party_id).is_not(None),
            or_(col(Bundle.holder_id).is_(None), col(Bundle.holder_id) != col(StickMove.party_id)),
        ),
        select(*_row(col(Graft.for_party_id), Tie.GRAFTED, col(Graft.id)))
        .join(GraftWood, col(GraftWood.graft_id) == col(Graft.id))
        .join(bound, bound.c.bundle_id == col(GraftWood.bundle_id))
        .where(col(GraftWood.taken_back).is_(False)),
        select(*_row(col(Plant.holder_id), Tie.HAS_PLANT, col(Plant.id))).where(
            col(Plant.holder_id).is_not(None), col(Plant.id).in_(plants)
        ),
        _had_plant(col(PlantMove.from_party_id), plants),
        _had_plant(col(PlantMove.party_id), plants),
        select(*_row(col(SourceTree.owner_id), owning, col(SourceTree.id))).join(
            bound_trees, bound_trees.c.tree_id == col(SourceTree.id)
        ),
        _stored_with(bound),
        select(*_row(col(Collection.from_party_id), Tie.GAVE, col(Collection.id)))
        .join(Bundle, col(Bundle.collection_id) == col(Collection.id))
        .join(bound, bound.c.bundle_id == col(Bundle.id))
        .where(col(Collection.from_party_id).is_not(None)),
    )  # fmt: skip


def _had_plant(party: Any, plants: Select[*tuple[Any, ...]]) -> Select[*tuple[Any, ...]]:
    """Everybody a plant ever was with: what may be in it could have spread where it stood."""
    wanted = plants.with_only_columns(col(PlantStop.plant_id))
    return (
        select(*_row(party, Tie.HAD_PLANT, col(PlantMove.plant_id)))
        .join(Plant, col(Plant.id) == col(PlantMove.plant_id))
        .where(
            party.is_not(None), col(PlantMove.plant_id).in_(wanted),
            or_(col(Plant.holder_id).is_(None), col(Plant.holder_id) != party),
        )
    )  # fmt: skip


def _stored_with(bound: Any) -> Select[*tuple[Any, ...]]:
    """Hosts of the stores the wood lay in, straight or in a box that stood there while it lay in it."""
    together = and_(
        col(_BoxStay.box_id) == col(Stay.into_box_id),
        or_(col(Stay.until_at).is_(None), col(_BoxStay.from_at) < col(Stay.until_at)),
        or_(col(_BoxStay.until_at).is_(None), col(_BoxStay.until_at) > col(Stay.from_at)),
    )
    return (
        select(*_row(col(Store.host_id), Tie.STORES, col(Stay.bundle_id)))
        .select_from(Stay)
        .join(bound, bound.c.bundle_id == col(Stay.bundle_id))
        .outerjoin(_BoxStay, together)
        .join(Place, or_(col(Place.id) == col(Stay.place_id), col(Place.id) == col(_BoxStay.place_id)))
        .join(Store, col(Store.id) == col(Place.store_id))
    )


def unknown_takers(session: Session, stop_id: UUID) -> list[Unknown]:
    """Sticks and plants of stopped wood that people took who were not written down; two statements."""
    return [*takers_of(session, _bundles_of(stop_id)), *plants_gone_outside(session, _plants_of(stop_id))]


def plants_gone_outside(session: Session, plant_ids: Select[*tuple[Any, ...]]) -> list[Unknown]:
    """Plants that went to people outside the record; one statement. `plant_ids`: a SELECT of one column of ids."""
    rows = session.execute(
        select(
            col(PlantMove.plant_id), col(Plant.code), col(Plant.number), col(PlantMove.to_whom), col(PlantMove.reason),
            col(PlantMove.done_at),
        )
        .join(Plant, col(Plant.id) == col(PlantMove.plant_id))
        .where(col(PlantMove.plant_id).in_(plant_ids), col(PlantMove.kind) == PlantMoveKind.GIVEN_OUTSIDE)
        .order_by(col(PlantMove.seq))
    )  # fmt: skip
    return [
        Unknown(
            None, row.code, 0, "outside", " · ".join(part for part in (f"plant {row.number}", row.to_whom, row.reason) if part),
            row.done_at, row.plant_id,
        )
        for row in rows
    ]  # fmt: skip


def takers_of(session: Session, bundle_ids: Select[*tuple[Any, ...]]) -> list[Unknown]:
    """The same for any bundles: a SELECT of one column of ids."""
    kinds = (MoveKind.TABLE_OUT, MoveKind.TABLE_BACK, MoveKind.GIVEN_OUTSIDE)
    rows = session.execute(
        select(
            col(StickMove.bundle_id), col(Bundle.code), col(StickMove.kind), col(StickMove.passed_on), col(StickMove.reason),
            col(StickMove.done_at),
        )
        .join(Bundle, col(Bundle.id) == col(StickMove.bundle_id))
        .where(col(StickMove.bundle_id).in_(bundle_ids), col(StickMove.kind).in_(kinds))
        .order_by(col(StickMove.seq))
    )  # fmt: skip
    at_tables: dict[UUID, Unknown] = {}
    outside: list[Unknown] = []
    for row in rows:
        if row.kind == MoveKind.GIVEN_OUTSIDE:
            outside.append(
                Unknown(row.bundle_id, row.code, row.passed_on, "outside", row.reason, row.done_at)
            )
            continue
        before = at_tables.get(row.bundle_id)
        sticks = (before.sticks if before else 0) + row.passed_on
        at_tables[row.bundle_id] = Unknown(
            row.bundle_id, row.code, sticks, "table", "", before.done_at if before else row.done_at
        )
    return [one for one in at_tables.values() if one.sticks > 0] + outside


def open_recalls_not_told(session: Session, party_id: UUID) -> int:
    """In how many recalls of open stops a party stands that was not told yet; one statement."""
    return session.execute(
        select(func.count())
        .select_from(RecallParty)
        .join(Recall, col(Recall.id) == col(RecallParty.recall_id))
        .join(Stop, col(Stop.id) == col(Recall.stop_id))
        .where(
            col(RecallParty.party_id) == party_id, col(RecallParty.told_at).is_(None), col(Stop.state) != StopState.CLEARED.value
        )
    ).scalar_one()  # fmt: skip


def has_unrecalled_wood(session: Session, party_id: UUID) -> bool:
    """Whether an open stop binds wood that a party has or had, and no recall names the party yet; one statement."""
    named = (
        select(col(Recall.stop_id))
        .join(RecallParty, col(RecallParty.recall_id) == col(Recall.id))
        .where(col(RecallParty.party_id) == party_id)
    )
    bundles = select(col(BundleStop.bundle_id), col(BundleStop.stop_id)).where(
        col(BundleStop.lifted_at).is_(None), col(BundleStop.stop_id).not_in(named)
    )
    plants = select(col(PlantStop.plant_id)).where(
        col(PlantStop.lifted_at).is_(None), col(PlantStop.stop_id).not_in(named)
    )
    trees = select(col(TreeStop.tree_id), col(TreeStop.is_origin)).where(
        col(TreeStop.lifted_at).is_(None), col(TreeStop.stop_id).not_in(named)
    )
    tied = _ties(bundles, plants, trees).subquery()
    return session.execute(select(tied.c.tie).where(tied.c.party_id == party_id).limit(1)).first() is not None
