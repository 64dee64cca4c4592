"""A trace: all that one thing came from, or all that came of it, with every step between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any
from uuid import UUID

from sqlalchemy import (
    CTE,
    Boolean,
    ColumnElement,
    Integer,
    Row,
    Select,
    SelectBase,
    String,
    Uuid,
    and_,
    bindparam,
    cast,
    exists,
    func,
    null,
    select,
    true,
    type_coerce,
    union_all,
)
from sqlmodel import Session, col

from service.bundles.queries import ON_HAND
from service.bundles.tables import Bundle
from service.catalogue.rules import page_name
from service.catalogue.tables import Cultivar
from service.collection.tables import Collection
from service.grafting.tables import Graft, GraftWood, Plant, PlantStop
from service.lib.codes import group_code
from service.lib.database import UtcInstant
from service.lib.given import as_given, dialect_of, given
from service.members.tables import Party
from service.provenance.queries.walk import number, subtree, walk_from
from service.provenance.rules.lineage import HOW, LINK_OF, THING_OF, Direction, Link, NoSuchThing, Thing
from service.trees.tables import SourceTree

Node = dict[str, Any]
Edge = dict[str, Any]


class Texts(dict[str, str]):
    """Identities as they are written in an answer, each made once."""

    def __missing__(self, raw: str) -> str:
        text = raw if len(raw) == 36 else f"{raw[:8]}-{raw[8:12]}-{raw[12:16]}-{raw[16:20]}-{raw[20:]}"
        self[raw] = text
        return text


@dataclass
class Trace:
    """Things and the steps between them, each once, as plain values ready to be sent."""

    kind: Thing
    id: UUID
    direction: Direction
    nodes: dict[str, Node] = field(default_factory=dict)
    edges: list[Edge] = field(default_factory=list)
    texts: Texts = field(default_factory=Texts)

    def ids(self, kind: Thing) -> list[UUID]:
        return [UUID(node["id"]) for node in self.nodes.values() if node["kind"] == kind]

    def add_step(self, earlier: str, later: str, how: str) -> None:
        self.edges.append({"from_id": self.texts[earlier], "to_id": self.texts[later], "how": how})

    def as_answer(self) -> dict[str, Any]:
        return {
            "start": {"kind": self.kind, "id": self.id}, "direction": self.direction, "summary": self.summary(),
            "nodes": list(self.nodes.values()), "edges": self.edges,
        }  # fmt: skip

    def summary(self) -> dict[str, int]:
        counts = dict.fromkeys(
            ("trees", "collections", "bundles", "grafts", "plants", "sticks_on_hand", "stopped"), 0
        )
        for node in self.nodes.values():
            counts[f"{node['kind']}s"] += 1
            counts["sticks_on_hand"] += node["on_hand"] or 0
            counts["stopped"] += node["stopped"]
        return counts


def trace_back(session: Session, kind: Thing | str, thing_id: UUID, *, with_names: bool = False) -> Trace:
    """What a thing came from, to the last known beginning; two statements. Raises `NoSuchThing`."""
    return trace_of(session, Thing(kind), thing_id, Direction.BACK, with_names=with_names)


def trace_forward(session: Session, kind: Thing | str, thing_id: UUID, *, with_names: bool = False) -> Trace:
    """All that came of a thing; two statements, three for a bundle. Raises `NoSuchThing`."""
    return trace_of(session, Thing(kind), thing_id, Direction.FORWARD, with_names=with_names)


def trace_of(
    session: Session, kind: Thing, thing_id: UUID, direction: Direction, *, with_names: bool = False
) -> Trace:
    """A trace in either direction. Raises `NoSuchThing`."""
    trace = Trace(kind, thing_id, direction)
    dialect, link = dialect_of(session), LINK_OF[kind]
    run = session.connection().execute
    own: list[str] = []
    if kind is Thing.BUNDLE and direction is Direction.FORWARD:
        own = list(run(_own_bundles(), {"start": thing_id}).scalars())
        begun = {"ids": as_given(session, own)}
    else:
        begun = {"start": thing_id}
    reached = _add_steps(trace, run(_steps(dialect, link, direction), begun).all(), with_names)
    sought = Link.COLLECTION if direction is Direction.FORWARD else Link.BUNDLE
    asked = {"ids": as_given(session, [raw for found, raw in reached if found == sought])}
    if own:
        asked["own"] = as_given(session, own)
    _add_bundles(trace, run(_bundles(dialect, direction, own=bool(own)), asked).all(), with_names)
    if str(thing_id) not in trace.nodes and thing_id.hex not in trace.nodes:
        raise NoSuchThing(f"There is no {kind} with this id.", id=str(thing_id))
    return trace


# Statements are built once and kept: building one takes longer than running it where little is found.


@cache
def _own_bundles() -> Select[*tuple[Any, ...]]:
    """A bundle with all that was ever split from it."""
    return select(_id(subtree(select(bindparam("start", type_=Uuid()).label("id"))).c.id))


@cache
def _steps(dialect: str, link: Link, direction: Direction) -> Select[*tuple[Any, ...]]:
    starts = _grafts_of(given(dialect)) if (link, direction) == _FROM_GRAFTS else _starts(link, direction)
    return _details(walk_from(dialect, starts, direction, edges=True), dialect)


# All bundles split from one are known before the walk, which then begins at their grafts.
_FROM_GRAFTS = (Link.BUNDLE, Direction.FORWARD)


def _starts(link: Link, direction: Direction) -> SelectBase:
    start = bindparam("start", type_=Uuid()).label("id")
    begun = select(number(link).label("kind"), start)
    carrying = {Link.TREE: Link.CARRYING_TREE, Link.PLANT: Link.CARRYING_PLANT}.get(link)
    if direction is Direction.BACK and carrying is not None:
        # Asked of a tree or plant itself, all that it carries today belongs to the answer.
        return begun.union_all(select(number(carrying), start))
    return begun


def _grafts_of(bundle_ids: Select[*tuple[Any, ...]]) -> Select[*tuple[Any, ...]]:
    return select(
        number(Link.GRAFT).label("kind"), col(GraftWood.graft_id).label("id"), number(Link.BUNDLE).label("from_kind"),
        col(GraftWood.bundle_id).label("from_id"),
    ).where(col(GraftWood.bundle_id).in_(bundle_ids), col(GraftWood.taken_back).is_(False))  # fmt: skip


def _id(column: Any) -> Any:
    # As text, as the database writes it: making five thousand identities into objects and back would cost more than the walk.
    return cast(column, String)


def _instant(at: Any) -> Any:
    """An instant as it is written in an answer, from what the database gives: text on SQLite."""
    return f"{at[:10]}T{at[11:19]}Z" if isinstance(at, str) else at


def _add_steps(trace: Trace, rows: Sequence[Row[Any]], with_names: bool) -> set[tuple[int, str]]:
    forward = trace.direction is Direction.FORWARD
    steps: set[tuple[str, str, str]] = set()
    for row in rows:
        if row.found is not None and row.id not in trace.nodes:
            trace.nodes[row.id] = _node(row, trace.texts, with_names)
        if row.from_id is not None:
            kinds = (row.from_kind, row.kind) if forward else (row.kind, row.from_kind)
            ends = (row.from_id, row.id) if forward else (row.id, row.from_id)
            steps.add((*ends, HOW[kinds]))
    for step in steps:
        trace.add_step(*step)
    return {(row.kind, row.id) for row in rows}


@dataclass(frozen=True)
class _Facts:
    """What is told of one kind of thing; what is not named is empty for it."""

    table: Any
    kinds: tuple[Link, ...]
    columns: dict[str, Any]

    def column(self, name: str) -> Any:
        return self.columns.get(name, cast(null(), _COLUMNS[name])).label(name)


_COLUMNS: dict[str, Any] = {
    "found": Integer(), "code": String(), "name_as_told": String(), "word": String(), "cultivar_id": Uuid(), "party_id": Uuid(),
    "at": UtcInstant(), "stopped": Boolean(),
}  # fmt: skip


@cache
def _facts() -> tuple[_Facts, ...]:
    bound = exists().where(col(PlantStop.plant_id) == col(Plant.id), col(PlantStop.lifted_at).is_(None))
    return (
        _Facts(SourceTree, (Link.TREE, Link.CARRYING_TREE), {
            "found": col(SourceTree.number), "code": col(SourceTree.code), "name_as_told": col(SourceTree.name_as_told),
            "cultivar_id": col(SourceTree.cultivar_id), "party_id": col(SourceTree.owner_id), "at": col(SourceTree.created_at),
            "stopped": col(SourceTree.open_stops) > 0,
        }),
        _Facts(Collection, (Link.COLLECTION,), {
            "found": col(Collection.number), "name_as_told": col(Collection.name_as_told), "cultivar_id": col(Collection.cultivar_id),
            "at": col(Collection.done_at),
        }),
        _Facts(Graft, (Link.GRAFT,), {
            "found": col(Graft.number), "word": col(Graft.method), "party_id": col(Graft.for_party_id), "at": col(Graft.done_at),
        }),
        _Facts(Plant, (Link.PLANT, Link.CARRYING_PLANT), {
            "found": col(Plant.number), "code": col(Plant.code), "word": col(Plant.state), "party_id": col(Plant.holder_id),
            "at": col(Plant.made_at), "stopped": bound,
        }),
    )  # fmt: skip


def _details(walk: CTE, dialect: str) -> Select[*tuple[Any, ...]]:
    """Every step of the walk, with what an answer says of the thing it leads to."""
    source, told = _joined(walk) if dialect == "sqlite" else _looked_up(walk)
    name = select(col(Party.name)).where(col(Party.id) == told["party_id"]).scalar_subquery()
    return (
        select(
            walk.c.kind, _id(walk.c.id).label("id"), walk.c.from_kind, _id(walk.c.from_id).label("from_id"), told["found"], told["code"],
            told["name_as_told"], told["word"], col(Cultivar.epithet), col(Cultivar.trade_designation),
            type_coerce(told["at"], String).label("at"), _id(told["party_id"]).label("party_id"), name.label("party_name"),
            told["stopped"],
        )
        .select_from(source)
        .outerjoin(Cultivar, col(Cultivar.id) == told["cultivar_id"])
    )  # fmt: skip


def _joined(walk: CTE) -> tuple[Any, dict[str, Any]]:
    source: Any = walk
    for one in _facts():
        source = source.outerjoin(one.table, and_(_is(walk, one.kinds), one.table.id == walk.c.id))
    told = {name: [one.columns[name] for one in _facts() if name in one.columns] for name in _COLUMNS}
    return source, {name: func.coalesce(*found).label(name) for name, found in told.items()}


def _looked_up(walk: CTE) -> tuple[Any, dict[str, Any]]:
    """The same by a look-up for each row: PostgreSQL takes a walk for long, and would read every table for a join."""
    parts = [
        select(*(one.column(name) for name in _COLUMNS))
        .where(_is(walk, one.kinds), one.table.id == walk.c.id)
        .correlate(walk)
        for one in _facts()
    ]
    thing = union_all(*parts).lateral("thing")
    return walk.outerjoin(thing, true()), dict(thing.c.items())


def _is(walk: CTE, kinds: tuple[Link, ...]) -> ColumnElement[bool]:
    return walk.c.kind.in_([number(kind) for kind in kinds])


def _node(row: Any, texts: Texts, with_names: bool) -> Node:
    kind = THING_OF[row.kind]
    words = {Thing.COLLECTION: "cut"}.get(kind, kind)
    return {
        "kind": kind, "id": texts[row.id], "words": f"{words.capitalize()} {row.found}", "code": row.code,
        "name": page_name(row.epithet, row.trade_designation) if row.epithet else row.name_as_told or "",
        "at": _instant(row.at), "on_hand": None, "state": row.word or "", "stopped": bool(row.stopped),
        "party_id": texts[row.party_id] if row.party_id else None, "party": (row.party_name or "") if with_names else None,
    }  # fmt: skip


def _add_bundles(trace: Trace, rows: Sequence[Any], with_names: bool) -> None:
    # Rows are taken apart, not asked by name, and plain: there may be thousands of them.
    texts, names = trace.texts, dict[str, str]()
    for (
        raw,
        collection,
        _,
        code,
        on_hand,
        is_flag,
        stops,
        at,
        holder_id,
        holder,
        as_told,
        epithet,
        trade,
    ) in rows:
        if collection not in names:
            names[collection] = page_name(epithet, trade) if epithet else as_told
        trace.nodes[raw] = {
            "kind": Thing.BUNDLE, "id": texts[raw], "words": _bundle_words(code, is_flag), "code": code, "name": names[collection],
            "at": _instant(at), "on_hand": on_hand, "state": "", "stopped": stops > 0,
            "party_id": texts[holder_id] if holder_id else None, "party": (holder if holder_id else "the club") if with_names else None,
        }  # fmt: skip
    if trace.direction is Direction.FORWARD:
        for raw, collection, parent, *_ in rows:
            before = parent or collection
            if before in trace.nodes:
                trace.add_step(before, raw, "split" if parent else "labelled")


@cache
def _bundles(dialect: str, direction: Direction, *, own: bool) -> Select[*tuple[Any, ...]]:
    """The bundles that were reached: going back by themselves, forward by their collections."""
    wanted = col(Bundle.collection_id if direction is Direction.FORWARD else Bundle.id).in_(given(dialect))
    if own:
        wanted = col(Bundle.id).in_(select(col(Bundle.id)).where(wanted).union(given(dialect, "own")))
    return (
        select(
            _id(col(Bundle.id)), _id(col(Bundle.collection_id)), _id(col(Bundle.parent_id)), col(Bundle.code), ON_HAND,
            col(Bundle.is_flag), col(Bundle.open_stops), type_coerce(col(Bundle.made_at), String), _id(col(Bundle.holder_id)), col(Party.name),  # noqa: E501
            col(Collection.name_as_told), col(Cultivar.epithet), col(Cultivar.trade_designation),
        )
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(Party, col(Party.id) == col(Bundle.holder_id))
        .where(wanted)
    )  # fmt: skip


def _bundle_words(code: str | None, is_flag: bool) -> str:
    if code:
        return f"Bundle {group_code(code)}"
    return "Stick flag" if is_flag else "Bundle without a tag"
