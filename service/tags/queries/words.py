"""What labels say of the things they name, read with one statement a kind whatever their number."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy import Row, Select, select
from sqlmodel import Session, col

from service.bundles.tables import Bundle
from service.catalogue.tables import Cultivar, Rootstock, Taxon
from service.collection.rules import CollectionKind, Wood
from service.collection.tables import Collection
from service.members.tables import Club
from service.tags.rules.labels import LabelWords, WoodName, bundle_words, tree_words, wood_name
from service.tags.rules.words import TagKind
from service.trees.tables import SourceTree

WordsFor = Callable[[Session, Sequence[UUID], date], dict[UUID, LabelWords]]


@dataclass(frozen=True)
class ClubOnLabels:
    short_name: str
    zone: str


def club_on_labels(session: Session) -> ClubOnLabels:
    row = session.execute(select(col(Club.short_name), col(Club.zone))).first()
    return ClubOnLabels(row.short_name, row.zone) if row else ClubOnLabels("", "UTC")


def supply_words(kind: TagKind, words_for: WordsFor) -> None:
    """At start-up: how the labels of a later stage's things get their words."""
    _WORDS[kind] = words_for


def label_words(
    session: Session, things: Iterable[tuple[TagKind, UUID]], *, today: date
) -> dict[UUID, LabelWords]:
    """Words by the thing's id; a thing that does not exist is missing from the answer."""
    by_kind: dict[TagKind, list[UUID]] = {}
    for kind, thing_id in things:
        by_kind.setdefault(kind, []).append(thing_id)
    found: dict[UUID, LabelWords] = {}
    for kind, ids in by_kind.items():
        if kind in _WORDS:
            found.update(_WORDS[kind](session, ids, today))
    return found


def _bundle_words(session: Session, ids: Sequence[UUID], today: date) -> dict[UUID, LabelWords]:
    statement = (
        _with_name(
            select(
                col(Bundle.id), col(Bundle.parent_id), col(Bundle.sticks_at_start), col(Collection.cut_on), col(Collection.wood),
                col(Collection.kind).label("how"), col(Collection.name_as_told), col(Collection.tree_as_told),
                col(SourceTree.number), col(SourceTree.no_propagation_contract), col(Bundle.open_stops),
            )
        )
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(SourceTree, col(SourceTree.id) == col(Collection.tree_id))
        .where(col(Bundle.id).in_(ids))
    )  # fmt: skip
    return {row.id: _words_of_bundle(row, today) for row in session.execute(statement)}


def _words_of_bundle(row: Row[Any], today: date) -> LabelWords:
    tree = (
        f"tree {row.number}"
        if row.number is not None
        else f"tree {row.tree_as_told}"
        if row.tree_as_told
        else "from outside"
    )
    return bundle_words(
        _name(row), cut_on=row.cut_on, sticks=row.sticks_at_start, tree=tree, today=today,
        summer=row.wood == Wood.SUMMER, received=row.how == CollectionKind.RECEIPT, shared=row.parent_id is not None,
        no_propagation=bool(row.no_propagation_contract), stopped=row.open_stops > 0,
    )  # fmt: skip


def _tree_words(session: Session, ids: Sequence[UUID], today: date) -> dict[UUID, LabelWords]:
    statement = (
        _with_name(
            select(
                col(SourceTree.id), col(SourceTree.number), col(SourceTree.planted_year), col(SourceTree.stands_on),
                col(SourceTree.name_as_told), col(SourceTree.no_propagation_contract), col(Rootstock.name).label("stock"),
            )
        )
        .join(Taxon, col(Taxon.id) == col(SourceTree.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(SourceTree.cultivar_id))
        .outerjoin(Rootstock, col(Rootstock.id) == col(SourceTree.rootstock_id))
        .where(col(SourceTree.id).in_(ids))
    )  # fmt: skip
    return {
        row.id: tree_words(
            _name(row), number=row.number, planted_year=row.planted_year, today=today,
            stands_on=row.stock or row.stands_on, no_propagation=row.no_propagation_contract,
        )
        for row in session.execute(statement)
    }  # fmt: skip


def _with_name(statement: Select[*tuple[Any, ...]]) -> Select[*tuple[Any, ...]]:
    return statement.add_columns(
        col(Taxon.kind).label("fruit"), col(Cultivar.epithet), col(Cultivar.trade_designation), col(Cultivar.protection),
        col(Cultivar.protected_until),
    )  # fmt: skip


def _name(row: Row[Any]) -> WoodName:
    return wood_name(
        row.fruit, epithet=row.epithet or "", trade_designation=row.trade_designation or "", as_told=row.name_as_told,
        protection=row.protection, protected_until=row.protected_until,
    )  # fmt: skip


_WORDS: dict[TagKind, WordsFor] = {TagKind.BUNDLE: _bundle_words, TagKind.TREE: _tree_words}
