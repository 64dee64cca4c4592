"""A table as lines: in the order of its key, whatever order the rows were written in."""

from __future__ import annotations

from uuid import UUID

import orjson

from service.lib.copies import lines_of, shapes_of, snapshot, sums_of
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
