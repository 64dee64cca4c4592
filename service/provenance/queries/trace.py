"""A trace: all that one thing came from, or all that came of it, with every step between."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from sqlalchemy import (
    CTE,
    Select,
    SelectBase,
    String,
    Uuid,
    and_,
    case,
    cast,
    exists,
    false,
    func,
    literal,
    or_,
    select,
    type_coerce,
)
from sqlmodel import Session, col

from service.bundles.tables import Bundle
from service.catalogue.rules import page_name
from service.catalogue.tables import Cultivar
from service.collection.tables import Collection
from service.grafting.tables import Graft, GraftWood, Plant, PlantStop
from service.lib.codes import group_code
from service.members.tables import Party
from service.provenance.queries.walk import number, subtree, these, walk_from
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
    own: list[str] = []
    starts = _starts(kind, thing_id, direction)
    if kind is Thing.BUNDLE and direction is Direction.FORWARD:
        own = list(
            session.execute(
                select(_id(subtree(select(literal(thing_id, Uuid()).label("id"))).c.id))
            ).scalars()
        )
        starts = _grafts_of(these(session, own))
    reached = _walk(session, trace, starts, with_names)
    if direction is Direction.FORWARD:
        collections = [raw for link, raw in reached if link == Link.COLLECTION]
        wanted = or_(
            col(Bundle.collection_id).in_(these(session, collections)),
            col(Bundle.id).in_(these(session, own)),
        )
    else:
        wanted = col(Bundle.id).in_(these(session, [raw for link, raw in reached if link == Link.BUNDLE]))
    _add_bundles(session, trace, wanted, with_names)
    if str(thing_id) not in trace.nodes and thing_id.hex not in trace.nodes:
        raise NoSuchThing(f"There is no {kind} with this id.", id=str(thing_id))
    return trace


def _starts(kind: Thing, thing_id: UUID, direction: Direction) -> SelectBase:
    start = literal(thing_id, Uuid()).label("id")
    link = LINK_OF[kind]
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


def _walk(session: Session, trace: Trace, starts: SelectBase, with_names: bool) -> set[tuple[int, str]]:
    walk = walk_from(session, starts, trace.direction, edges=True)
    rows = session.connection().execute(_details(walk)).all()
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


def _details(walk: CTE) -> Select[*tuple[Any, ...]]:
    is_tree = walk.c.kind.in_([number(Link.TREE), number(Link.CARRYING_TREE)])
    is_plant = walk.c.kind.in_([number(Link.PLANT), number(Link.CARRYING_PLANT)])
    bound = exists().where(col(PlantStop.plant_id) == col(Plant.id), col(PlantStop.lifted_at).is_(None))
    first = func.coalesce
    return (
        select(
            walk.c.kind, _id(walk.c.id).label("id"), walk.c.from_kind, _id(walk.c.from_id).label("from_id"),
            first(col(SourceTree.number), col(Collection.number), col(Graft.number), col(Plant.number)).label("found"),
            first(col(SourceTree.code), col(Plant.code)).label("code"),
            first(col(SourceTree.name_as_told), col(Collection.name_as_told)).label("name_as_told"),
            col(Cultivar.epithet), col(Cultivar.trade_designation), col(Graft.method), col(Plant.state),
            type_coerce(first(col(Collection.done_at), col(Graft.done_at), col(Plant.made_at), col(SourceTree.created_at)), String).label("at"),  # noqa: E501
            _id(first(col(SourceTree.owner_id), col(Graft.for_party_id), col(Plant.holder_id))).label("party_id"),
            col(Party.name).label("party_name"),
            case((is_tree, col(SourceTree.open_stops) > 0), (is_plant, bound), else_=false()).label("stopped"),
        )
        .select_from(walk)
        .outerjoin(SourceTree, and_(is_tree, col(SourceTree.id) == walk.c.id))
        .outerjoin(Collection, and_(walk.c.kind == number(Link.COLLECTION), col(Collection.id) == walk.c.id))
        .outerjoin(Graft, and_(walk.c.kind == number(Link.GRAFT), col(Graft.id) == walk.c.id))
        .outerjoin(Plant, and_(is_plant, col(Plant.id) == walk.c.id))
        .outerjoin(Cultivar, col(Cultivar.id) == first(col(SourceTree.cultivar_id), col(Collection.cultivar_id)))
        .outerjoin(Party, col(Party.id) == first(col(SourceTree.owner_id), col(Graft.for_party_id), col(Plant.holder_id)))
    )  # fmt: skip


def _node(row: Any, texts: Texts, with_names: bool) -> Node:
    kind = THING_OF[row.kind]
    words = {Thing.COLLECTION: "cutting"}.get(kind, kind)
    return {
        "kind": kind, "id": texts[row.id], "words": f"{words.capitalize()} {row.found}", "code": row.code,
        "name": page_name(row.epithet, row.trade_designation) if row.epithet else row.name_as_told or "",
        "at": _instant(row.at), "on_hand": None, "state": row.state or row.method or "", "stopped": bool(row.stopped),
        "party_id": texts[row.party_id] if row.party_id else None, "party": (row.party_name or "") if with_names else None,
    }  # fmt: skip


def _add_bundles(session: Session, trace: Trace, wanted: Any, with_names: bool) -> None:
    # Rows are taken apart, not asked by name, and plain: there may be thousands of them.
    rows = session.connection().execute(_bundles().where(wanted)).all()
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


def _bundles() -> Select[*tuple[Any, ...]]:
    on_hand = col(Bundle.came_in) - col(Bundle.passed_on) - col(Bundle.grafted) - col(Bundle.discarded)
    return (
        select(
            _id(col(Bundle.id)), _id(col(Bundle.collection_id)), _id(col(Bundle.parent_id)), col(Bundle.code), on_hand,
            col(Bundle.is_flag), col(Bundle.open_stops), type_coerce(col(Bundle.made_at), String), _id(col(Bundle.holder_id)), col(Party.name),  # noqa: E501
            col(Collection.name_as_told), col(Cultivar.epithet), col(Cultivar.trade_designation),
        )
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(Party, col(Party.id) == col(Bundle.holder_id))
    )  # fmt: skip


def _bundle_words(code: str | None, is_flag: bool) -> str:
    if code:
        return f"Bundle {group_code(code)}"
    return "Stick flag" if is_flag else "Bundle without a tag"
