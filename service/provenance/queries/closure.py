"""Everything a stop must reach: all that came of a tree's or a bundle's wood, by kind."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from uuid import UUID

from sqlalchemy import SelectBase, select
from sqlmodel import Session, col

from service.bundles.tables import Bundle
from service.collection.tables import Collection
from service.grafting.tables import Graft, GraftWood, Plant
from service.lib.given import dialect_of, these
from service.provenance.queries.walk import number, subtree, walk_from
from service.provenance.rules.lineage import Direction, Link


@dataclass
class Reach:
    """What came of some wood, by kind. Trees and plants that only carry it stand apart from those grown from it."""

    collections: set[UUID] = field(default_factory=set)
    bundles: set[UUID] = field(default_factory=set)
    grafts: set[UUID] = field(default_factory=set)
    plants: set[UUID] = field(default_factory=set)
    trees: set[UUID] = field(default_factory=set)
    carrying_trees: set[UUID] = field(default_factory=set)
    carrying_plants: set[UUID] = field(default_factory=set)

    @property
    def all_trees(self) -> set[UUID]:
        return self.trees | self.carrying_trees

    @property
    def all_plants(self) -> set[UUID]:
        return self.plants | self.carrying_plants


_FIELD = {
    Link.TREE: "trees",
    Link.COLLECTION: "collections",
    Link.BUNDLE: "bundles",
    Link.GRAFT: "grafts",
    Link.PLANT: "plants",
    Link.CARRYING_TREE: "carrying_trees",
    Link.CARRYING_PLANT: "carrying_plants",
}


def reach_of_trees(session: Session, tree_ids: Iterable[UUID], since: date | None = None) -> Reach:
    """All that came of wood cut from these trees, on or after a day where one is given, and of plants made on them.

    The trees themselves are in the answer only where they came of that wood too. Two statements.
    """
    ids = these(session, tree_ids)
    cut = select(number(Link.COLLECTION).label("kind"), col(Collection.id).label("id")).where(
        col(Collection.tree_id).in_(ids)
    )
    if since is not None:
        cut = cut.where(col(Collection.cut_on) >= since)
    made_on = (
        select(number(Link.PLANT), col(Plant.id))
        .join_from(Graft, Plant, col(Plant.graft_id) == col(Graft.id))
        .where(col(Graft.stock_tree_id).in_(ids), col(Graft.taken_back_at).is_(None))
    )
    return _reach(session, cut.union_all(made_on), Reach())


def reach_of_bundles(session: Session, bundle_ids: Iterable[UUID]) -> Reach:
    """These bundles and all that came of them; three statements."""
    tree = subtree(these(session, bundle_ids))
    reach = Reach(bundles=set(session.execute(select(tree.c.id)).scalars()))
    used = select(number(Link.GRAFT).label("kind"), col(GraftWood.graft_id).label("id")).where(
        col(GraftWood.bundle_id).in_(these(session, reach.bundles)), col(GraftWood.taken_back).is_(False)
    )
    return _reach(session, used, reach)


def _reach(session: Session, starts: SelectBase, reach: Reach) -> Reach:
    walk = walk_from(dialect_of(session), starts, Direction.FORWARD)
    for kind, thing_id in session.execute(select(walk.c.kind, walk.c.id)):
        getattr(reach, _FIELD[Link(kind)]).add(thing_id)
    found = select(col(Bundle.id)).where(col(Bundle.collection_id).in_(these(session, reach.collections)))
    reach.bundles |= set(session.execute(found).scalars())
    return reach


def parents_of(session: Session, bundle_ids: Iterable[UUID]) -> dict[UUID, UUID]:
    """The bundle each was split from, where it was; one statement."""
    rows = session.execute(
        select(col(Bundle.id), col(Bundle.parent_id)).where(
            col(Bundle.id).in_(these(session, bundle_ids)), col(Bundle.parent_id).is_not(None)
        )
    )
    return {row.id: row.parent_id for row in rows}


def reach_released(
    session: Session, bundle_ids: set[UUID], bound: set[UUID], origin_ids: Iterable[UUID]
) -> Reach:
    """These bundles and all that came of them, but for what other bound wood or an origin reaches too; eight statements."""
    free = reach_of_bundles(session, bundle_ids)
    stays = reach_of_bundles(session, bound - free.bundles)
    made_on = reach_of_trees(
        session, origin_ids, date.max
    )  # of the origins' cuts none; what was grafted onto them
    for name in ("bundles", "plants", "trees", "carrying_trees", "carrying_plants"):
        kept = getattr(stays, name) | getattr(made_on, name)
        setattr(free, name, getattr(free, name) - kept)
    free.carrying_trees -= stays.trees | made_on.trees
    free.trees -= stays.carrying_trees | made_on.carrying_trees
    free.plants -= stays.carrying_plants | made_on.carrying_plants
    free.carrying_plants -= stays.plants | made_on.plants
    return free
