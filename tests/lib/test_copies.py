"""A table as lines: in the order of its key, whatever order the rows were written in."""

from __future__ import annotations

import base64
from collections.abc import Callable
from uuid import UUID

import orjson
import pytest
import sqlalchemy as sa

from service.lib.copies import (
    DamagedBackup,
    lines_of,
    load_rows,
    loading,
    shapes_of,
    snapshot,
    sums_of,
)
from service.lib.database import Database
from service.members.tables import Area

NAMES = ("hill", "dale", "moor", "fen")


def fill(database: Database, order: list[int]) -> None:
    with database.writing_session() as session:
        for n in order:
            session.add(Area(id=UUID(int=n + 1), name=NAMES[n]))
            session.flush()
        session.commit()


def test_the_lines_of_a_table_stand_in_the_order_of_its_key(database: Database) -> None:
    fill(database, [2, 0, 3, 1])

    with snapshot(database) as connection:
        (shape,) = (one for one in shapes_of(connection) if one.name == "area")
        rows = [orjson.loads(line) for line in lines_of(connection, shape)]
        sums = sums_of(connection, [shape], lambda _name, _rows: None)

    name = shape.column_names.index("name")
    assert [row[0] for row in rows] == [str(UUID(int=n + 1)) for n in range(4)]
    assert [row[name] for row in rows] == list(NAMES)
    assert sums["area"].rows == 4


def sample_in(url: str, rows: list[tuple[int, bytes | None]]) -> Database:
    """A database with one table that has a column of bytes."""
    database = Database(url)
    made = sa.MetaData()
    sample = sa.Table(
        "sample", made, sa.Column("id", sa.Integer, primary_key=True), sa.Column("data", sa.LargeBinary)
    )
    made.create_all(database.writer)
    with database.writer.begin() as connection:
        for number, data in rows:
            connection.execute(sample.insert(), {"id": number, "data": data})
    return database


BYTES = [(1, bytes(range(256))), (2, b""), (3, None), (4, b'\\x00"\t\n\r'), (5, b"\x00" * 5000)]


@pytest.mark.parametrize("over", ["sqlite", "postgres"])
def test_bytes_are_the_same_after_a_copy_to_either_database(
    empty_database_url: str, new_database_url: Callable[..., str], over: str
) -> None:
    first = sample_in(empty_database_url, BYTES)
    second = sample_in(new_database_url(over, migrated=False), [])

    with snapshot(first) as connection:
        (shape,) = shapes_of(connection)
        lines = list(lines_of(connection, shape))
    with loading(second.url) as connection:
        load_rows(connection, shape, lines)
    with snapshot(second) as connection:
        again = list(lines_of(connection, shape))
        kept = connection.execute(sa.text("SELECT id, data FROM sample ORDER BY id")).all()
    first.close()
    second.close()

    assert dict(shape.columns) == {"id": "whole", "data": "bytes"}
    assert again == lines
    assert [(row.id, None if row.data is None else bytes(row.data)) for row in kept] == BYTES
    assert base64.b64decode(orjson.loads(lines[3])[1], validate=True) == BYTES[3][1]


@pytest.mark.parametrize("told", ["no base64!", "AAA", 7], ids=["other signs", "cut short", "a number"])
def test_bytes_that_cannot_be_read_are_a_damaged_back_up(empty_database_url: str, told: object) -> None:
    database = sample_in(empty_database_url, [])
    with snapshot(database) as connection:
        (shape,) = shapes_of(connection)

    with pytest.raises(DamagedBackup, match=r"sample\.data"), loading(database.url) as connection:
        load_rows(connection, shape, [orjson.dumps([1, told])])
    database.close()
