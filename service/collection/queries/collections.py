"""Cuts and receipts: facts for later stages, one, lists, and what is to finish."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from types import SimpleNamespace
from typing import Any
from uuid import UUID

from sqlalchemy import func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.catalogue.rules import CultivarFacts, TaxonFacts, page_name, wood_use
from service.catalogue.schemas import written
from service.catalogue.tables import Cultivar, Taxon
from service.collection.rules import (
    MISSING_WORDS,
    CollectionFacts,
    CollectionKind,
    Warn,
    Wood,
    missing_of,
    wood_warnings,
)
from service.collection.schemas import CollectionRead, CollectionSummary, CuttingWarning, ToFinish
from service.collection.tables import Collection
from service.lib.counted import several
from service.lib.errors import NotFound
from service.lib.paging import Page, Paging, page_of
from service.members.tables import Party
from service.trees.rules import CheckKind, CheckResult, TreeFacts, kind_and_name, tree_name
from service.trees.tables import Site, SourceTree, TreeCheck


class NoSuchCollection(NotFound):
    title = "There is no such cut or receipt"


def tree_seen_in_leaf_on() -> Any:
    """When the tree of the outer row was last seen in leaf."""
    return (
        select(func.max(col(TreeCheck.seen_on)))
        .where(
            col(TreeCheck.tree_id) == col(Collection.tree_id), col(TreeCheck.kind) == CheckKind.LEAF,
            col(TreeCheck.result) != CheckResult.NOT_SEEN,
            col(TreeCheck.taken_back_at).is_(None),
        )
        .correlate(Collection)
        .scalar_subquery()
        .label("tree_seen_in_leaf_on")
    )  # fmt: skip


_giver = aliased(Party)
COLUMNS = list(Collection.__table__.columns)  # type: ignore[attr-defined]
_AROUND = [
    col(SourceTree.open_stops).label("tree_stops"),
    col(SourceTree.number).label("tree_number"), col(SourceTree.code).label("tree_code"), col(Site.name).label("site_name"),
    col(Taxon.genus), col(Taxon.kind).label("kind_name"), col(Taxon.botanical_name), col(Taxon.stage_scale), col(Cultivar.epithet),
    col(Cultivar.group_name), col(Cultivar.trade_designation), col(Cultivar.protection), col(Cultivar.protected_until),
    col(Cultivar.protection_checked_on), col(Cultivar.provisional).label("cultivar_provisional"), _giver.name.label("giver_name"),  # type: ignore[attr-defined]
    tree_seen_in_leaf_on(),
]  # fmt: skip


_OF_VARIETY = (
    "epithet",
    "group_name",
    "trade_designation",
    "protection",
    "protected_until",
    "protection_checked_on",
)


def collections() -> Any:
    """Every collection with the names around it."""
    return (
        select(*COLUMNS, *_AROUND)
        .select_from(Collection)
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(SourceTree, col(SourceTree.id) == col(Collection.tree_id))
        .outerjoin(Site, col(Site.id) == col(SourceTree.site_id))
        .outerjoin(_giver, _giver.id == col(Collection.from_party_id))  # type: ignore[arg-type]
    )


def _name(row: Any) -> str:
    return tree_name(page_name(row.epithet, row.trade_designation) if row.epithet else "", row.name_as_told)


def _kind_and_name(row: Any) -> str:
    variety = page_name(row.epithet, row.trade_designation) if row.epithet else ""
    return kind_and_name(row.kind_name, variety, row.name_as_told)


def _cultivar(row: Any) -> CultivarFacts | None:
    if row.cultivar_id is None:
        return None
    return CultivarFacts(
        row.cultivar_id, row.taxon_id, row.epithet, row.group_name, row.trade_designation, row.protection, row.protected_until,
        row.protection_checked_on, row.cultivar_provisional, row.botanical_name, row.genus, row.kind_name,
    )  # fmt: skip


def facts_for_collections(session: Session, collection_ids: Iterable[UUID]) -> dict[UUID, CollectionFacts]:
    """Collections by id; one statement."""
    rows = session.execute(collections().where(col(Collection.id).in_(set(collection_ids))))
    return {row.id: _facts(row) for row in rows}


def _facts(row: Any) -> CollectionFacts:
    return CollectionFacts(
        id=row.id, number=row.number, kind=CollectionKind(row.kind), wood=Wood(row.wood), tree_id=row.tree_id,
        tree_number=row.tree_number, round_id=row.round_id, taxon_id=row.taxon_id, genus=row.genus, kind_name=row.kind_name,
        cultivar_id=row.cultivar_id, name=_name(row), name_as_told=row.name_as_told, area_id=row.area_id, sticks=row.sticks,
        stage=row.stage, cut_on=row.cut_on, cut_on_guessed=row.cut_on_guessed, done_at=row.done_at, unfinished=row.unfinished,
        tree_stops=row.tree_stops or 0,
    )  # fmt: skip


def summary(row: Any) -> CollectionSummary:
    return CollectionSummary(**_summary(row))


def _summary(row: Any) -> dict[str, Any]:
    return {
        "id": row.id, "number": row.number, "kind": row.kind, "wood": row.wood, "tree_id": row.tree_id, "tree_number": row.tree_number,
        "tree_code": row.tree_code, "site_name": row.site_name or "", "round_id": row.round_id, "taxon_id": row.taxon_id,
        "kind_name": row.kind_name, "cultivar_id": row.cultivar_id, "page_name": _name(row), "sticks": row.sticks, "stage": row.stage,
        "from_party_id": row.from_party_id, "from_whom": row.giver_name or row.from_whom, "cut_on": row.cut_on,
        "cut_on_guessed": row.cut_on_guessed, "done_at": row.done_at, "unfinished": row.unfinished, "version": row.version,
    }  # fmt: skip


_AS_TOLD = (
    "name_as_told", "area_id", "leaves_down", "leaves_off", "disinfected", "owner_agreed", "their_reference", "health_paper",
    "tree_as_told", "recorded_at", "by_party_id", "for_party_id", "note", "tree_seen_in_leaf_on",
)  # fmt: skip


def get_collection(session: Session, collection_id: UUID) -> CollectionRead:
    """One cut or receipt; one statement."""
    row = session.execute(collections().where(col(Collection.id) == collection_id)).first()
    if row is None:
        raise NoSuchCollection("There is no cut or receipt with this id.", id=str(collection_id))
    return collection_read(row)


def collection_read(row: Any, more: Iterable[Warn] = ()) -> CollectionRead:
    """The answer for one row, with what else there is to know."""
    cultivar, wood = _cultivar(row), Wood(row.wood)
    warnings = [*more, *wood_warnings(row.stage_scale, wood, row.stage, row.leaves_down, row.leaves_off)]
    return CollectionRead(
        **_summary(row), **{name: getattr(row, name) for name in _AS_TOLD}, name=written(cultivar) if cultivar else None,
        wood_use=wood_use(row.stage_scale, row.stage) if row.stage else None,
        missing=missing_of(CollectionKind(row.kind), wood, row._mapping),  # noqa: SLF001
        warnings=[CuttingWarning(word=warn.word, text=warn.text) for warn in warnings],
    )  # fmt: skip


def new_collection_read(
    told: Mapping[str, Any], taxon: TaxonFacts, cultivar: CultivarFacts | None, warnings: Iterable[Warn], tree: TreeFacts | None = None,
    giver_name: str = "",
) -> CollectionRead:  # fmt: skip
    """The answer for a collection that was just written, without another look."""
    variety = {name: getattr(cultivar, name, None) for name in _OF_VARIETY}
    around = {
        "tree_number": tree.number if tree else None, "tree_code": tree.code if tree else None, "site_name": tree.site_name if tree else "",
        "genus": taxon.genus, "kind_name": taxon.kind, "botanical_name": taxon.botanical_name, "stage_scale": taxon.stage_scale,
        "cultivar_provisional": cultivar.provisional if cultivar else None, "giver_name": giver_name,
        "tree_seen_in_leaf_on": tree.last_leaf_check.seen_on if tree and tree.last_leaf_check else None,
    }  # fmt: skip
    row = {**told, **variety, **around}
    return collection_read(SimpleNamespace(**row, _mapping=row), warnings)


def list_collections(
    session: Session, paging: Paging, *, kind: CollectionKind | None = None, wood: Wood | None = None, tree_id: UUID | None = None,
    round_id: UUID | None = None, cultivar_id: UUID | None = None, from_party_id: UUID | None = None, cut_from: date | None = None,
    cut_to: date | None = None, for_party_id: UUID | None = None,
) -> Page[CollectionSummary]:  # fmt: skip
    """Cuts and receipts, the newest first; two statements."""
    statement = collections()
    for column, value in (
        (Collection.kind, kind.value if kind else None), (Collection.wood, wood.value if wood else None), (Collection.tree_id, tree_id),
        (Collection.round_id, round_id), (Collection.cultivar_id, cultivar_id), (Collection.from_party_id, from_party_id),
        (Collection.for_party_id, for_party_id),
    ):  # fmt: skip
        if value is not None:
            statement = statement.where(col(column) == value)
    if cut_from is not None:
        statement = statement.where(col(Collection.cut_on) >= cut_from)
    if cut_to is not None:
        statement = statement.where(col(Collection.cut_on) <= cut_to)
    keys: list[tuple[Any, bool]] = [(col(Collection.done_at), True), (col(Collection.number), True)]
    return page_of(session, statement, keys, paging, summary)


def list_to_finish(session: Session, paging: Paging, *, party_id: UUID | None = None) -> Page[ToFinish]:
    """Cuts and receipts that wait for what was left out, the newest first; two statements. `party_id`: only theirs."""
    statement = collections().where(col(Collection.unfinished).is_(True))
    if party_id is not None:
        statement = statement.where(
            (col(Collection.for_party_id) == party_id) | (col(Collection.by_party_id) == party_id)
        )
    keys: list[tuple[Any, bool]] = [(col(Collection.number), True)]
    return page_of(session, statement, keys, paging, _to_finish)


def _to_finish(row: Any) -> ToFinish:
    missing = missing_of(CollectionKind(row.kind), Wood(row.wood), row._mapping)  # noqa: SLF001
    where = f"tree {row.tree_number}" if row.tree_number else (row.giver_name or row.from_whom or "outside")
    done = "cut on" if row.kind == CollectionKind.CUT else "from"
    return ToFinish(
        id=row.id, number=row.number, kind=row.kind, words=f"{_kind_and_name(row)}, {several(row.sticks, 'stick')} {done} {where}",
        missing=missing, missing_words=[MISSING_WORDS[name] for name in missing], cut_on=row.cut_on, version=row.version,
    )  # fmt: skip


def was_cut(session: Session, tree_id: UUID) -> bool:
    """Whether any cut of this tree is in the record, labelled or not; one statement."""
    found = select(col(Collection.id)).where(col(Collection.tree_id) == tree_id).limit(1)
    return session.execute(found).first() is not None
