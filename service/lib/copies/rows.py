"""Tables as lines of text that are the same on both databases, read in one snapshot and in the order of their keys.

A line is the JSON list of a row's values: identities and days as text, instants in UTC, bytes in base64 (RFC 4648),
everything else plain. The columns stand in the order key first, then by name, whatever order a database happens to keep them in.
"""

from __future__ import annotations

import base64
import hashlib
import math
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import orjson
import sqlalchemy as sa
from sqlalchemy import Connection

from service.lib.copies.problems import NoRecordHere, OtherTables
from service.lib.database import Database, UtcInstant

REVISIONS = "alembic_version"
AT_ONCE = 2000  # rows in memory
Told = Callable[[str, int], None]

TYPES: dict[str, Callable[[], Any]] = {
    "identity": sa.Uuid, "instant": UtcInstant, "day": sa.Date, "yes-no": sa.Boolean, "whole": sa.BigInteger, "number": sa.Float,
    "text": sa.Text, "json": lambda: sa.JSON(none_as_null=True), "bytes": sa.LargeBinary,
}  # fmt: skip


@dataclass(frozen=True)
class Shape:
    """A table: its columns as (name, kind), and how many of the first ones are its key."""

    name: str
    columns: tuple[tuple[str, str], ...]
    keys: int

    @property
    def column_names(self) -> list[str]:
        return [name for name, _ in self.columns]

    def table(self) -> Any:
        return sa.table(self.name, *(sa.column(name, TYPES[kind]()) for name, kind in self.columns))


@dataclass(frozen=True)
class Sum:
    """How many rows a table has, and a digest of all they say."""

    rows: int
    sha256: str


def kind_of(type_: Any) -> str:
    """The kind of a column, as either database or the code tells it."""
    if isinstance(type_, sa.TypeDecorator):
        type_ = type_.impl_instance
    if isinstance(type_, sa.CHAR) and type_.length == 32:
        return "identity"  # SQLite keeps an identity as 32 signs
    for family, kind in (
        (sa.Uuid, "identity"), (sa.JSON, "json"), (sa.DateTime, "instant"), (sa.Date, "day"), (sa.Boolean, "yes-no"),
        (sa.Integer, "whole"), (sa.Float, "number"), (sa.String, "text"), (sa.LargeBinary, "bytes"),
    ):  # fmt: skip
        if isinstance(type_, family):
            return kind
    raise OtherTables(f"A column of the type {type_} cannot be copied.")


def shapes_of(connection: Connection) -> list[Shape]:
    """Every table of the database, each after those it refers to."""
    inspector = sa.inspect(connection)
    names = [
        name for name, _ in inspector.get_sorted_table_and_fkc_names()
        if name is not None and name != REVISIONS
    ]  # fmt: skip
    return [_shape(inspector, name) for name in names]


def _shape(inspector: sa.Inspector, name: str) -> Shape:
    kinds = {column["name"]: kind_of(column["type"]) for column in inspector.get_columns(name)}
    keys = inspector.get_pk_constraint(name)["constrained_columns"]
    if not keys:
        raise OtherTables(f"The table {name} has no key.")
    order = [*keys, *sorted(set(kinds) - set(keys))]
    return Shape(name, tuple((column, kinds[column]) for column in order), len(keys))


def revision_of(connection: Connection) -> str:
    """Which state of the tables the database is in. Raises `NoRecordHere`."""
    if not sa.inspect(connection).has_table(REVISIONS):
        raise NoRecordHere("The database has no tables of this service.")
    found = connection.execute(sa.text(f"SELECT version_num FROM {REVISIONS}")).scalars().all()  # noqa: S608
    if len(found) != 1:
        raise NoRecordHere("The database does not say which state its tables are in.")
    return str(found[0])


@contextmanager
def snapshot(database: Database) -> Iterator[Connection]:
    """A connection that sees one state of the whole record, however long it reads and whoever writes meanwhile."""
    with database.reader.connect() as connection, connection.begin():
        yield connection


def lines_of(connection: Connection, shape: Shape) -> Iterator[bytes]:
    """The rows of a table in the order of its key, each a line; never more than a handful in memory."""
    table = shape.table()
    bytewise = connection.dialect.name == "postgresql"  # SQLite compares text so by itself
    order = [
        table.c[name].collate("C") if kind == "text" and bytewise else table.c[name]
        for name, kind in shape.columns[: shape.keys]
    ]
    numbers = [place for place, (_, kind) in enumerate(shape.columns) if kind == "number"]
    found = connection.execution_options(yield_per=AT_ONCE).execute(sa.select(table).order_by(*order))
    with found:
        for row in found:
            for place in numbers:
                if row[place] is not None and not math.isfinite(row[place]):
                    raise OtherTables(
                        f"{shape.name}.{shape.columns[place][0]} has a value that is no number."
                    )
            yield orjson.dumps(
                tuple(row), default=_in_base64, option=orjson.OPT_UTC_Z | orjson.OPT_APPEND_NEWLINE
            )


def _in_base64(value: Any) -> str:
    return base64.b64encode(value).decode()


def measured(
    lines: Iterable[bytes], done: Callable[[Sum], None], told: Callable[[int], None]
) -> Iterator[bytes]:
    """The same lines, counted and digested on their way; `done` hears the sum at the end."""
    digest, rows = hashlib.sha256(), 0
    for line in lines:
        digest.update(line)
        rows += 1
        if rows % AT_ONCE == 0:
            told(rows)
        yield line
    done(Sum(rows, digest.hexdigest()))


def sums_of(connection: Connection, shapes: Iterable[Shape], told: Told) -> dict[str, Sum]:
    """Count and digest whole tables where they stand."""
    return {shape.name: sum_of(shape.name, lines_of(connection, shape), told) for shape in shapes}


def sum_of(name: str, lines: Iterable[bytes], told: Told) -> Sum:
    """Count and digest the lines of one table."""
    kept: list[Sum] = []
    for _ in measured(lines, kept.append, lambda rows: told(name, rows)):
        pass
    return kept[0]
