"""One recursive statement over the whole chain, forward or back, safe against loops.

Forward, bundles are left out of the walk: all bundles of a collection share its id, so the walk goes from collections to
grafts, and the bundles are read off the collections afterwards. Most of what hangs on a tree are bundles.

Each step is a small SELECT that knows how to go from one kind of thing to the next. SQLite takes all of them as
recursive terms of one statement; PostgreSQL allows one recursive term only, so there they stand behind a LATERAL,
which also keeps every step a look-up in an index.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import (
    CTE,
    ColumnElement,
    Integer,
    Select,
    SelectBase,
    Uuid,
    and_,
    literal,
    literal_column,
    select,
    true,
    union_all,
)  # fmt: skip
from sqlmodel import col

from service.bundles.tables import Bundle
from service.collection.tables import Collection
from service.grafting.rules import PlantState
from service.grafting.tables import Graft, GraftOnPlant, GraftWood, Plant
from service.provenance.rules.lineage import Direction, Link

Source = ColumnElement[Any]


@dataclass(frozen=True)
class Step:
    """From some kinds of things to the next: given the id it starts from, a SELECT of ids; a second column, where there
    is one, is the thing (of the kind `through`) that stands between the two.
    """

    starts: tuple[Link, ...]
    end: Link
    ids: Callable[[Source], Select[*tuple[Any, ...]]]
    through: Link | None = None


# A graft that was recorded by mistake used no wood and made no plant.
_WOOD_WENT_IN = col(GraftWood.taken_back).is_(False)
_WAS_MADE = col(Graft.taken_back_at).is_(None)


def _cut_from(tree: Source) -> Select[*tuple[Any, ...]]:
    return select(col(Collection.id)).where(col(Collection.tree_id) == tree)


def _grafts_of(collection: Source) -> Select[*tuple[Any, ...]]:
    """Straight from a collection to the grafts of all its bundles: a child bundle belongs to its parent's collection."""
    return (
        select(col(GraftWood.graft_id), col(Bundle.id))
        .join_from(Bundle, GraftWood, col(GraftWood.bundle_id) == col(Bundle.id))
        .where(col(Bundle.collection_id) == collection, _WOOD_WENT_IN)
    )


def _plants_of(graft: Source) -> Select[*tuple[Any, ...]]:
    return select(col(Plant.id)).where(col(Plant.graft_id) == graft, col(Plant.state) != PlantState.VOID)


def _trees_under(graft: Source) -> Select[*tuple[Any, ...]]:
    return select(col(Graft.stock_tree_id)).where(
        col(Graft.id) == graft, col(Graft.stock_tree_id).is_not(None)
    )


def _plants_under(graft: Source) -> Select[*tuple[Any, ...]]:
    return select(col(GraftOnPlant.plant_id)).where(col(GraftOnPlant.graft_id) == graft)


def _cut_later_from_tree(graft: Source) -> Select[*tuple[Any, ...]]:
    later = and_(
        col(Collection.tree_id) == col(Graft.stock_tree_id), col(Collection.done_at) >= col(Graft.done_at)
    )
    return select(col(Collection.id)).join_from(Graft, Collection, later).where(col(Graft.id) == graft)


def _cut_later_from_plant(graft: Source) -> Select[*tuple[Any, ...]]:
    later = and_(
        col(Collection.tree_id) == col(Plant.source_tree_id), col(Collection.done_at) >= col(Graft.done_at)
    )
    return (
        select(col(Collection.id))
        .join_from(Graft, GraftOnPlant, col(GraftOnPlant.graft_id) == col(Graft.id))
        .join(Plant, col(Plant.id) == col(GraftOnPlant.plant_id))
        .join(Collection, later)
        .where(col(Graft.id) == graft)
    )


def _tree_of(plant: Source) -> Select[*tuple[Any, ...]]:
    return select(col(Plant.source_tree_id)).where(
        col(Plant.id) == plant, col(Plant.source_tree_id).is_not(None)
    )


def _plants_made_on_tree(tree: Source) -> Select[*tuple[Any, ...]]:
    # As a plain join SQLite may read every plant once its statistics say that most grafts stand on no tree. No plant has
    # a tree's id: that condition only tells the ORM that the two belong together.
    on_it = select(col(Graft.id)).where(col(Graft.stock_tree_id) == tree, _WAS_MADE).correlate(tree.table)
    return select(col(Plant.id)).where(col(Plant.graft_id).in_(on_it), col(Plant.id) != tree)


def _plants_made_on_plant(plant: Source) -> Select[*tuple[Any, ...]]:
    made = col(Plant.graft_id) == col(GraftOnPlant.graft_id)
    return (
        select(col(Plant.id))
        .join_from(GraftOnPlant, Plant, made)
        .where(col(GraftOnPlant.plant_id) == plant, col(Plant.state) != PlantState.VOID)
    )


FORWARD = (
    Step((Link.TREE,), Link.COLLECTION, _cut_from),
    Step((Link.COLLECTION,), Link.GRAFT, _grafts_of, Link.BUNDLE),
    Step((Link.GRAFT,), Link.PLANT, _plants_of),
    Step((Link.GRAFT,), Link.CARRYING_TREE, _trees_under),
    Step((Link.GRAFT,), Link.CARRYING_PLANT, _plants_under),
    Step((Link.GRAFT,), Link.COLLECTION, _cut_later_from_tree),
    Step((Link.GRAFT,), Link.COLLECTION, _cut_later_from_plant),
    Step((Link.PLANT,), Link.TREE, _tree_of),
    Step((Link.CARRYING_PLANT,), Link.CARRYING_TREE, _tree_of),
    Step((Link.TREE, Link.CARRYING_TREE), Link.PLANT, _plants_made_on_tree),
    Step((Link.PLANT, Link.CARRYING_PLANT), Link.PLANT, _plants_made_on_plant),
)


def _cut_tree(collection: Source) -> Select[*tuple[Any, ...]]:
    return select(col(Collection.tree_id)).where(
        col(Collection.id) == collection, col(Collection.tree_id).is_not(None)
    )


def _collection_of(bundle: Source) -> Select[*tuple[Any, ...]]:
    return select(col(Bundle.collection_id)).where(col(Bundle.id) == bundle, col(Bundle.parent_id).is_(None))


def _parent(bundle: Source) -> Select[*tuple[Any, ...]]:
    return select(col(Bundle.parent_id)).where(col(Bundle.id) == bundle, col(Bundle.parent_id).is_not(None))


def _woods(graft: Source) -> Select[*tuple[Any, ...]]:
    return select(col(GraftWood.bundle_id)).where(col(GraftWood.graft_id) == graft, _WOOD_WENT_IN)


def _graft_of(plant: Source) -> Select[*tuple[Any, ...]]:
    return select(col(Plant.graft_id)).where(col(Plant.id) == plant)


def _earlier_on_tree(collection: Source) -> Select[*tuple[Any, ...]]:
    earlier = and_(
        col(Graft.stock_tree_id) == col(Collection.tree_id),
        col(Graft.done_at) <= col(Collection.done_at),
        _WAS_MADE,
    )
    return select(col(Graft.id)).join_from(Collection, Graft, earlier).where(col(Collection.id) == collection)


def _earlier_on_plant(collection: Source) -> Select[*tuple[Any, ...]]:
    return (
        select(col(Graft.id))
        .join_from(Collection, Plant, col(Plant.source_tree_id) == col(Collection.tree_id))
        .join(GraftOnPlant, col(GraftOnPlant.plant_id) == col(Plant.id))
        .join(
            Graft,
            and_(
                col(Graft.id) == col(GraftOnPlant.graft_id),
                col(Graft.done_at) <= col(Collection.done_at),
                _WAS_MADE,
            ),
        )
        .where(col(Collection.id) == collection)
    )


def _plant_of(tree: Source) -> Select[*tuple[Any, ...]]:
    return select(col(Plant.id)).where(col(Plant.source_tree_id) == tree)


def _tree_it_was_made_on(plant: Source) -> Select[*tuple[Any, ...]]:
    made = and_(col(Graft.id) == col(Plant.graft_id), col(Graft.stock_tree_id).is_not(None))
    return select(col(Graft.stock_tree_id)).join_from(Plant, Graft, made).where(col(Plant.id) == plant)


def _plant_it_was_made_on(plant: Source) -> Select[*tuple[Any, ...]]:
    made = col(GraftOnPlant.graft_id) == col(Plant.graft_id)
    return (
        select(col(GraftOnPlant.plant_id)).join_from(Plant, GraftOnPlant, made).where(col(Plant.id) == plant)
    )


def _grafts_on_tree(tree: Source) -> Select[*tuple[Any, ...]]:
    return select(col(Graft.id)).where(col(Graft.stock_tree_id) == tree, _WAS_MADE)


def _grafts_on_plant(plant: Source) -> Select[*tuple[Any, ...]]:
    made = and_(col(Graft.id) == col(GraftOnPlant.graft_id), _WAS_MADE)
    return (
        select(col(GraftOnPlant.graft_id))
        .join_from(GraftOnPlant, Graft, made)
        .where(col(GraftOnPlant.plant_id) == plant)
    )


# Going back, a tree or plant that is asked about, or that something grows on, stands for all it carries today; a tree that
# wood was cut from stands only for what it carried then, which the steps from the collection know.
BACK = (
    Step((Link.COLLECTION,), Link.TREE, _cut_tree),
    Step((Link.BUNDLE,), Link.COLLECTION, _collection_of),
    Step((Link.BUNDLE,), Link.BUNDLE, _parent),
    Step((Link.GRAFT,), Link.BUNDLE, _woods),
    Step((Link.PLANT,), Link.GRAFT, _graft_of),
    Step((Link.COLLECTION,), Link.GRAFT, _earlier_on_tree),
    Step((Link.COLLECTION,), Link.GRAFT, _earlier_on_plant),
    Step((Link.TREE,), Link.PLANT, _plant_of),
    Step((Link.CARRYING_TREE,), Link.CARRYING_PLANT, _plant_of),
    Step((Link.CARRYING_TREE,), Link.GRAFT, _grafts_on_tree),
    Step((Link.CARRYING_PLANT,), Link.GRAFT, _grafts_on_plant),
    Step((Link.PLANT,), Link.TREE, _tree_it_was_made_on),
    Step((Link.PLANT,), Link.CARRYING_TREE, _tree_it_was_made_on),
    Step((Link.PLANT,), Link.PLANT, _plant_it_was_made_on),
    Step((Link.PLANT,), Link.CARRYING_PLANT, _plant_it_was_made_on),
)
STEPS = {Direction.FORWARD: FORWARD, Direction.BACK: BACK}


def number(link: Link) -> ColumnElement[int]:
    return literal_column(str(int(link)), Integer())


def walk_from(dialect: str, starts: SelectBase, direction: Direction, *, edges: bool = False) -> CTE:
    """All things reached from `starts` (columns kind and id), themselves included: columns kind and id.

    With `edges`, each step taken is a row of its own, with from_kind and from_id beside it; starts may bring theirs.
    """
    begun = starts.subquery("begun")
    columns = [begun.c.kind.label("kind"), begun.c.id.label("id")]
    if edges:
        came = "from_id" in begun.c
        from_kind = begun.c.from_kind if came else literal_column("0", Integer())
        from_id = begun.c.from_id if came else literal(None, Uuid())
        columns += [from_kind.label("from_kind"), from_id.label("from_id")]
    walk = select(*columns).cte("walk", recursive=True)
    terms = [_term(walk, step, edges) for step in STEPS[direction]]
    if dialect == "sqlite":
        return walk.union(*terms)
    onward = union_all(*(term.correlate(walk) for term in terms)).lateral("onward")
    return walk.union(select(*onward.c).select_from(walk.join(onward, true())))


def _term(walk: CTE, step: Step, edges: bool) -> Select[*tuple[Any, ...]]:
    ids = step.ids(walk.c.id)
    end, *between = ids.selected_columns
    columns = [number(step.end).label("kind"), end.label("id")]
    if edges and step.through:
        columns += [number(step.through).label("from_kind"), between[0].label("from_id")]
    elif edges:
        columns += [walk.c.kind.label("from_kind"), walk.c.id.label("from_id")]
    kinds = [number(start) for start in step.starts]
    return ids.with_only_columns(*columns).where(
        walk.c.kind == kinds[0] if len(kinds) == 1 else walk.c.kind.in_(kinds)
    )


def subtree(starts: SelectBase) -> CTE:
    """Bundles (column id of `starts`) with all that was ever split from them."""
    begun = starts.subquery("begun_bundles")
    tree = select(begun.c.id.label("id")).cte("subtree", recursive=True)
    return tree.union(select(col(Bundle.id)).where(col(Bundle.parent_id) == tree.c.id))
