"""Which wood may be joined to which stock: the most particular row that fits, never read backwards.

Rows apply in the direction written: pear on quince is ordinary, quince on pear fails. A row for a variety goes before a
row for its kind, a named stock before any stock, a species before a genus; where rows of the same rank disagree, the
graver one is shown and the others beside it. Within one species the default is compatible (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum

from service.catalogue.rules.spellings import fold_name
from service.catalogue.rules.words import Mark
from service.lib.errors import Refused


class Verdict(StrEnum):
    """From the gravest to the mildest; `unknown` is a verdict too."""

    INCOMPATIBLE = "incompatible"
    NEEDS_INTERSTEM = "needs_interstem"
    DELAYED_INCOMPATIBILITY = "delayed_incompatibility"
    COMPATIBLE_WITH_LIMITS = "compatible_with_limits"
    COMPATIBLE = "compatible"
    UNKNOWN = "unknown"


_GRAVITY = {verdict: place for place, verdict in enumerate(Verdict)}
OFFERED = (Verdict.COMPATIBLE, Verdict.COMPATIBLE_WITH_LIMITS)
VIGOURS = ("very dwarfing", "dwarfing", "semi-dwarfing", "semi-vigorous", "vigorous")


def place_of_stock(mark: str, vigour: str, name: str) -> tuple[bool, int, list[tuple[int, str]]]:
    """Where a stock stands in a list: what print tells of first, then from small trees to large, then M.9 before M.26."""
    size = VIGOURS.index(vigour) if vigour in VIGOURS else len(VIGOURS)
    parts = re.split(r"(\d+)", name.casefold())
    return mark != "published", size, [(int(p), "") if p.isdigit() else (-1, p) for p in parts]


@dataclass(frozen=True)
class JoinRow:
    """One row of what is known."""

    place: int
    scion_taxa: tuple[str, ...]
    scion_cultivars: tuple[str, ...]
    scion_condition: str
    stock_taxa: tuple[str, ...]
    stocks: tuple[str, ...]
    stock_condition: str
    verdict: Verdict
    bridge: str
    note: str
    source: str
    mark: str

    @property
    def condition(self) -> str:
        return "; ".join(part for part in (self.scion_condition, self.stock_condition) if part)


@dataclass(frozen=True)
class WoodFacts:
    """The wood to be joined: its kind, and every spelling of its variety, folded."""

    botanical_name: str
    names: frozenset[str] = frozenset()


@dataclass(frozen=True)
class StockFacts:
    """What it is to be joined to: its kind, every spelling of its name, folded, and whether it was raised from seed."""

    botanical_name: str
    names: frozenset[str] = frozenset()
    seedling: bool = False


@dataclass(frozen=True)
class JoinAdvice:
    """A verdict with what it rests on, what else was said, and what would change it."""

    verdict: Verdict
    note: str = ""
    bridge: str = ""
    source: str = ""
    mark: str = ""
    rests_on: str = ""
    others: tuple[JoinRow, ...] = field(default=())
    depends_on: tuple[JoinRow, ...] = field(default=())
    related: tuple[JoinRow, ...] = field(default=())


class WouldNotLast(Refused):
    title = "This join would not last"
    todo = "Choose another stock or an interstem; if you try it all the same, say so in the note."


def advise(rows: Iterable[JoinRow], wood: WoodFacts, stock: StockFacts) -> JoinAdvice:
    """What is known of this wood on this stock."""
    firm: list[tuple[tuple[int, ...], JoinRow]] = []
    depends: list[JoinRow] = []
    related: list[JoinRow] = []
    for row in rows:
        kinds = (
            _kind_rank(row.scion_taxa, wood.botanical_name),
            _kind_rank(row.stock_taxa, stock.botanical_name),
        )
        if not all(kinds):
            continue
        variety, named = _variety_rank(row, wood), _stock_rank(row, stock)
        if not variety:
            continue
        if not named:
            related.append(row)
        elif row.condition:
            depends.append(row)
        else:
            firm.append(((variety, named, kinds[1], kinds[0]), row))
    return _settle(firm, depends, related, wood, stock)


def _settle(
    firm: list[tuple[tuple[int, ...], JoinRow]],
    depends: list[JoinRow],
    related: list[JoinRow],
    wood: WoodFacts,
    stock: StockFacts,
) -> JoinAdvice:
    beside = tuple(depends), tuple(related)
    if firm:
        highest = max(rank for rank, _ in firm)
        best = min(
            (row for rank, row in firm if rank == highest), key=lambda row: (_GRAVITY[row.verdict], row.place)
        )
        others = tuple(row for _, row in firm if row is not best)
        return JoinAdvice(
            best.verdict,
            best.note,
            best.bridge,
            best.source,
            best.mark,
            _rests_on(best, wood),
            others,
            *beside,
        )
    if wood.botanical_name == stock.botanical_name and _is_species(wood.botanical_name):
        return JoinAdvice(
            Verdict.COMPATIBLE, "within one species a lasting union is expected; known exceptions stand in the table",
            "", Mark.COMMON_PRACTICE, Mark.COMMON_PRACTICE, "same species", (), *beside,
        )  # fmt: skip
    return JoinAdvice(
        Verdict.UNKNOWN,
        "nothing is recorded of this join in this direction",
        "",
        "",
        "",
        "no row",
        (),
        *beside,
    )


def _is_species(botanical_name: str) -> bool:
    return " " in botanical_name and "×" not in botanical_name


def _kind_rank(taxa: tuple[str, ...], botanical_name: str) -> int:
    if botanical_name in taxa:
        return 2
    return 1 if botanical_name.split(maxsplit=1)[0] in taxa else 0


def _variety_rank(row: JoinRow, wood: WoodFacts) -> int:
    if not row.scion_cultivars:
        return 1
    return 2 if any(fold_name(name) in wood.names for name in row.scion_cultivars) else 0


def _stock_rank(row: JoinRow, stock: StockFacts) -> int:
    if not row.stocks:
        return 1
    return 2 if any(_is_stock(name, stock) for name in row.stocks) else 0


def _is_stock(name: str, stock: StockFacts) -> bool:
    if name == "seedling":
        return stock.seedling
    folded = fold_name(name)
    if name.endswith("*"):
        return any(own.startswith(folded) for own in stock.names)
    return folded in stock.names


def _rests_on(row: JoinRow, wood: WoodFacts) -> str:
    variety = "this variety" if row.scion_cultivars else wood.botanical_name
    return f"a row for {variety} on {'this stock' if row.stocks else ' or '.join(row.stock_taxa)}"


def can_offer_join(advice: JoinAdvice) -> bool:
    """Whether the join may be offered without a warning."""
    return advice.verdict in OFFERED


def check_can_offer_join(advice: JoinAdvice) -> None:
    """Raises `WouldNotLast` for a join that is known to fail. What is not known is never refused."""
    if advice.verdict in (Verdict.INCOMPATIBLE, Verdict.NEEDS_INTERSTEM):
        raise WouldNotLast(
            advice.note or f"Known as: {advice.verdict.replace('_', ' ')}.",
            verdict=advice.verdict,
            bridge=advice.bridge,
        )
