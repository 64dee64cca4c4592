"""A club with as many bundles as wanted, written by bulk statements: families of a tree and all that came of it.

Everything is made up by chance from a fixed seed. The ledger adds up, and every bundle has a tag and an answer card.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Any
from uuid import UUID

import psycopg
from sqlalchemy import text
from sqlalchemy.engine import make_url
from sqlmodel import Session, SQLModel, select

from service.bundles.tables import Bundle, StickMove
from service.catalogue.tables import Cultivar
from service.collection.tables import Collection
from service.grafting.tables import Graft, GraftWood, Plant
from service.lib.codes import ALPHABET, RANDOM_SIGNS, check_sign
from service.lib.database import Database
from service.members.rules import fold_person
from service.members.tables import Area, Party
from service.provenance.actions.cards import renew_cards
from service.storage.tables import Place, Stay, Store
from service.tags.tables import Tag
from service.trees.tables import Site, SourceTree

START = datetime(2017, 1, 8, 12, tzinfo=UTC)
DEPTH = 8
USUAL = 60  # descendants of a tree in a usual family
CHUNK = 20_000
Row = dict[str, Any]


@dataclass(frozen=True)
class BigClub:
    """What a timing asks about."""

    bundles: int
    mother_tree: UUID  # the tree with many descendants
    descendants: int
    deepest_bundle: UUID  # of that tree, as many steps below it as any
    some_bundles: Sequence[UUID]
    some_codes: Sequence[str]


@dataclass
class _Node:
    kind: str
    id: UUID
    depth: int
    at: datetime
    above: _Node | None = None
    cut: _Node | None = None  # of a bundle: its collection
    below: list[_Node] = field(default_factory=list)
    sticks: int = 0


class _Family:
    """A tree with exactly so many things descended from it, none more than eight steps away."""

    def __init__(self, chance: random.Random, descendants: int) -> None:
        self.chance = chance
        tree = self._new("tree", 0, START, None)
        self.nodes = [tree]
        growing = [tree]
        while len(self.nodes) <= descendants:
            place = chance.randrange(len(growing))
            above = growing[place]
            kind = self._next(above)
            if kind is None:
                growing[place] = growing[-1]
                growing.pop()
                continue
            made = self._new(
                kind, above.depth + 1, above.at + timedelta(seconds=chance.randrange(1, 30_000_000)), above
            )
            made.cut = {"collection": made, "bundle": above.cut}.get(kind)
            above.below.append(made)
            self.nodes.append(made)
            if made.depth < DEPTH:
                growing.append(made)
        for node in reversed(self.nodes):
            if node.kind == "bundle":
                node.sticks = 3 + sum(one.sticks or 1 for one in node.below)

    def _new(self, kind: str, depth: int, at: datetime, above: _Node | None) -> _Node:
        return _Node(kind, UUID(int=self.chance.getrandbits(128), version=4), depth, at, above)

    def _next(self, above: _Node) -> str | None:
        """What comes next below a thing; nothing where it has all it can have."""
        match above.kind:
            case "tree":
                return "collection"
            case "collection":
                return "bundle"
            case "bundle":
                return "bundle" if self.chance.random() < 0.8 else "graft"
            case "graft":
                return "plant" if len(above.below) < 2 else None
        return "tree" if not above.below else None


def fill_club(database: Database, bundles: int, *, descendants: int = 5_000, seed: int = 7) -> BigClub:
    """Write a club of at least so many bundles into a migrated database that holds the catalogue."""
    chance = random.Random(seed)
    with database.reading() as session:
        cultivars = session.exec(select(Cultivar.id, Cultivar.taxon_id, Cultivar.epithet).limit(60)).all()
    load = _Load(database)
    ground = _Ground(chance, cultivars)
    load.add(ground.rows())
    mother = _Family(chance, descendants)
    load.add(ground.family(mother))
    made = sum(node.kind == "bundle" for node in mother.nodes)
    while made < bundles:
        family = _Family(chance, USUAL)
        load.add(ground.family(family))
        made += sum(node.kind == "bundle" for node in family.nodes)
    load.finish()
    _write_cards(database)
    deepest = max((node for node in mother.nodes if node.kind == "bundle"), key=lambda node: node.depth)
    return BigClub(made, mother.nodes[0].id, descendants, deepest.id, ground.some_ids, ground.some_codes)


class _Ground:
    """People, places and running numbers; turns families into rows."""

    def __init__(self, chance: random.Random, cultivars: Sequence[Any]) -> None:
        self.chance, self.cultivars = chance, cultivars
        self.area, self.sites = self._id(), [self._id() for _ in range(3)]
        self.parties = [self._id() for _ in range(200)]
        self.store, self.places = self._id(), [self._id() for _ in range(4)]
        self.numbers = dict.fromkeys(("tree", "collection", "graft", "plant"), 100_000)
        self.some_ids: list[UUID] = []
        self.some_codes: list[str] = []
        self.codes = 0

    def _id(self) -> UUID:
        return UUID(int=self.chance.getrandbits(128), version=4)

    def rows(self) -> Iterator[tuple[type[SQLModel], Row]]:
        yield Area, {"id": self.area, "name": "Weir Hundred"}
        for place, site in enumerate(self.sites):
            yield (
                Site,
                {
                    "id": site,
                    "name": f"Weir orchard {place + 1}",
                    "region": "Weir Hundred",
                    "area_id": self.area,
                },
            )
        for place, party in enumerate(self.parties):
            name = f"Member {place + 1} of the Weir"
            yield (
                Party,
                {
                    "id": party,
                    "kind": "member",
                    "name": name,
                    "name_folded": fold_person(name),
                    "area_id": self.area,
                    "created_at": START,
                },
            )
        yield Store, {"id": self.store, "name": "Weir fridge", "host_id": self.parties[0]}
        for place, shelf in enumerate(self.places):
            yield Place, {"id": shelf, "store_id": self.store, "name": f"Shelf {place + 1}"}

    def family(self, family: _Family) -> Iterator[tuple[type[SQLModel], Row]]:
        cultivar, taxon, name = self.chance.choice(self.cultivars)
        named = {"cultivar_id": cultivar, "taxon_id": taxon, "name_as_told": name}
        for node in family.nodes:
            yield from getattr(self, f"_{node.kind}")(node, named)

    def _number(self, kind: str) -> int:
        self.numbers[kind] += 1
        return self.numbers[kind]

    def _who(self) -> Row:
        party = self.chance.choice(self.parties)
        return {"by_party_id": party, "for_party_id": party}

    def _tree(self, node: _Node, named: Row) -> Iterator[tuple[type[SQLModel], Row]]:
        owner = self.chance.choice(self.parties)
        yield SourceTree, {
            "id": node.id, "number": self._number("tree"), "site_id": self.chance.choice(self.sites), **named, "owner_id": owner,
            "may_cut": "yes", "created_at": node.at, "by_party_id": owner,
        }  # fmt: skip

    def _collection(self, node: _Node, named: Row) -> Iterator[tuple[type[SQLModel], Row]]:
        assert node.above is not None
        yield Collection, {
            "id": node.id, "number": self._number("collection"), "kind": "cut", "tree_id": node.above.id, **named, "area_id": self.area,
            "sticks": sum(one.sticks for one in node.below), "cut_on": node.at.date(), "done_at": node.at, "recorded_at": node.at,
            **self._who(),
        }  # fmt: skip

    def _bundle(self, node: _Node, _named: Row) -> Iterator[tuple[type[SQLModel], Row]]:
        assert node.above is not None
        assert node.cut is not None
        parent = node.above.id if node.above.kind == "bundle" else None
        holder = self.chance.choice(self.parties) if parent and self.chance.random() < 0.5 else None
        passed = sum(one.sticks for one in node.below if one.kind == "bundle")
        grafted = sum(one.kind == "graft" for one in node.below)
        self.codes += 1
        code = _code(self.codes)
        if len(self.some_ids) < 2_000:
            self.some_ids.append(node.id)
            self.some_codes.append(code)
        yield Bundle, {
            "id": node.id, "code": code, "collection_id": node.cut.id, "parent_id": parent, "holder_id": holder, "came_in": node.sticks,
            "passed_on": passed, "grafted": grafted, "sticks_at_start": node.sticks, "made_at": node.at,
        }  # fmt: skip
        yield (
            Tag,
            {
                "code": code,
                "kind": "bundle",
                "thing_id": node.id,
                "made_at": node.at,
                "by_party_id": self.parties[0],
            },
        )
        if parent is None:
            yield self._move(node, "collected", node.sticks, came_in=node.sticks)
            yield (
                Stay,
                {"bundle_id": node.id, "place_id": self.chance.choice(self.places), "from_at": node.at},
            )
        else:
            kinds = ("handed_out", "handed_in") if holder else ("split_out", "split_in")
            form = "bundle" if holder else ""
            yield self._move(
                node.above,
                kinds[0],
                node.sticks,
                passed_on=node.sticks,
                other_bundle_id=node.id,
                party_id=holder,
                form=form,
            )
            yield self._move(
                node,
                kinds[1],
                node.sticks,
                came_in=node.sticks,
                other_bundle_id=parent,
                party_id=holder,
                form=form,
            )

    def _move(self, bundle: _Node, kind: str, sticks: int, **more: Any) -> tuple[type[SQLModel], Row]:
        told = {
            "id": self._id(),
            "bundle_id": bundle.id,
            "kind": kind,
            "sticks": sticks,
            "done_at": bundle.at,
            "recorded_at": bundle.at,
        }
        return StickMove, {**told, **self._who(), **more}

    def _graft(self, node: _Node, _named: Row) -> Iterator[tuple[type[SQLModel], Row]]:
        assert node.above is not None
        yield Graft, {
            "id": node.id, "number": self._number("graft"), "method": "whip-and-tongue", "grafts": 1, "done_at": node.at,
            "recorded_at": node.at, **self._who(),
        }  # fmt: skip
        yield GraftWood, {"graft_id": node.id, "bundle_id": node.above.id, "sticks": 1}
        yield self._move(node.above, "grafted", 1, grafted=1)

    def _plant(self, node: _Node, _named: Row) -> Iterator[tuple[type[SQLModel], Row]]:
        assert node.above is not None
        tree = node.below[0].id if node.below else None
        yield Plant, {
            "id": node.id, "number": self._number("plant"), "graft_id": node.above.id, "holder_id": self.chance.choice(self.parties),
            "source_tree_id": tree, "made_at": node.at,
        }  # fmt: skip


def _code(number: int) -> str:
    """A code of its own for each number, scattered as those by chance are."""
    rest, signs = number * 1_000_003 * 17 % len(ALPHABET) ** RANDOM_SIGNS, ""
    for _ in range(RANDOM_SIGNS):
        rest, place = divmod(rest, len(ALPHABET))
        signs += ALPHABET[place]
    return signs + check_sign(signs)


@cache
def _defaults(table: type[SQLModel]) -> tuple[list[str], Row]:
    """The columns of a table, and what they hold where nothing is told. A running number is left to the database."""
    numbered = (StickMove, "seq"), (Stay, "id")
    columns = [column.name for column in table.__table__.c if (table, column.name) not in numbered]
    fields = table.model_fields
    return columns, {
        name: fields[name].get_default()
        for name in columns
        if not fields[name].is_required() and not fields[name].default_factory
    }


class _Load:
    """Rows gathered and written many at a time, by the database's own quickest way, without looking at references."""

    def __init__(self, database: Database) -> None:
        self.database = database
        self.waiting: dict[type[SQLModel], list[Row]] = {}
        if database.is_sqlite:
            self.connection: Any = database.writer.raw_connection()
            self.connection.driver_connection.execute("PRAGMA foreign_keys=OFF")
            self.connection.driver_connection.execute("BEGIN IMMEDIATE")
        else:
            plain = make_url(database.url).set(drivername="postgresql").render_as_string(hide_password=False)
            self.connection = psycopg.connect(plain)
            self.connection.execute("SET session_replication_role = replica")

    def add(self, rows: Iterable[tuple[type[SQLModel], Row]]) -> None:
        for table, row in rows:
            waiting = self.waiting.setdefault(table, [])
            waiting.append(row)
            if len(waiting) >= CHUNK:
                self._write(table, waiting)
                waiting.clear()

    def _write(self, table: type[SQLModel], rows: list[Row]) -> None:
        columns, defaults = _defaults(table)
        name, listed = table.__tablename__, ", ".join(columns)
        full = ([row[one] if one in row else defaults.get(one) for one in columns] for row in rows)
        if self.database.is_sqlite:
            marks = ", ".join("?" * len(columns))
            plain = ([_plain(value) for value in row] for row in full)
            self.connection.driver_connection.executemany(
                f"INSERT INTO {name} ({listed}) VALUES ({marks})", plain
            )
            return
        with self.connection.cursor().copy(f"COPY {name} ({listed}) FROM STDIN") as copy:
            for row in full:
                copy.write_row(row)

    def finish(self) -> None:
        for table, rows in self.waiting.items():
            self._write(table, rows)
        if self.database.is_sqlite:
            self.connection.driver_connection.execute("COMMIT")
            self.connection.driver_connection.execute("PRAGMA foreign_keys=ON")
            broken = self.connection.driver_connection.execute("PRAGMA foreign_key_check").fetchall()
            assert not broken, broken[:5]
        else:
            self.connection.commit()
        self.connection.close()


def _plain(value: Any) -> Any:
    if isinstance(value, UUID):
        return value.hex
    if isinstance(value, datetime):
        return value.replace(tzinfo=None).isoformat(" ", "microseconds")
    return value.isoformat() if hasattr(value, "isoformat") else value


def _write_cards(database: Database) -> None:
    """One real answer card, copied to every bundle: what counts here is how much is stored."""
    with database.writing_session() as session:
        session.info["now"] = START
        one = session.exec(select(Bundle.id).limit(1)).one()
        renew_cards(session, frozenset([one]))
        _copy_card(session)
        session.commit()
        if not database.is_sqlite:
            session.execute(text("ANALYZE"))  # as the server's own housekeeping would in time
            session.commit()


def _copy_card(session: Session) -> None:
    session.execute(
        text(
            "INSERT INTO answer_card (bundle_id, body, made_at) SELECT bundle.id, card.body, bundle.made_at"
            " FROM bundle, answer_card AS card WHERE bundle.id <> card.bundle_id"
        )
    )
