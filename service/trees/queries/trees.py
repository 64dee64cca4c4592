"""Trees: facts for whoever cuts, one tree, lists."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from sqlalchemy import String, cast, func, or_, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.catalogue import queries as catalogue
from service.catalogue.rules import CultivarFacts, TaxonFacts, page_name
from service.catalogue.schemas import written
from service.catalogue.tables import Cultivar, Rootstock, Taxon
from service.lib.errors import NotFound
from service.lib.paging import Page, Paging, page_of
from service.members.tables import Party
from service.trees.queries.stops import open_stops_for_trees, stop_reads
from service.trees.rules import (
    CheckKind,
    CheckResult,
    Identity,
    LastCheck,
    MayCut,
    StopFacts,
    TreeFacts,
    tree_name,
)
from service.trees.schemas import LastCheckRead, TreeRead, TreeSummary, TreeVarietyRead
from service.trees.tables import Site, SourceTree, TreeCheck, TreeVariety


class NoSuchTree(NotFound):
    title = "There is no such tree"


_leaf, _fruit = aliased(TreeCheck), aliased(TreeCheck)
_Stock, _Between = aliased(Rootstock, name="stock"), aliased(Rootstock, name="between")
_TREE = [column for column in SourceTree.__table__.columns if column.name != "by_party_id"]  # type: ignore[attr-defined]
_TAXON = [
    col(Taxon.slug), col(Taxon.botanical_name), col(Taxon.genus), col(Taxon.kind), col(Taxon.eppo_code), col(Taxon.eppo_mark),
    col(Taxon.species_group), col(Taxon.stage_scale),
]  # fmt: skip
_CULTIVAR = [
    col(Cultivar.epithet), col(Cultivar.group_name), col(Cultivar.trade_designation), col(Cultivar.protection),
    col(Cultivar.protected_until), col(Cultivar.protection_checked_on), col(Cultivar.provisional).label("cultivar_provisional"),
]  # fmt: skip
_AROUND = [
    col(Site.name).label("site_name"), col(Site.region), col(Site.area_id), col(Party.name).label("owner_name"),
    _leaf.result.label("leaf_result"), _leaf.seen_on.label("leaf_seen_on"),  # type: ignore[attr-defined]
    _fruit.result.label("fruit_result"), _fruit.seen_on.label("fruit_seen_on"),  # type: ignore[attr-defined]
]  # fmt: skip


def _newest(kind: CheckKind) -> Any:
    """The newest look of a kind that saw the tree of the outer row."""
    return (
        select(col(TreeCheck.id))
        .where(
            col(TreeCheck.tree_id) == col(SourceTree.id),
            col(TreeCheck.kind) == kind.value,
            col(TreeCheck.result) != CheckResult.NOT_SEEN.value,
            col(TreeCheck.taken_back_at).is_(None),
        )
        .order_by(col(TreeCheck.seen_on).desc(), col(TreeCheck.recorded_at).desc())
        .limit(1)
        .correlate(SourceTree)
        .scalar_subquery()
    )


def every_tree(*more: Any) -> Any:
    """Every tree with the names around it and its newest looks."""
    return (
        select(*_TREE, *_TAXON, *_CULTIVAR, *_AROUND, *more)
        .select_from(SourceTree)
        .join(Site, col(Site.id) == col(SourceTree.site_id))
        .join(Taxon, col(Taxon.id) == col(SourceTree.taxon_id))
        .join(Party, col(Party.id) == col(SourceTree.owner_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(SourceTree.cultivar_id))
        .outerjoin(_leaf, _leaf.id == _newest(CheckKind.LEAF))
        .outerjoin(_fruit, _fruit.id == _newest(CheckKind.FRUIT))
    )


def facts_for_cutting(
    session: Session, tree_ids: Iterable[UUID], *, lock: bool = False
) -> dict[UUID, TreeFacts]:
    """Trees by id: two statements, and one more where any of them is stopped.

    With `lock`, nobody can stop or change these trees, or start a round on their sites, until this is saved.
    """
    wanted = sorted(set(tree_ids))
    statement = every_tree().where(col(SourceTree.id).in_(wanted)).order_by(col(SourceTree.id))
    if lock:
        statement = statement.with_for_update(of=[SourceTree, Site], key_share=True)
    rows = session.execute(statement).all()
    stops = open_stops_for_trees(session, [row.id for row in rows if row.open_stops])
    more: dict[UUID, set[UUID]] = {}
    for tree_id, cultivar_id in session.execute(
        select(col(TreeVariety.tree_id), col(TreeVariety.cultivar_id)).where(
            col(TreeVariety.tree_id).in_(wanted)
        )
    ):
        more.setdefault(tree_id, set()).add(cultivar_id)
    return {row.id: tree_facts(row, stops.get(row.id, []), frozenset(more.get(row.id, ()))) for row in rows}


def get_facts(session: Session, tree_id: UUID, *, lock: bool = False) -> TreeFacts:
    facts = facts_for_cutting(session, [tree_id], lock=lock).get(tree_id)
    if facts is None:
        raise NoSuchTree("There is no tree with this id.", id=str(tree_id))
    return facts


def _taxon_of(row: Any) -> TaxonFacts:
    return TaxonFacts(row.taxon_id, *(getattr(row, column.key) for column in _TAXON))  # type: ignore[attr-defined]


def _cultivar_of(row: Any) -> CultivarFacts | None:
    if row.cultivar_id is None:
        return None
    return CultivarFacts(
        row.cultivar_id, row.taxon_id, row.epithet, row.group_name, row.trade_designation, row.protection, row.protected_until,
        row.protection_checked_on, row.cultivar_provisional, row.botanical_name, row.genus, row.kind,
    )  # fmt: skip


def tree_facts(row: Any, stops: list[StopFacts], more_varieties: frozenset[UUID] = frozenset()) -> TreeFacts:
    return TreeFacts(
        id=row.id, number=row.number, code=row.code, site_id=row.site_id, site_name=row.site_name, region=row.region,
        area_id=row.area_id, taxon=_taxon_of(row), cultivar=_cultivar_of(row), name_as_told=row.name_as_told,
        identity=Identity(row.identity), owner_id=row.owner_id, owner_name=row.owner_name, may_cut=MayCut(row.may_cut),
        most_sticks=row.most_sticks, planted_year=row.planted_year, no_propagation_contract=row.no_propagation_contract,
        provisional=row.provisional, felled_on=row.felled_on, open_stops=row.open_stops,
        last_leaf_check=LastCheck(CheckResult(row.leaf_result), row.leaf_seen_on) if row.leaf_result else None,
        last_fruit_check=LastCheck(CheckResult(row.fruit_result), row.fruit_seen_on) if row.fruit_result else None,
        stop=stops[0] if stops else None, more_varieties=more_varieties,
        stopped_since=min((stop.placed_at for stop in stops), default=None), name_since=row.name_since,
    )  # fmt: skip


# -- lists and one tree --------------------------------------------------------------------------------------------


def list_trees(
    session: Session, paging: Paging, *, exact: bool, site_id: UUID | None = None, taxon_id: UUID | None = None,
    cultivar_id: UUID | None = None, owner_id: UUID | None = None, may_cut: MayCut | None = None, stopped: bool | None = None,
    felled: bool | None = None, provisional: bool | None = None, q: str = "",
) -> Page[TreeSummary]:  # fmt: skip
    """Trees by number; two statements, and one more for a search. `exact`: where on the site they stand is told."""
    statement = every_tree()
    for column, value in (
        (SourceTree.site_id, site_id), (SourceTree.taxon_id, taxon_id), (SourceTree.cultivar_id, cultivar_id),
        (SourceTree.owner_id, owner_id), (SourceTree.may_cut, may_cut.value if may_cut else None), (SourceTree.provisional, provisional),
    ):  # fmt: skip
        if value is not None:
            statement = statement.where(col(column) == value)
    if stopped is not None:
        statement = statement.where(
            col(SourceTree.open_stops) > 0 if stopped else col(SourceTree.open_stops) == 0
        )
    if felled is not None:
        statement = statement.where(
            col(SourceTree.felled_on).is_not(None) if felled else col(SourceTree.felled_on).is_(None)
        )
    if q.strip():
        statement = statement.where(_matches(session, q.strip()))
    keys: list[tuple[Any, bool]] = [(col(SourceTree.number), False)]
    return page_of(session, statement, keys, paging, lambda row: TreeSummary(**summary_of(row, exact=exact)))


def _matches(session: Session, typed: str) -> Any:
    """Trees by number, by a spelling of their variety, or by what was told of their name."""
    found = [one.id for one in catalogue.search_cultivars(session, typed, limit=20)]
    told = func.lower(col(SourceTree.name_as_told)).contains(typed.lower(), autoescape=True)
    number = cast(col(SourceTree.number), String) == typed.removeprefix("tree ").lstrip("0")
    return or_(number, told, col(SourceTree.cultivar_id).in_(found))


def summary_of(row: Any, *, exact: bool) -> dict[str, Any]:
    cultivar = _cultivar_of(row)
    leaf = LastCheckRead(result=row.leaf_result, seen_on=row.leaf_seen_on) if row.leaf_result else None
    fruit = LastCheckRead(result=row.fruit_result, seen_on=row.fruit_seen_on) if row.fruit_result else None
    return {
        "id": row.id, "number": row.number, "code": row.code, "site_id": row.site_id, "site_name": row.site_name, "region": row.region,
        "area_id": row.area_id, "where_on_site": row.where_on_site if exact else "", "taxon_id": row.taxon_id, "kind": row.kind,
        "cultivar_id": row.cultivar_id, "page_name": tree_name(cultivar.page_name if cultivar else "", row.name_as_told),
        "name_as_told": row.name_as_told, "identity": row.identity, "owner_id": row.owner_id, "owner_name": row.owner_name,
        "may_cut": row.may_cut, "most_sticks": row.most_sticks, "planted_year": row.planted_year, "provisional": row.provisional,
        "felled_on": row.felled_on, "open_stops": row.open_stops, "last_leaf_check": leaf, "last_fruit_check": fruit,
        "version": row.version,
    }  # fmt: skip


def get_tree(session: Session, tree_id: UUID, *, exact: bool = True) -> TreeRead:
    """One tree; two statements, and one more where it is stopped."""
    statement = (
        every_tree(_Stock.name.label("rootstock"), _Between.name.label("interstem"))  # type: ignore[attr-defined]
        .outerjoin(_Stock, _Stock.id == col(SourceTree.rootstock_id))
        .outerjoin(_Between, _Between.id == col(SourceTree.interstem_id))
    )
    row = session.execute(statement.where(col(SourceTree.id) == tree_id)).first()
    if row is None:
        raise NoSuchTree("There is no tree with this id.", id=str(tree_id))
    cultivar = _cultivar_of(row)
    stops = open_stops_for_trees(session, [tree_id]).get(tree_id, []) if row.open_stops else []
    return TreeRead(
        **summary_of(row, exact=exact), name=written(cultivar) if cultivar else None, rootstock_id=row.rootstock_id,
        rootstock=row.rootstock or "", interstem_id=row.interstem_id, interstem=row.interstem or "", stands_on=row.stands_on,
        no_propagation_contract=row.no_propagation_contract, rights_note=row.rights_note, varieties=_varieties(session, tree_id),
        stops=stop_reads(stops), note=row.note, created_at=row.created_at,
    )  # fmt: skip


def _varieties(session: Session, tree_id: UUID) -> list[TreeVarietyRead]:
    rows = session.execute(
        select(TreeVariety, col(Cultivar.epithet), col(Cultivar.trade_designation))
        .join(Cultivar, col(Cultivar.id) == col(TreeVariety.cultivar_id))
        .where(col(TreeVariety.tree_id) == tree_id)
        .order_by(col(Cultivar.epithet))
    )
    return [
        TreeVarietyRead(
            cultivar_id=row.TreeVariety.cultivar_id, name=page_name(row.epithet, row.trade_designation),
            branch=row.TreeVariety.branch, since=row.TreeVariety.since,
        )
        for row in rows
    ]  # fmt: skip


def trees_of_site(session: Session, site_id: UUID) -> list[UUID]:
    return list(
        session.execute(select(col(SourceTree.id)).where(col(SourceTree.site_id) == site_id)).scalars()
    )
