"""A list read row by row into what it would write; nothing is written here."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import lru_cache
from typing import Any
from uuid import UUID, uuid5

from pydantic import ValidationError

from service.catalogue.rules import fold_name
from service.lib.errors import Problem
from service.lib.tabular import Cell, Row
from service.lists.queries.matching import Asked, LeftOut, Matcher
from service.lists.rules import (
    CannotRead,
    DayOrder,
    ListField,
    RowState,
    ThingKind,
    count_of,
    day_of,
    flag_of,
    fold_heading,
    note_of,
    text_of,
    year_of,
)
from service.lists.schemas import ListCounts, ListFormSet, ListRowTold
from service.members.schemas import AreaCreate, PartyCreate

MOST_TOLD = 500  # rows of the report
MOST_REMARKS = 50
PREVIEWED = 8
Values = dict[str, Any]


class KnownAlready(Exception):
    """A row that tells what stands in the record, or higher up in the file: it brings nothing."""

    def __init__(self, field_name: str, words: str) -> None:
        super().__init__(words)
        self.field = field_name


class CannotUse(Exception):
    """A row that cannot be taken: which field, why, and what to do."""

    def __init__(self, field_name: str, words: str, todo: str) -> None:
        super().__init__(words)
        self.field, self.todo = field_name, todo


@dataclass
class Plan:
    """What a list would bring, and what is to be told of its rows."""

    counts: ListCounts = field(default_factory=ListCounts)
    report: list[ListRowTold] = field(default_factory=list)
    preview: list[dict[str, str]] = field(default_factory=list)
    made: list[tuple[str, UUID, int]] = field(default_factory=list)  # kind, id, line
    people: list[Any] = field(default_factory=list)
    areas: list[Any] = field(default_factory=list)
    sites: list[Any] = field(default_factory=list)
    trees: list[Any] = field(default_factory=list)
    wood: list[Any] = field(default_factory=list)
    grafts: list[Any] = field(default_factory=list)
    places: dict[UUID, Any] = field(default_factory=dict)
    boxes: dict[UUID, Any] = field(default_factory=dict)
    hanging: list[Any] = field(default_factory=list)  # wood that is sound once the row above it is refused
    remarks: list[str] = field(default_factory=list)  # of rows that are taken

    def used(self) -> set[UUID | None]:
        """People, areas and sites that what is taken rests on."""
        return {
            *(tree.owner_id for tree in self.trees),
            *(tree.site_id for tree in self.trees),
            *(person.area_id for person in self.people),
            *(one for row in (*self.wood, *self.grafts) for one in row.needs),
        }

    def remark(self, line: int, column: str, words: str, todo: str) -> None:
        """Of a row that is taken, what of it is not followed: told before it is taken, and after."""
        self.tell(line, RowState.TAKEN, column, words, todo)
        if len(self.remarks) < MOST_REMARKS:
            self.remarks.append(f"Line {line}: {words}. {todo}")

    def tell(self, line: int, state: RowState, column: str, words: str, todo: str) -> None:
        if len(self.report) < MOST_TOLD:
            self.report.append(ListRowTold(line=line, state=state, column=column, words=words, todo=todo))


@dataclass
class Around:
    """What every row is read with."""

    list_id: UUID
    today: date
    now: datetime
    zone: str
    form: ListFormSet
    columns: Mapping[str, str]
    match: Matcher
    plan: Plan
    planned: set[UUID] = field(default_factory=set)  # sites that were told before
    told: dict[tuple[tuple[str, Any], ...], int] = field(
        default_factory=dict
    )  # rows of trees, and their lines
    seen: dict[UUID, tuple[int, str]] = field(default_factory=dict)  # people of the file: line and name

    def id_of(self, line: int, kind: str) -> UUID:
        return uuid5(self.list_id, f"{kind}/{line}")


TELL_EVERY = 250  # rows
Told = Callable[[int, int], None]  # how many rows are read, of how many
RowReader = Callable[[Around, Values, int], RowState]
_READ: Mapping[str, Callable[[Cell], Any]] = {
    "text": text_of,
    "note": note_of,
    "count": count_of,
    "year": year_of,
    "flag": flag_of,
}


class Columns:
    """Where each field's cell stands, and how it is read."""

    def __init__(
        self, fields: Mapping[str, ListField], columns: Mapping[str, str], header: tuple[str, ...],
        orders: Mapping[str, DayOrder | None], left_days: Collection[str] = (),
    ) -> None:  # fmt: skip
        self.heading = columns
        self.told: list[tuple[str, int, Callable[[Cell], Any]]] = []
        for name, heading in columns.items():
            kind = fields[name].kind
            read = _READ.get(kind) or self._days(orders.get(name), name in left_days)
            self.told.append((name, header.index(heading), read))

    @staticmethod
    def _days(order: DayOrder | None, left: bool) -> Callable[[Cell], Any]:
        return lambda cell: day_of(cell, order, surely=left)

    def values(self, cells: list[Cell]) -> Values:
        """The cells of one row as values, blank ones left out. Raises `CannotUse`."""
        values: Values = {}
        wide = len(cells)
        for name, place, read in self.told:
            cell = cells[place] if place < wide else None
            if cell is None:
                continue
            try:
                value = read(cell)
            except CannotRead as error:
                raise CannotUse(name, str(error), "Mend this cell in the file and send it again.") from error
            if value is not None and value != "":
                values[name] = value
        return values


def read_rows(
    around: Around, columns: Columns, rows: list[Row], read: RowReader, tell: Told | None = None
) -> None:
    """Every row by `read`; what cannot be used is told with its line, its column and what to do."""
    counts = around.plan.counts
    for line, cells in rows:
        if tell is not None and counts.rows % TELL_EVERY == 0:
            tell(counts.rows, len(rows))
        counts.rows += 1
        state = _read_row(around, columns, read, line, cells)
        setattr(counts, state.value, getattr(counts, state.value) + 1)


def _read_row(around: Around, columns: Columns, read: RowReader, line: int, cells: list[Cell]) -> RowState:
    plan = around.plan

    def refused(name: str, words: str, todo: str) -> RowState:
        plan.tell(line, RowState.REFUSED, columns.heading.get(name, name), words, todo)
        return RowState.REFUSED

    try:
        values = columns.values(cells)
        if len(plan.preview) < PREVIEWED:
            told = {name: _shown(one) for name, one in values.items()}
            plan.preview.append({"line": str(line), **told})
        state = read(around, values, line)
        _show_match(around, values, line)
        return state
    except Asked as asked:
        question = around.match.asked[str(asked)]
        heading, words = _heading_of(columns.heading, question.what), f"“{question.spelling}” is not known so"
        plan.tell(line, RowState.ASKED, heading, words, "Answer it once, below.")
        return RowState.ASKED
    except LeftOut as left:
        heading, words = _heading_of(columns.heading, left.what), f"“{left}” is left out, as you answered"
        plan.tell(line, RowState.REFUSED, heading, words, "Answer otherwise to take it.")
        return RowState.REFUSED
    except KnownAlready as known:
        heading = columns.heading.get(known.field, "")
        plan.tell(line, RowState.KNOWN, heading, str(known), "It brings nothing new.")
        return RowState.KNOWN
    except CannotUse as error:
        return refused(error.field, str(error), error.todo)
    except ValidationError as error:
        first = error.errors()[0]
        name, words = str(first["loc"][0]) if first["loc"] else "", str(first["msg"])
        return refused(
            name, words.removeprefix("Value error, "), "Mend this cell in the file and send it again."
        )
    except Problem as error:
        return refused(error.field, error.detail, error.todo)


def _show_match(around: Around, values: Values, line: int) -> None:
    """Beside a spelling of the first rows, the variety it is read as."""
    shown = around.plan.preview[-1]
    if shown["line"] == str(line) and values.get("variety") in around.match.read_as:
        shown["variety.is"] = around.match.read_as[values["variety"]]


_COLUMNS_OF = {"person": ("owner", "holder", "by_whom"), "giver": ("from_whom",), "site_area": ("site",)}


def _heading_of(headings: Mapping[str, str], what: str) -> str:
    """The column that asks, by its heading."""
    return next((headings[name] for name in _COLUMNS_OF.get(what, (what,)) if name in headings), "")


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value.isoformat() if isinstance(value, date) else str(value)


def area_for(around: Around, values: Values, line: int) -> UUID | None:
    """The plant-health area a row tells, else the one for the rest, else the only one."""
    if "area" in values:
        return around.match.area(values["area"], line)
    return around.form.area_id or around.match.known.only_area_id


@lru_cache(maxsize=4096)
def _as_told(epithet: str, name: str) -> str:
    """The name as it was told, where it is another than that of the catalogue."""
    return "" if fold_name(epithet) == fold_name(name) else name


def named(around: Around, values: Values, line: int) -> tuple[UUID, UUID | None, str]:
    """Kind, variety and name as told. Raises `CannotUse`, `Asked`."""
    told = around.match.kind(values["kind"], line) if "kind" in values else None
    name = values.get("variety", "")[:300]
    cultivar_id = around.match.variety(name, told or around.form.kind_id, line) if name else None
    facts = around.match.known.cultivars.get(cultivar_id) if cultivar_id else None
    taxon_id = told or (facts.taxon_id if facts else None) or around.form.kind_id
    if facts is not None and told is not None and facts.taxon_id != told:
        raise CannotUse(
            "variety",
            f"{facts.page_name} is a variety of {facts.botanical_name}",
            "Mend the kind or the variety in the file.",
        )
    if facts is not None:
        taxon_id = facts.taxon_id
    if taxon_id is None or (taxon_id not in around.match.known.kinds):
        raise CannotUse(
            "kind", "its kind is not told", "Choose a column for the kind, or the kind of the rest, above."
        )
    return (
        taxon_id,
        cultivar_id,
        name if facts is None else _as_told(facts.epithet, name),
    )


def word_of(words: Mapping[str, Any], values: Values, name: str, which: str) -> Any:
    """One of a few words; None where nothing is told. Raises `CannotUse`."""
    if name not in values:
        return None
    folded = fold_heading(values[name])
    if folded not in words:
        raise CannotUse(
            name,
            f"“{values[name][:40]}” is none of: {which}",
            "Mend this cell in the file and send it again.",
        )
    return words[folded]


def add_new(plan: Plan, match: Matcher) -> None:
    """People and areas that nobody knew, where something that is taken rests on them."""
    wanted, perhaps = plan.used(), {one for row in plan.hanging for one in row.needs}
    for one, name, line in match.new.get("person", {}).values():
        if one in wanted:
            plan.people.append(PartyCreate(id=one, name=name))
            plan.made.append((ThingKind.PARTY, one, line))
            plan.counts.people += 1
    plan.sites = [site for site in plan.sites if site.id in wanted]
    wanted |= {site.area_id for site in plan.sites}
    kept = {site.id for site in plan.sites}
    plan.made = [one for one in plan.made if one[0] != ThingKind.SITE or one[1] in kept]
    for one, name, line in match.new.get("area", {}).values():
        if one in wanted or one in perhaps:
            plan.areas.append(AreaCreate(id=one, name=name))
            plan.made.append((ThingKind.AREA, one, line))
    plan.counts.areas, plan.counts.sites = sum(area.id in wanted for area in plan.areas), len(plan.sites)
