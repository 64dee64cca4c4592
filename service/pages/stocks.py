"""What a wood may be grafted onto: what is known to unite, by the size of the tree it makes, then every other stock."""

from __future__ import annotations

from itertools import groupby
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.catalogue import queries
from service.catalogue.rules import VIGOURS
from service.catalogue.schemas import RootstockRead, StockAdviceRead
from service.lib.paging import EVERY
from service.pages.choices import Choices
from service.pages.finding import found
from service.pages.forms import Form

FEW = 8


def for_wood(session: Session, taxon_id: UUID, cultivar_id: UUID | None) -> dict[str, Any]:
    """`fitting`, `more_fitting`: (size, stocks) to choose from; `rest`: others by name; `said`: what is known, once per verdict."""
    advice = queries.advice_for_wood(session, taxon_id, cultivar_id, limit=EVERY.limit)
    listed = {stock.id: stock for stock in queries.list_rootstocks(session, EVERY).items}
    advised = {each.rootstock_id for each in advice}
    return {
        "fitting": _by_size(advice[:FEW], listed),
        "more_fitting": _by_size(advice[FEW:], listed),
        "rest": [(stock.id, _words(stock)) for stock in listed.values() if stock.id not in advised],
        "said": [
            (verdict, note, mark, [each.rootstock for each in same])
            for (verdict, note, mark), same in groupby(
                sorted(advice, key=_saying), key=lambda each: (each.verdict, each.note, each.mark)
            )
        ],
    }


def chosen(form: Form) -> dict[str, str]:
    """The rootstock of a form; one that was typed goes before one that was tapped."""
    told = found(form, "other_stock", _every) or form.text("rootstock_id")
    return {"rootstock_id": told} if told else {}


def _every(session: Session) -> Choices:
    return [(stock.id, _words(stock)) for stock in queries.list_rootstocks(session, EVERY).items]


def _by_size(
    advice: list[StockAdviceRead], listed: dict[UUID, RootstockRead]
) -> list[tuple[str, list[dict[str, Any]]]]:
    sizes: dict[str, list[dict[str, Any]]] = {vigour: [] for vigour in (*VIGOURS, "")}
    for each in advice:
        stock = listed.get(each.rootstock_id)
        limits = "with limits" if each.verdict == "compatible_with_limits" else ""
        words = ", ".join(part for part in (stock.note if stock else "", limits) if part)
        sizes.setdefault(each.vigour, []).append(
            {"id": each.rootstock_id, "name": each.rootstock, "words": words}
        )
    return [(vigour, stocks) for vigour, stocks in sizes.items() if stocks]


def _saying(each: StockAdviceRead) -> tuple[str, str, str]:
    return each.verdict, each.note, each.mark


def _words(stock: RootstockRead) -> str:
    return " · ".join(part for part in (stock.name, stock.kind.lower(), stock.vigour) if part)
