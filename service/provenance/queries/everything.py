"""The whole record as plain tables: every table and column but those that stay, each reference told in words too."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import orjson
import sqlalchemy as sa
from sqlmodel import Session, SQLModel, col

from service.lib.database import metadata
from service.lib.readings import DRY, FAHRENHEIT, unpack_day
from service.provenance.rules.taking_away import READING_COLUMNS, READINGS, STAYS, TOLD_BY
from service.storage.tables import Logger, ReadingDay

AT_ONCE = 1000  # rows in memory


@dataclass(frozen=True)
class TakenTable:
    """A table to take away: its name, what it holds, its headings, and its rows, read as they are asked for."""

    name: str
    words: str
    header: tuple[str, ...]
    statement: Any

    def rows(self, session: Session) -> Iterator[list[Any]]:
        """One statement; never more than a handful of rows in memory."""
        found = session.execute(self.statement, execution_options={"yield_per": AT_ONCE})
        if self.name == READINGS:
            yield from _readings(found)
            return
        for row in found:
            yield [_plain(value) for value in row]


def tables_to_take_away() -> list[TakenTable]:
    """By name."""
    words = _docstrings()
    taken = [
        _taken(table, words.get(table.name, ""))
        for table in sorted(metadata.tables.values(), key=lambda table: table.name)
        if table.name not in STAYS
    ]
    taken.append(
        TakenTable(
            READINGS, "Every reading of every logger, digit by digit as it came.", READING_COLUMNS,
            sa.select(col(Logger.name), col(Logger.id), col(ReadingDay.data))
            .join(Logger, col(Logger.id) == col(ReadingDay.logger_id))
            .order_by(col(Logger.name), col(Logger.id), col(ReadingDay.day)),
        )
    )  # fmt: skip
    return sorted(taken, key=lambda table: table.name)


def _docstrings() -> dict[str, str]:
    """What each table holds, in the first line its class says of itself."""
    registry = SQLModel._sa_registry  # noqa: SLF001 - the only list of all tables' classes
    return {
        str(mapper.local_table.name): (mapper.class_.__doc__ or "").strip().partition("\n")[0]  # type: ignore[attr-defined]
        for mapper in registry.mappers
    }


def _taken(table: sa.Table, words: str) -> TakenTable:
    columns: list[tuple[str, Any]] = []
    source: Any = table
    for column in table.columns:
        if isinstance(column.type, sa.LargeBinary):
            continue
        for key in column.foreign_keys:
            other = key.column.table
            if other.name in TOLD_BY:
                alias = other.alias(f"{column.name}_told")
                source = source.outerjoin(alias, alias.c[key.column.name] == column)
                columns.append((_free(column.name, table), alias.c[TOLD_BY[other.name]]))
                if (table.name, other.name) == ("source_tree", "site"):
                    # A list of trees that is moved in elsewhere makes their sites, which must lie in an area.
                    area = metadata.tables["area"].alias("area_told")
                    source = source.outerjoin(area, area.c.id == alias.c.area_id)
                    columns += [("region", alias.c.region), ("area", area.c.name)]
        columns.append((column.name, column))
    order = list(table.primary_key.columns)
    statement = sa.select(*(told.label(f"c{place}") for place, (_, told) in enumerate(columns)))
    return TakenTable(
        table.name, words, tuple(name for name, _ in columns), statement.select_from(source).order_by(*order)
    )


def _free(name: str, table: sa.Table) -> str:
    """`owner` for `owner_id`; with `_name` where the table has a column of that name."""
    short = name.removesuffix("_id")
    return f"{short}_name" if short in table.columns else short


def _plain(value: Any) -> Any:
    if isinstance(value, UUID):
        return str(value)
    if isinstance(value, dict | list):
        return orjson.dumps(value).decode()
    return value


def _readings(days: Any) -> Iterator[list[Any]]:
    import numpy as np

    for name, logger_id, block in days:
        readings = unpack_day(block)
        at = np.datetime_as_string(readings.at.astype("datetime64[s]"), unit="s").tolist()
        columns = (readings.temp.tolist(), readings.humidity.tolist(), readings.marks.tolist())
        for when, temp, humidity, mark in zip(at, *columns, strict=True):
            yield [
                name, str(logger_id), f"{when}Z", _scaled(temp, readings.temp_decimals), "F" if mark & FAHRENHEIT else "C",
                "" if mark & DRY else _scaled(humidity, readings.humidity_decimals),
            ]  # fmt: skip


def _scaled(digits: int, decimals: int) -> float | int:
    return digits if not decimals else round(digits / 10**decimals, decimals)
