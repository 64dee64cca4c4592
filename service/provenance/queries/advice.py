"""What each of many woods may be joined to: two small statements, two more only after the catalogue changed.

Weighing one wood against every stock and row takes milliseconds, and cards are renewed inside every change, so the
outcome is kept in memory under a digest of everything it rests on.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from functools import cache, lru_cache
from typing import Any
from uuid import UUID

from sqlalchemy import Select, String, cast, func, literal, select
from sqlmodel import Session, col

from service.catalogue import rules as catalogue
from service.catalogue.queries.stocks import rootstocks_with_kind, split
from service.catalogue.rules import JoinRow, Verdict, WoodFacts
from service.catalogue.tables import CultivarName, Join, Rootstock
from service.provenance.rules.card import StockFacts

MOST_STOCKS = 6
Wood = tuple[str, UUID | None]  # botanical name, variety
Stock = tuple[str, str, catalogue.StockFacts, Any]  # name, kind, what it is to the rules, its place in a list


def stocks_for_woods(session: Session, woods: Iterable[Wood]) -> dict[Wood, tuple[StockFacts, ...]]:
    """The stocks each wood may be joined to, the surest first."""
    wanted = set(woods)
    if not wanted:
        return {}
    digest = _digest(session)
    spelled = _spellings(session, {cultivar for _, cultivar in wanted if cultivar})
    facts = {
        wood: WoodFacts(wood[0], frozenset(spelled.get(wood[1], ()) if wood[1] else ())) for wood in wanted
    }
    known = _KNOWN.get(digest)
    if known is None:
        _KNOWN.clear()
        known = _KNOWN[digest] = _Known(*_read(session))
    return {wood: known.best(one) for wood, one in facts.items()}


class _Known:
    """The rows and stocks of one state of the catalogue, and what came of them for each wood."""

    def __init__(self, rows: list[JoinRow], stocks: list[Stock]) -> None:
        self._rows = rows
        self._stocks = stocks
        self.best = lru_cache(maxsize=4096)(self._best)

    def _best(self, wood: WoodFacts) -> tuple[StockFacts, ...]:
        order = {
            verdict: place
            for place, verdict in enumerate((Verdict.COMPATIBLE, Verdict.COMPATIBLE_WITH_LIMITS))
        }
        genus = wood.botanical_name.split(maxsplit=1)[0]
        near = [
            row for row in self._rows if any(taxon.split(maxsplit=1)[0] == genus for taxon in row.scion_taxa)
        ]
        found = []
        for name, kind, stock, place in self._stocks:
            advice = catalogue.advise(near, wood, stock)
            if advice.verdict in order:
                told = StockFacts(name, kind, advice.verdict, advice.note, advice.mark)
                found.append(((order[advice.verdict], *place), told))
        return tuple(stock for _, stock in sorted(found, key=lambda one: one[0])[:MOST_STOCKS])


_KNOWN: dict[str, _Known] = {}


@cache
def _all_text() -> Select[*tuple[Any, ...]]:
    return select(_text_of(Join).label("joins"), _text_of(Rootstock).label("stocks"))


def _digest(session: Session) -> str:
    """A digest of all rows that advice rests on: they are a few hundred lines of text."""
    row = session.execute(_all_text()).one()
    return hashlib.sha256(f"{row.joins}\n{row.stocks}".encode()).hexdigest()


def _text_of(table: type[Join | Rootstock]) -> Any:
    columns = [column for column in table.__table__.c if column.name not in {"id", "source"}]  # type: ignore[attr-defined, union-attr]
    line = cast(columns[0], String)
    for column in columns[1:]:
        line = line + literal("|") + cast(column, String)  # type: ignore[assignment]
    return select(func.aggregate_strings(line, "\n")).select_from(table).scalar_subquery()


def _spellings(session: Session, cultivars: set[UUID]) -> dict[UUID, set[str]]:
    names: dict[UUID, set[str]] = {}
    if cultivars:
        rows = session.execute(
            select(col(CultivarName.cultivar_id), col(CultivarName.folded)).where(
                col(CultivarName.cultivar_id).in_(cultivars)
            )
        )
        for cultivar_id, folded in rows:
            names.setdefault(cultivar_id, set()).add(folded)
    return names


def _read(session: Session) -> tuple[list[JoinRow], list[Stock]]:
    rows = [
        JoinRow(
            row.place, tuple(split(row.scion_taxon)), tuple(split(row.scion_cultivar)), row.scion_condition,
            tuple(split(row.stock_taxon)), tuple(split(row.stock)), row.stock_condition, Verdict(row.verdict), row.bridge,
            row.note, row.source, row.mark,
        )
        for row in session.execute(select(Join).order_by(col(Join.place))).scalars()
    ]  # fmt: skip
    stocks = [
        (
            row.Rootstock.name, row.kind,
            catalogue.StockFacts(
                row.botanical_name, frozenset(map(catalogue.fold_name, [row.Rootstock.name, *split(row.Rootstock.other_names)])),
                row.Rootstock.form == "seedling",
            ),
            catalogue.place_of_stock(row.Rootstock.mark, row.Rootstock.vigour, row.Rootstock.name),
        )
        for row in session.execute(rootstocks_with_kind()).all()
    ]  # fmt: skip
    return rows, stocks
