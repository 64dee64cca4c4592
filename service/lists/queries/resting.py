"""What of the record rests on things that a list brought: every reference to them, whatever table it stands in."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from uuid import UUID

from sqlalchemy import Select, String, Table, and_, cast, exists, literal, select, union_all
from sqlmodel import Session, SQLModel, col

from service.lists.rules import Rest, ThingKind
from service.lists.tables import ListThing

# What goes with a list, and in which column its name stands; the first rests on the later ones.
GOES: dict[ThingKind, tuple[str, str]] = {
    ThingKind.TREE: ("source_tree", "number"),
    ThingKind.SITE: ("site", "name"),
    ThingKind.PARTY: ("party", "name"),
    ThingKind.AREA: ("area", "name"),
}
_KIND_OF = {table: kind for kind, (table, _) in GOES.items()}
_WORDS = {
    "collection.tree_id": "wood of it was cut",
    "collection.from_party_id": "wood came from them",
    "tree_check.tree_id": "it was looked at",
    "tree_stop.tree_id": "it was stopped",
    "tree_name_change.tree_id": "it was given another name",
    "owner_word.tree_id": "its owner’s word was changed",
    "tree_variety.tree_id": "it carries one variety more",
    "graft.stock_tree_id": "it was grafted on",
    "plant.source_tree_id": "a grafted plant stands there as this tree",
    "tag.thing_id": "it has a tag",
    "source_tree.site_id": "other trees stand there",
    "source_tree.owner_id": "they look after other trees",
    "source_tree.by_party_id": "they entered trees",
    "site.area_id": "other sites lie in it",
    "party.area_id": "other people live in it",
    "bundle.holder_id": "they hold wood",
    "plant.holder_id": "they hold grafted plants",
    "store.host_id": "a store stands with them",
    "account.party_id": "they can sign in",
    "invitation.party_id": "they were invited to sign in",
    "party_role.party_id": "they have a role",
    "stick_move.party_id": "wood passed through their hands",
    "recall_party.party_id": "a recall names them",
    "cutting_round.site_id": "wood was cut there",
    "graft.site_id": "grafts stand there",
    "air_record.site_id": "its air temperatures were entered",
    "": "it was changed since",
}
MOST = 500


def things_of_list(session: Session, list_id: UUID) -> dict[str, list[UUID]]:
    """What a list brought, by kind; one statement."""
    found: dict[str, list[UUID]] = {}
    rows = session.execute(
        select(col(ListThing.kind), col(ListThing.thing_id)).where(col(ListThing.list_id) == list_id)
    )
    for row in rows:
        found.setdefault(row.kind, []).append(row.thing_id)
    return found


def rests_on_list(session: Session, list_id: UUID) -> list[Rest]:
    """By the lines of the file; one statement for each kind of thing the list brought."""
    kinds = things_of_list(session, list_id)
    found: list[tuple[int, str, str, str]] = []
    for kind in GOES:
        if kind in kinds:
            rows = session.execute(union_all(*_looks(list_id, kind)).limit(MOST))
            found += [(row.line, kind.value, row.name, row.what) for row in rows]
    return [Rest(line, _called(kind, name), words_of(what)) for line, kind, name, what in sorted(found)]


def words_of(what: str) -> str:
    return _WORDS.get(what) or f"it is named elsewhere ({what.partition('.')[0].replace('_', ' ')})"


def _called(kind: str, name: str) -> str:
    return f"tree {name}" if kind == ThingKind.TREE else name


def _looks(list_id: UUID, kind: ThingKind) -> Iterator[Select[Any]]:
    """Of each reference to a kind of thing: which things of the list it keeps. Things of the list keep each other not."""
    table, name = _table(GOES[kind][0]), GOES[kind][1]
    thing = ListThing.__table__.alias("thing")  # type: ignore[attr-defined]
    ours = and_(thing.c.list_id == list_id, thing.c.kind == kind.value, thing.c.thing_id == table.c.id)

    def look(what: str, *where: Any) -> Select[Any]:
        called = cast(table.c[name], String)
        return select(thing.c.line, called.label("name"), literal(what).label("what")).where(ours, *where)

    yield look("", table.c.version > 1)
    for child, column in _references(table):
        kept = exists().where(child.c[column] == thing.c.thing_id)
        if child.name in _KIND_OF:
            with_it = ListThing.__table__.alias("with_it")  # type: ignore[attr-defined]
            goes_too = exists().where(
                with_it.c.list_id == list_id,
                with_it.c.kind == _KIND_OF[child.name].value,
                with_it.c.thing_id == child.c.id,
            )
            kept = kept.where(~goes_too)
        yield look(f"{child.name}.{column}", kept)


def _references(table: Table) -> list[tuple[Table, str]]:
    """Every column that points at this table, and the tags, which point at things of several."""
    found = [
        (child, key.parent.name)
        for child in SQLModel.metadata.sorted_tables
        for key in child.foreign_keys
        if key.column.table is table
    ]
    tagged = [(_table("tag"), "thing_id")] if table.name == "source_tree" else []
    return [*sorted(found, key=lambda one: (one[0].name, one[1])), *tagged]


def _table(name: str) -> Table:
    return SQLModel.metadata.tables[name]
