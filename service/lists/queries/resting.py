"""What of the record rests on things that a list brought: every reference to them, whatever table it stands in."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Select, String, Table, and_, cast, exists, func, literal, select, union_all
from sqlmodel import Session, SQLModel, col

from service.lists.rules import ListState, Rest, ThingKind
from service.lists.tables import ListFile, ListThing

# What goes with a list, and in which column its name stands; the first rests on the later ones.
GOES: dict[ThingKind, tuple[str, str]] = {
    ThingKind.TREE: ("source_tree", "number"),
    ThingKind.SITE: ("site", "name"),
    ThingKind.PARTY: ("party", "name"),
    ThingKind.AREA: ("area", "name"),
}
# What stays in the record and is put right by movements: whatever was written about it later rests on it.
STAYS: dict[ThingKind, tuple[str, str]] = {
    ThingKind.COLLECTION: ("collection", "number"),
    ThingKind.BUNDLE: ("bundle", "code"),
    ThingKind.GRAFT: ("graft", "number"),
    ThingKind.PLANT: ("plant", "number"),
}
_KIND_OF = {table: kind for kind, (table, _) in {**GOES, **STAYS}.items()}
# Told by other rows: where a bundle lies by its acts, how it keeps by those and what was measured, who holds a part of it and
# what was made of it by its ledger. Once it is taken out again they are renewed as ever; what was forecast stays as it was.
_FOLLOWS = {"stay", "keeping", "forecast_kept", "answer_card", "graft_wood", "bundle.parent_id"}
_WHEN = ("recorded_at", "placed_at", "found_at")
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
    "air_file.site_id": "a file of its air was sent",
    "bundle.collection_id": "further bundles of it were tied",
    "stick_move.bundle_id": "sticks of it were moved",
    "stick_move.other_bundle_id": "sticks of it were moved",
    "bundle_stop.bundle_id": "it was stopped",
    "put_away.bundle_id": "it was put away elsewhere",
    "bundle_check.bundle_id": "it was looked at",
    "bag_weighing.bundle_id": "its bag was weighed",
    "shelf_finding.bundle_id": "it was found in a count",
    "name_correction.collection_id": "its name was put right",
    "time_correction.collection_id": "its time was put right",
    "take_check.graft_id": "it was looked at",
    "take_check.plant_id": "it was looked at",
    "graft_taken_back.graft_id": "it was taken back by itself",
    "graft_on_plant.graft_id": "it is on a plant that was grafted before",
    "graft_on_plant.plant_id": "it was grafted again",
    "plant_move.plant_id": "it was passed on or died",
    "plant_stop.plant_id": "it was stopped",
    "became": "it became a source tree",
    "carries": "its tree carries the variety since",
    "": "it was changed since",
    "air_readings.site_id": "its air temperatures were entered",
    "air_day.site_id": "its air temperatures were entered",
    "area_permit.from_area_id": "an answer of the authority names it",
    "area_permit.to_area_id": "an answer of the authority names it",
    "collection.area_id": "wood grew in it",
    "letter.party_id": "a letter to them waits",
    "name_correction.tree_id": "the name of wood cut from it was put right",
    "plant_move.from_party_id": "plants passed through their hands",
    "plant_move.party_id": "plants passed through their hands",
    "recall_contact.party_id": "a recall names them",
    "tree_correction.collection_id": "its tree was put right",
    "tree_correction.from_tree_id": "wood that was entered as cut from it was put right",
    "tree_correction.tree_id": "wood is now said to be cut from it",
    "tree_name_change.follows_tree_id": "another tree follows its name",
    "cultivar.protection_checked_by_id": "they looked up whether a variety is protected",
    "tag.ended_by_id": "they told that a tag was lost or spoiled",
    "plant.graft_id": "further plants were made of it",
}
_WROTE = "they wrote something in the record, or had it written for them"
_NAMED = "something else in the record names it"
MOST, MOST_LISTS = 500, 4
_CALLED = {kind.value: kind.value for kind in (ThingKind.TREE, *STAYS)}


def things_of_list(session: Session, list_id: UUID) -> dict[str, list[UUID]]:
    """What a list brought, by kind; one statement."""
    found: dict[str, list[UUID]] = {}
    rows = session.execute(
        select(col(ListThing.kind), col(ListThing.thing_id)).where(col(ListThing.list_id) == list_id)
    )
    for row in rows:
        found.setdefault(row.kind, []).append(row.thing_id)
    return found


def rests_on_list(session: Session, list_id: UUID, taken_at: datetime, *, stays: bool) -> list[Rest]:
    """By the lines of the file; one statement for each kind of thing the list brought.

    `stays`: of wood and grafts, which stay in the ledger and are asked for what came later than the list.
    """
    kinds = things_of_list(session, list_id)
    found: list[tuple[int, str, str, str]] = []
    for kind in STAYS if stays else GOES:
        if kind in kinds:
            looks = _looks_later(list_id, kind, taken_at) if stays else _looks(list_id, kind)
            rows = session.execute(union_all(*looks).limit(MOST))
            found += [(row.line, kind.value, row.name, row.what) for row in rows]
    return [Rest(line, _called(kind, name), words_of(what)) for line, kind, name, what in sorted(found)]


def lists_on_list(session: Session, list_id: UUID) -> dict[UUID, str]:
    """Other lists whose things rest on what this one brought, the latest first; one statement."""
    kinds = [kind for kind in things_of_list(session, list_id) if kind in {**GOES, **STAYS}]
    looks = [look for kind in kinds for look in _looks_by_list(list_id, ThingKind(kind))]
    if not looks:
        return {}
    rows = session.execute(
        select(col(ListFile.id), col(ListFile.name))
        .where(col(ListFile.id).in_(union_all(*looks)), col(ListFile.state) == ListState.TAKEN)
        .order_by(col(ListFile.settled_at).desc())
        .limit(MOST_LISTS)
    )
    return {row.id: row.name for row in rows}


def _looks_by_list(list_id: UUID, kind: ThingKind) -> Iterator[Select[Any]]:
    ours, theirs = (ListThing.__table__.alias(name) for name in ("ours", "theirs"))  # type: ignore[attr-defined]
    for child, column in _references(_table({**GOES, **STAYS}[kind][0])):
        if child.name in _KIND_OF:
            yield select(theirs.c.list_id).where(
                ours.c.list_id == list_id, ours.c.kind == kind.value, child.c[column] == ours.c.thing_id,
                theirs.c.kind == _KIND_OF[child.name].value, theirs.c.thing_id == child.c.id, theirs.c.list_id != list_id,
            )  # fmt: skip


def words_of(what: str) -> str:
    """What keeps a thing; whoever wrote something down, or had it done for them, is named by many tables."""
    return _WORDS.get(what) or (_WROTE if what.endswith(("by_party_id", "for_party_id")) else _NAMED)


def _called(kind: str, name: str) -> str:
    words = _CALLED.get(kind, "")
    return f"{words} {name}" if words else name


def _looks(list_id: UUID, kind: ThingKind) -> Iterator[Select[Any]]:
    """Of each reference to a kind of thing: which things of the list it keeps. Things of the list keep each other not."""
    look = _Look(list_id, kind, GOES[kind])
    yield look.where("", look.table.c.version > 1)
    for child, column in _references(look.table):
        kept = exists().where(child.c[column] == look.thing.c.thing_id)
        if child.name in _KIND_OF:
            kept = kept.where(~look.goes_too(child))
        yield look.where(f"{child.name}.{column}", kept)


def _looks_later(list_id: UUID, kind: ThingKind, taken_at: datetime) -> Iterator[Select[Any]]:
    """The same of what stays: only what was written at another time than the list itself."""
    look = _Look(list_id, kind, STAYS[kind])
    if kind is ThingKind.COLLECTION:
        yield look.where("", look.table.c.version > 1)
    if kind is ThingKind.PLANT:
        yield look.where("became", look.table.c.source_tree_id.is_not(None))
    if kind is ThingKind.GRAFT:
        check = _table("take_check")
        took = exists().where(
            check.c.graft_id == look.table.c.id, check.c.alive > 0, check.c.is_verdict.is_(True)
        )
        yield look.where("carries", look.table.c.stock_tree_id.is_not(None), took)
    for child, column in _references(look.table):
        if {child.name, f"{child.name}.{column}"} & _FOLLOWS:
            continue
        kept = exists().where(child.c[column] == look.thing.c.thing_id)
        when = next((child.c[name] for name in _WHEN if name in child.c), None)
        if when is not None:
            kept = kept.where(when != taken_at)
        elif child.name in _KIND_OF:
            kept = kept.where(~look.goes_too(child))
        yield look.where(f"{child.name}.{column}", kept)


class _Look:
    """Things of one kind that a list brought, each with its line and its name."""

    def __init__(self, list_id: UUID, kind: ThingKind, stands: tuple[str, str]) -> None:
        self.list_id, self.table = list_id, _table(stands[0])
        self.thing = ListThing.__table__.alias("thing")  # type: ignore[attr-defined]
        self._name = func.coalesce(cast(self.table.c[stands[1]], String), "").label("name")
        self._ours = and_(
            self.thing.c.list_id == list_id,
            self.thing.c.kind == kind.value,
            self.thing.c.thing_id == self.table.c.id,
        )

    def where(self, what: str, *where: Any) -> Select[Any]:
        return select(self.thing.c.line, self._name, literal(what).label("what")).where(self._ours, *where)

    def goes_too(self, child: Table) -> Any:
        """Whether a row that keeps a thing came with the same list."""
        with_it = ListThing.__table__.alias("with_it")  # type: ignore[attr-defined]
        return exists().where(
            with_it.c.list_id == self.list_id,
            with_it.c.kind == _KIND_OF[child.name].value,
            with_it.c.thing_id == child.c.id,
        )


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
