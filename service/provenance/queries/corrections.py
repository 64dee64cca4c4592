"""What a correction must reach: all that took its name from a tree; and what a cut's time must not pass."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import and_, case, exists, func, literal, or_, select, true, union_all
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.queries.counters import FREE, ON_HAND
from service.bundles.rules import MoveKind
from service.bundles.tables import Bundle, StickMove
from service.collection.tables import Collection
from service.grafting.rules import Part
from service.grafting.tables import Graft, GraftOnPlant, GraftWood, Plant
from service.lib.given import these
from service.members.tables import Party
from service.storage.tables import BundleCheck, PutAway
from service.trees.queries import get_facts
from service.trees.rules import TreeNamed
from service.trees.tables import SourceTree, TreeVariety

_BEGINNINGS = (MoveKind.COLLECTED, MoveKind.RECEIVED)


@dataclass
class NamedAfter:
    """All that took its name from a tree: cuts, trees grown of their wood, and trees that bear it on a branch."""

    cuts: set[UUID] = field(default_factory=set)
    grown: set[UUID] = field(default_factory=set)
    carrying: set[UUID] = field(default_factory=set)
    grafts: set[UUID] = field(default_factory=set)


def named_after(
    session: Session, old: TreeNamed, *, tree_id: UUID | None = None, cut_id: UUID | None = None
) -> NamedAfter:
    """All that took its name from a tree, or from one cut. Four statements for each generation.

    Follows the name, not the wood: what was called otherwise stays so.
    """
    found = NamedAfter()
    seen = {tree_id} if tree_id else set()
    cuts = {cut_id} if cut_id else _cuts(session, seen, old)
    while cuts - found.cuts:
        fresh = cuts - found.cuts
        found.cuts |= fresh
        grafts = _grafts(session, fresh)
        found.grafts |= grafts
        grown = _grown(session, grafts, old) - seen
        seen |= grown
        found.grown |= grown
        carrying = _carrying(session, grafts, old, found.grafts)
        found.carrying |= carrying
        cuts = _cuts(session, grown, old) | _cut_later(session, carrying, grafts, old)
    return found


def _same_name(table: type[Collection | SourceTree], old: TreeNamed) -> Any:
    if old.cultivar_id is not None:
        return col(table.cultivar_id) == old.cultivar_id
    return and_(
        col(table.cultivar_id).is_(None),
        col(table.taxon_id) == old.taxon_id,
        col(table.name_as_told) == old.name_as_told,
    )


def _cuts(session: Session, tree_ids: Iterable[UUID], old: TreeNamed) -> set[UUID]:
    ids = list(tree_ids)
    if not ids:
        return set()
    statement = select(col(Collection.id)).where(
        col(Collection.tree_id).in_(these(session, ids)), _same_name(Collection, old)
    )
    return set(session.execute(statement).scalars())


def _grafts(session: Session, cut_ids: set[UUID]) -> set[UUID]:
    statement = (
        select(col(GraftWood.graft_id))
        .join(Bundle, col(Bundle.id) == col(GraftWood.bundle_id))
        .where(
            col(Bundle.collection_id).in_(these(session, cut_ids)), col(GraftWood.part) == Part.SCION, col(GraftWood.taken_back).is_(False)
        )
    )  # fmt: skip
    return set(session.execute(statement).scalars())


def _grown(session: Session, graft_ids: set[UUID], old: TreeNamed) -> set[UUID]:
    statement = (
        select(col(SourceTree.id))
        .join(Plant, col(Plant.source_tree_id) == col(SourceTree.id))
        .where(col(Plant.graft_id).in_(these(session, graft_ids)), _same_name(SourceTree, old))
    )
    return set(session.execute(statement).scalars()) if graft_ids else set()


def _grafted_onto(graft: Any, tree: Any) -> Any:
    """Whether a graft was made on this tree, or on the plant that it was."""
    on_plant = (
        select(col(Plant.source_tree_id))
        .join(GraftOnPlant, col(GraftOnPlant.plant_id) == col(Plant.id))
        .where(col(GraftOnPlant.graft_id) == graft.id)
        .scalar_subquery()
    )
    return or_(graft.stock_tree_id == tree, on_plant == tree)


def _carrying(session: Session, graft_ids: set[UUID], old: TreeNamed, known: set[UUID]) -> set[UUID]:
    """Trees that bear the variety as a further one by these grafts; not where another graft brought it too."""
    if not graft_ids or old.cultivar_id is None:
        return set()
    other = aliased(Graft)
    brought = exists().where(
        _grafted_onto(other, col(TreeVariety.tree_id)), other.id.not_in(these(session, known)), col(GraftWood.graft_id) == other.id,  # type: ignore[attr-defined]
        col(GraftWood.part) == Part.SCION, col(GraftWood.taken_back).is_(False), col(Bundle.id) == col(GraftWood.bundle_id),
        col(Collection.id) == col(Bundle.collection_id), col(Collection.cultivar_id) == old.cultivar_id,
    )  # fmt: skip
    statement = select(col(TreeVariety.tree_id)).where(
        col(TreeVariety.cultivar_id) == old.cultivar_id,
        exists().where(
            col(Graft.id).in_(these(session, graft_ids)), _grafted_onto(Graft, col(TreeVariety.tree_id))
        ),
        ~brought,
    )
    return set(session.execute(statement).scalars())


def _cut_later(session: Session, tree_ids: set[UUID], graft_ids: set[UUID], old: TreeNamed) -> set[UUID]:
    if not tree_ids:
        return set()
    statement = select(col(Collection.id)).where(
        col(Collection.tree_id).in_(these(session, tree_ids)), _same_name(Collection, old),
        exists().where(
            col(Graft.id).in_(these(session, graft_ids)), col(Graft.done_at) <= col(Collection.done_at),
            _grafted_onto(Graft, col(Collection.tree_id)),
        ),
    )  # fmt: skip
    return set(session.execute(statement).scalars())


def count_named(session: Session, found: NamedAfter) -> tuple[int, int]:
    """How many bundles and plants these are; one statement."""
    bundles = (
        select(func.count())
        .select_from(Bundle)
        .where(col(Bundle.collection_id).in_(these(session, found.cuts)))
    )
    plants = (
        select(func.count()).select_from(Plant).where(col(Plant.graft_id).in_(these(session, found.grafts)))
    )
    row = session.execute(
        select(bundles.scalar_subquery().label("bundles"), plants.scalar_subquery().label("plants"))
    ).one()
    return row.bundles, row.plants


@dataclass(frozen=True)
class NameReach:
    """How much would follow a name put right, as it stands now."""

    cuts: int
    bundles: int
    sticks: int
    to_share: int  # bundles of the club with sticks that are free
    tags: int  # on bundles and plants: printed or written, they keep the old name
    grafts: int
    plants: int
    trees: int


def name_reach(session: Session, tree_id: UUID) -> NameReach:
    """What took its name from this tree; one statement more than to find it."""
    tree = get_facts(session, tree_id)
    old = TreeNamed(tree.taxon_id, tree.cultivar_id, tree.name_as_told, tree.name)
    found = named_after(session, old, tree_id=tree_id)
    shared = (col(Bundle.holder_id).is_(None), FREE > 0, col(Bundle.open_stops) == 0)
    bundles = (
        select(
            func.count().label("bundles"), func.coalesce(func.sum(ON_HAND), 0).label("sticks"), func.count(col(Bundle.code)).label("codes"),
            func.coalesce(func.sum(case((and_(*shared), 1), else_=0)), 0).label("to_share"),
        )
        .where(col(Bundle.collection_id).in_(these(session, found.cuts)))
        .subquery()
    )  # fmt: skip
    plants = (
        select(func.count().label("plants"), func.count(col(Plant.code)).label("codes"))
        .where(col(Plant.graft_id).in_(these(session, found.grafts)))
        .subquery()
    )
    row = session.execute(
        select(bundles, plants.c.plants, plants.c.codes.label("plant_codes")).join(plants, true())
    ).one()
    return NameReach(
        len(found.cuts), row.bundles, row.sticks, row.to_share, row.codes + row.plant_codes, len(found.grafts), row.plants,
        len(found.grown | found.carrying),
    )  # fmt: skip


@dataclass(frozen=True)
class FirstEvent:
    """The first thing that happened to the wood of a cut after it was tied."""

    what: str
    at: datetime
    code: str | None


def first_after_cut(session: Session, collection_id: UUID) -> FirstEvent | None:
    """A movement, a putting away or a look, whichever was done first; one statement."""
    of_cut = col(Bundle.collection_id) == collection_id
    moved = (
        select(
            col(StickMove.kind).label("what"),
            col(StickMove.done_at).label("at"),
            col(Bundle.code).label("code"),
        )
        .join(Bundle, col(Bundle.id) == col(StickMove.bundle_id))
        .where(of_cut, col(StickMove.kind).not_in(_BEGINNINGS))
    )
    put = (
        select(literal("put_away"), col(PutAway.done_at), col(Bundle.code))
        .join(Bundle, col(Bundle.id) == col(PutAway.bundle_id))
        .where(of_cut)
    )
    seen = (
        select(literal("looked_at"), col(BundleCheck.seen_at), col(Bundle.code))
        .join(Bundle, col(Bundle.id) == col(BundleCheck.bundle_id))
        .where(of_cut)
    )
    events = union_all(moved, put, seen).subquery()
    row = session.execute(select(events).order_by(events.c.at).limit(1)).first()
    return FirstEvent(row.what, row.at, row.code) if row else None


def count_stopped(session: Session, bundle_ids: Iterable[UUID]) -> int:
    """How many of these bundles a stop binds; one statement."""
    statement = (
        select(func.count())
        .select_from(Bundle)
        .where(col(Bundle.id).in_(these(session, bundle_ids)), col(Bundle.open_stops) > 0)
    )
    return int(session.execute(statement).scalar_one())


def count_holders_elsewhere(session: Session, bundle_ids: Iterable[UUID], area_id: UUID) -> int:
    """How many hold sticks of these bundles in another plant-health area, or in none that is known; one statement."""
    statement = (
        select(func.count(col(Bundle.holder_id).distinct()))
        .join(Party, col(Party.id) == col(Bundle.holder_id))
        .where(
            col(Bundle.id).in_(these(session, bundle_ids)), ON_HAND > 0,
            or_(col(Party.area_id).is_(None), col(Party.area_id) != area_id),
        )
    )  # fmt: skip
    return int(session.execute(statement).scalar_one())
