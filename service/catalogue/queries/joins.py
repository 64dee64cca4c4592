"""Which wood may be joined to which stock."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.catalogue import rules, schemas
from service.catalogue.queries.kinds import NoSuchEntry, facts_for_kinds
from service.catalogue.queries.stocks import rootstocks_with_kind, split
from service.catalogue.tables import CultivarName, Join, Rootstock


def advise_join(
    session: Session,
    scion_taxon_id: UUID,
    cultivar_id: UUID | None,
    rootstock_id: UUID | None = None,
    *,
    stock_taxon_id: UUID | None = None,
) -> schemas.JoinAdviceRead:
    """What is known of a wood on a stock, or on a tree of a kind. At most five statements."""
    stock = _stock(session, rootstock_id, stock_taxon_id)
    wood = _wood(session, scion_taxon_id, cultivar_id)
    return schemas.join_advice_read(rules.advise(_join_rows(session, wood.botanical_name), wood, stock))


def advice_for_wood(
    session: Session, taxon_id: UUID, cultivar_id: UUID | None, *, limit: int = 8
) -> list[schemas.StockAdviceRead]:
    """The stocks a wood may be joined to: the surest first, then those told of in print, then from small trees to large.

    Four statements.
    """
    wood = _wood(session, taxon_id, cultivar_id)
    rows, stocks = _join_rows(session, wood.botanical_name), session.execute(rootstocks_with_kind()).all()
    return _offered(rows, wood, stocks)[:limit]


def stocks_for_woods(
    session: Session, woods: Iterable[tuple[UUID, UUID | None]]
) -> dict[tuple[UUID, UUID | None], list[str]]:
    """The names of the stocks that many woods, each a kind and a variety, may be joined to; the surest first. Four statements."""
    wanted = set(woods)
    taxa = facts_for_kinds(session, {taxon_id for taxon_id, _ in wanted})
    names: dict[UUID, set[str]] = {}
    statement = select(col(CultivarName.cultivar_id), col(CultivarName.folded)).where(
        col(CultivarName.cultivar_id).in_({variety for _, variety in wanted if variety})
    )
    for cultivar_id, folded in session.execute(statement):
        names.setdefault(cultivar_id, set()).add(folded)
    rows = [_join_row(row) for row in session.execute(select(Join).order_by(col(Join.place))).scalars()]
    stocks = session.execute(rootstocks_with_kind()).all()
    found = {}
    for taxon_id, variety in wanted:
        wood = rules.WoodFacts(
            taxa[taxon_id].botanical_name, frozenset(names.get(variety, ()) if variety else ())
        )
        own = [
            row
            for row in rows
            if row.scion_taxa[:1] and row.scion_taxa[0].startswith(_genus(wood.botanical_name))
        ]
        found[taxon_id, variety] = [each.rootstock for each in _offered(own, wood, stocks)]
    return found


def _offered(
    rows: Sequence[rules.JoinRow], wood: rules.WoodFacts, stocks: Sequence[Any]
) -> list[schemas.StockAdviceRead]:
    order = {verdict: place for place, verdict in enumerate(rules.joins.OFFERED)}
    offered = []
    for row in stocks:
        advice = rules.advise(rows, wood, _stock_facts(row.Rootstock, row.botanical_name))
        if advice.verdict in order:
            place = rules.place_of_stock(row.Rootstock.mark, row.Rootstock.vigour, row.Rootstock.name)
            offered.append(((order[advice.verdict], *place), row.Rootstock.name, row, advice))
    offered.sort(key=lambda one: one[0])
    return [
        schemas.StockAdviceRead(
            rootstock_id=row.Rootstock.id, rootstock=name, kind=row.kind, vigour=row.Rootstock.vigour, verdict=advice.verdict,
            note=advice.note, mark=advice.mark,
        )
        for _, name, row, advice in offered
    ]  # fmt: skip


def _genus(botanical_name: str) -> str:
    return botanical_name.split(maxsplit=1)[0]


def _wood(session: Session, taxon_id: UUID, cultivar_id: UUID | None) -> rules.WoodFacts:
    taxon = facts_for_kinds(session, [taxon_id]).get(taxon_id)
    if taxon is None:
        raise NoSuchEntry("There is no such kind in the catalogue.", field="taxon_id")
    names: Sequence[str] = ()
    if cultivar_id is not None:
        names = (
            session.execute(
                select(col(CultivarName.folded)).where(col(CultivarName.cultivar_id) == cultivar_id)
            )
            .scalars()
            .all()
        )
    return rules.WoodFacts(taxon.botanical_name, frozenset(names))


def _stock(session: Session, rootstock_id: UUID | None, stock_taxon_id: UUID | None) -> rules.StockFacts:
    if rootstock_id is not None:
        row = session.execute(rootstocks_with_kind().where(col(Rootstock.id) == rootstock_id)).first()
        if row is not None:
            return _stock_facts(row.Rootstock, row.botanical_name)
    elif stock_taxon_id is not None:
        taxon = facts_for_kinds(session, [stock_taxon_id]).get(stock_taxon_id)
        if taxon is not None:
            return rules.StockFacts(taxon.botanical_name)
    raise NoSuchEntry("There is no such stock in the catalogue.", field="rootstock_id")


def _stock_facts(stock: Rootstock, botanical_name: str) -> rules.StockFacts:
    names = [stock.name, *split(stock.other_names)]
    return rules.StockFacts(botanical_name, frozenset(map(rules.fold_name, names)), stock.form == "seedling")


def _join_rows(session: Session, scion: str) -> list[rules.JoinRow]:
    genus = _genus(scion)
    rows = session.execute(
        select(Join).where(col(Join.scion_taxon).startswith(genus, autoescape=True)).order_by(col(Join.place))
    ).scalars()
    return [_join_row(row) for row in rows]


def _join_row(row: Join) -> rules.JoinRow:
    return rules.JoinRow(
        row.place, tuple(split(row.scion_taxon)), tuple(split(row.scion_cultivar)), row.scion_condition,
        tuple(split(row.stock_taxon)), tuple(split(row.stock)), row.stock_condition, rules.Verdict(row.verdict), row.bridge,
        row.note, row.source, row.mark,
    )  # fmt: skip
