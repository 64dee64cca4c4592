"""Lines of text back into tables, in one transaction on either database."""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import date, datetime
from itertools import islice
from typing import Any
from uuid import UUID

import orjson
import sqlalchemy as sa
from sqlalchemy import Connection, event, pool
from sqlalchemy.engine import make_url
from sqlalchemy.exc import SQLAlchemyError

from service.lib.copies.problems import DamagedBackup, OtherTables
from service.lib.copies.rows import AT_ONCE, Shape, Sum

_READ: Mapping[str, Callable[[Any], Any]] = {
    "identity": UUID,
    "instant": datetime.fromisoformat,
    "day": date.fromisoformat,
    "bytes": lambda told: base64.b64decode(told, validate=True),
}


@contextmanager
def loading(url: str) -> Iterator[Connection]:
    """A connection whose whole work is kept at the end or not at all, tables made on the way included."""
    engine = sa.create_engine(url, poolclass=pool.NullPool)
    if engine.dialect.name == "sqlite":

        @event.listens_for(engine, "connect")
        def _on_connect(connection: Any, _record: Any) -> None:
            connection.isolation_level = None
            # Tables refer to themselves and to each other; all references are looked at once, at the end.
            connection.execute("PRAGMA foreign_keys=OFF")

        @event.listens_for(engine, "begin")
        def _on_begin(connection: Connection) -> None:
            connection.exec_driver_sql("BEGIN IMMEDIATE")

    try:
        with engine.connect() as connection, connection.begin():
            yield connection
            if engine.dialect.name == "sqlite":
                broken = connection.execute(sa.text("PRAGMA foreign_key_check")).fetchmany(5)
                if broken:
                    raise DamagedBackup(
                        f"Rows refer to others that are not there: {[tuple(row) for row in broken]}."
                    )
    finally:
        engine.dispose()


def is_empty(url: str) -> bool:
    """Whether the database at this address has no table at all."""
    if make_url(url).get_backend_name() == "sqlite":
        from pathlib import Path

        path = Path(make_url(url).database or "")
        return not path.exists() or path.stat().st_size == 0
    engine = sa.create_engine(url, poolclass=pool.NullPool)
    try:
        with engine.connect() as connection:
            return not sa.inspect(connection).get_table_names()
    finally:
        engine.dispose()


def unlike(have: Iterable[Shape], wanted: Iterable[Shape]) -> list[str]:
    """The tables that are not the same in both, by name."""
    first, second = ({shape.name: shape for shape in shapes} for shapes in (have, wanted))
    return sorted(name for name in first.keys() | second.keys() if first.get(name) != second.get(name))


def load_rows(connection: Connection, shape: Shape, lines: Iterable[bytes]) -> None:
    """Put a table's lines into it; the table must be empty and those it refers to full. Raises `DamagedBackup`."""
    rows = (_row(shape, line, number) for number, line in enumerate(lines, 1))
    try:
        if connection.dialect.name == "postgresql":
            _copy(connection, shape, rows)
        else:
            _insert(connection, shape, rows)
    except (SQLAlchemyError, _driver_error()) as error:
        said = str(getattr(error, "orig", None) or error).strip().splitlines()[0]
        raise DamagedBackup(f"The table {shape.name} could not be filled: {said}") from error


def _driver_error() -> type[Exception]:
    from psycopg import Error

    return Error


def _row(shape: Shape, line: bytes, number: int) -> list[Any]:
    try:
        row = orjson.loads(line)
    except orjson.JSONDecodeError as error:
        raise DamagedBackup(f"Line {number} of the table {shape.name} cannot be read.") from error
    if not isinstance(row, list) or len(row) != len(shape.columns):
        raise DamagedBackup(f"Line {number} of the table {shape.name} does not fit its columns.")
    return row


def _insert(connection: Connection, shape: Shape, rows: Iterator[list[Any]]) -> None:
    table = shape.table()
    names = shape.column_names
    while part := list(islice(_read_values(shape, rows, _READ), AT_ONCE)):
        connection.execute(sa.insert(table), [dict(zip(names, row, strict=True)) for row in part])


def _read_values(shape: Shape, rows: Iterator[list[Any]], kinds: Iterable[str]) -> Iterator[list[Any]]:
    """The rows with the text of these kinds of columns turned into what it stands for."""
    read = [(place, _READ[kind]) for place, (_, kind) in enumerate(shape.columns) if kind in kinds]
    for row in rows:
        for place, reader in read:
            if row[place] is not None:
                try:
                    row[place] = reader(row[place])
                except (TypeError, ValueError) as error:
                    told = f"{shape.name}.{shape.column_names[place]}: {str(row[place])[:80]!r}"
                    raise DamagedBackup(f"{told} cannot be read.") from error
        yield row


def _copy(connection: Connection, shape: Shape, rows: Iterator[list[Any]]) -> None:
    """PostgreSQL's own way in: one statement per table, so that rows of it may refer to each other."""
    from psycopg import sql

    json = [place for place, (_, kind) in enumerate(shape.columns) if kind == "json"]
    driver = connection.connection.driver_connection
    if driver is None:
        raise OtherTables("The connection to the database was lost.")
    names = sql.SQL(", ").join(map(sql.Identifier, shape.column_names))
    wanted = sql.SQL("COPY {} ({}) FROM STDIN").format(sql.Identifier(shape.name), names)
    with driver.cursor() as cursor:
        with cursor.copy(wanted) as copy:
            for row in _read_values(shape, rows, ("bytes",)):
                for place in json:
                    if row[place] is not None:
                        row[place] = orjson.dumps(row[place]).decode()
                copy.write_row(row)
        _count_on(connection, shape)


def _count_on(connection: Connection, shape: Shape) -> None:
    """Numbers that the database gives out itself go on after the highest that was loaded."""
    for name, kind in shape.columns[: shape.keys]:
        if kind == "whole":
            column: Any = sa.column(name)
            highest = connection.execute(
                sa.select(sa.func.max(column)).select_from(sa.table(shape.name))
            ).scalar()
            given = connection.execute(
                sa.text("SELECT pg_get_serial_sequence(:t, :c)"), {"t": f'"{shape.name}"', "c": name}
            ).scalar()
            if highest is not None and given is not None:
                connection.execute(sa.text("SELECT setval(:s, :n)"), {"s": given, "n": highest})


def differing(have: Mapping[str, Sum], wanted: Mapping[str, Sum]) -> list[str]:
    """The tables whose counts or digests differ, in words."""
    nothing = Sum(0, "")
    return [
        f"{name} ({have.get(name, nothing).rows:,} rows, not {wanted.get(name, nothing).rows:,})"
        if have.get(name, nothing).rows != wanted.get(name, nothing).rows
        else f"{name} (other words)"
        for name in sorted(have.keys() | wanted.keys())
        if have.get(name) != wanted.get(name)
    ]
