"""What is known of many joins at once: four statements, however many."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from sqlalchemy import or_, select
from sqlmodel import Session, col

from service.catalogue import rules
from service.catalogue.queries import facts_for_kinds
from service.catalogue.queries.stocks import rootstocks_with_kind, split
from service.catalogue.rules import JoinAdvice, JoinRow, StockFacts, Verdict, WoodFacts
from service.catalogue.tables import CultivarName, Join, Rootstock


@dataclass(frozen=True)
class Sort:
    """A kind, and a variety of it where known."""

    taxon_id: UUID
    cultivar_id: UUID | None = None


@dataclass(frozen=True)
class JoinAsked:
    """A wood on a rootstock of the list, or on another wood."""

    wood: Sort
    stock: Sort | None = None
    rootstock_id: UUID | None = None


def advise_all(session: Session, asked: Iterable[JoinAsked]) -> dict[JoinAsked, JoinAdvice]:
    """What is known of each join. A stock that is in no list is not known."""
    wanted = set(asked)
    if not wanted:
        return {}
    sorts = {join.wood for join in wanted} | {join.stock for join in wanted if join.stock}
    woods = _woods(session, sorts)
    stocks = _rootstocks(session, {join.rootstock_id for join in wanted if join.rootstock_id})
    rows = _rows(session, {woods[join.wood].botanical_name for join in wanted})
    found: dict[JoinAsked, JoinAdvice] = {}
    for join in wanted:
        wood = woods[join.wood]
        stock = stocks.get(join.rootstock_id) if join.rootstock_id else None
        if join.stock is not None:
            stock = StockFacts(woods[join.stock].botanical_name, woods[join.stock].names)
        genus = wood.botanical_name.split(maxsplit=1)[0]
        near = [row for row in rows if any(taxon.split(maxsplit=1)[0] == genus for taxon in row.scion_taxa)]
        found[join] = (
            rules.advise(near, wood, stock)
            if stock
            else JoinAdvice(Verdict.UNKNOWN, "the stock is told in words")
        )
    return found


def _woods(session: Session, sorts: set[Sort]) -> dict[Sort, WoodFacts]:
    kinds = facts_for_kinds(session, {sort.taxon_id for sort in sorts})
    cultivars = [sort.cultivar_id for sort in sorts if sort.cultivar_id]
    names: dict[UUID, set[str]] = {}
    if cultivars:
        rows = session.execute(
            select(col(CultivarName.cultivar_id), col(CultivarName.folded)).where(
                col(CultivarName.cultivar_id).in_(cultivars)
            )
        )
        for row in rows:
            names.setdefault(row.cultivar_id, set()).add(row.folded)
    return {
        sort: WoodFacts(
            kinds[sort.taxon_id].botanical_name,
            frozenset(names.get(sort.cultivar_id, ()) if sort.cultivar_id else ()),
        )
        for sort in sorts
    }


def _rootstocks(session: Session, ids: set[UUID]) -> dict[UUID, StockFacts]:
    if not ids:
        return {}
    found: dict[UUID, StockFacts] = {}
    for row in session.execute(rootstocks_with_kind().where(col(Rootstock.id).in_(ids))):
        names = frozenset(map(rules.fold_name, [row.Rootstock.name, *split(row.Rootstock.other_names)]))
        found[row.Rootstock.id] = StockFacts(row.botanical_name, names, row.Rootstock.form == "seedling")
    return found


def _rows(session: Session, scions: set[str]) -> list[JoinRow]:
    genera = sorted({scion.split(maxsplit=1)[0] for scion in scions})
    near = or_(*(col(Join.scion_taxon).contains(genus, autoescape=True) for genus in genera))
    rows = session.execute(select(Join).where(near).order_by(col(Join.place))).scalars()
    return [
        JoinRow(
            row.place, tuple(split(row.scion_taxon)), tuple(split(row.scion_cultivar)), row.scion_condition,
            tuple(split(row.stock_taxon)), tuple(split(row.stock)), row.stock_condition, Verdict(row.verdict), row.bridge, row.note,
            row.source, row.mark,
        )
        for row in rows
    ]  # fmt: skip
