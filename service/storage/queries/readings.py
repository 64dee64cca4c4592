"""Readings out of their day rows: as they came, put right for use, and hour by hour."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, select
from sqlmodel import Session, col

from service.lib.readings import (
    DRY,
    FAHRENHEIT,
    HOUR_SECONDS,
    Column,
    Hours,
    Readings,
    hours_of,
    no_readings,
    together,
    unpack_day,
    without_spans,
)
from service.storage.queries.loggers import (
    LoggerSpell,
    find_logger,
    left_out_of,
    offsets_of,
    spells_of_loggers,
)
from service.storage.queries.stores import get_store
from service.storage.rules import OffsetFrom, Sensor, Span, TempUnit, day_of, instant_of, number_of, second_of
from service.storage.schemas import HourRead, LeftOutRead, LoggerHours, ReadingRead
from service.storage.tables import Logger, ReadingDay


@dataclass(frozen=True)
class KeptDay:
    """The readings of a day as they stand, and the version of their row."""

    readings: Readings
    version: int


def kept_days(session: Session, logger_id: UUID, days: Iterable[int]) -> dict[int, KeptDay]:
    """The rows of these days (since the beginning of 1970), from the first to the last; one statement."""
    wanted = set(days)
    if not wanted:
        return {}
    rows = session.execute(
        select(col(ReadingDay.day), col(ReadingDay.data), col(ReadingDay.version)).where(
            col(ReadingDay.logger_id) == logger_id,
            col(ReadingDay.day).between(day_of(min(wanted)), day_of(max(wanted))),
        )
    )
    found = {number_of(row.day): row for row in rows}
    return {day: KeptDay(unpack_day(row.data), row.version) for day, row in found.items() if day in wanted}


def readings_as_came(session: Session, logger_ids: Iterable[UUID], span: Span) -> dict[UUID, Readings]:
    """Everything loggers told of a time, by logger; one statement. An open side of the span reaches to the end of the record."""
    conditions: list[ColumnElement[bool]] = [col(ReadingDay.logger_id).in_(list(logger_ids))]
    if span.from_at is not None:
        conditions.append(col(ReadingDay.day) >= span.from_at.astimezone(UTC).date())
    if span.until_at is not None:
        conditions.append(col(ReadingDay.day) <= span.until_at.astimezone(UTC).date())
    parts: dict[UUID, list[Readings]] = {}
    statement = select(col(ReadingDay.logger_id), col(ReadingDay.data)).where(*conditions)
    for row in session.execute(statement.order_by(col(ReadingDay.day))):
        parts.setdefault(row.logger_id, []).append(unpack_day(row.data))
    return {logger_id: cut(together(days), span) for logger_id, days in parts.items()}


def cut(readings: Readings, span: Span) -> Readings:
    """Only those of a time, its end left out."""
    import numpy as np

    begin = np.searchsorted(readings.at, second_of(span.from_at)) if span.from_at else 0
    end = np.searchsorted(readings.at, second_of(span.until_at)) if span.until_at else len(readings)
    return readings.pick(slice(int(begin), int(end)))


# -- put right ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Record:
    """What a logger measured, put right: offsets added, stretches that count for nothing left out."""

    logger_id: UUID
    sensor: Sensor
    at: Column  # seconds since the beginning of 1970, UTC
    temp_c: Column
    humidity: Column  # in percent; not a number where none was given
    readings: Readings  # the same, as they came

    def hours(self) -> Hours:
        """The means of whole hours. What is added is added to the mean, which comes to the same."""
        import numpy as np

        hours = hours_of(self.readings)
        added = self.temp_c - self.readings.celsius()
        begins = np.searchsorted(self.at, hours.hour * HOUR_SECONDS)
        counts = np.diff(np.append(begins, len(self.at)))
        more = np.add.reduceat(added, begins) / counts if len(begins) else np.empty(0)
        return Hours(hours.hour, hours.temp_c + more, hours.humidity)


def put_right(
    logger_id: UUID, sensor: Sensor, readings: Readings, offsets: Sequence[OffsetFrom], out: Sequence[LeftOutRead]
) -> Record:  # fmt: skip
    import numpy as np

    left = without_spans(readings, [(second_of(each.from_at), second_of(each.until_at)) for each in out])
    temp = left.celsius()
    if offsets:
        begins = np.array([second_of(each.from_at) for each in offsets])
        added = np.array([0.0, *(each.offset_c for each in offsets)])
        temp = temp + added[np.searchsorted(begins, left.at, "right")]
    return Record(logger_id, sensor, left.at, temp, left.percent(), left)


def records_of_loggers(session: Session, logger_ids: Sequence[UUID], span: Span) -> dict[UUID, Record]:
    """What loggers measured, wherever they hung; three statements."""
    came = readings_as_came(session, logger_ids, span)
    offsets, out = offsets_of(session, logger_ids), left_out_of(session, logger_ids)
    return {
        logger_id: put_right(logger_id, Sensor.AIR, came.get(logger_id, no_readings()), offsets.get(logger_id, ()), out.get(logger_id, ()))
        for logger_id in logger_ids
    }  # fmt: skip


def readings_of_logger(session: Session, logger_id: UUID, span: Span) -> Readings:
    """What one logger told, as it came; two statements. Raises `NoSuchLogger`."""
    find_logger(session, logger_id)
    return readings_as_came(session, [logger_id], span).get(logger_id, no_readings())


def record_of_logger(session: Session, logger_id: UUID, span: Span) -> Record:
    """What one logger measured, put right; four statements. Raises `NoSuchLogger`."""
    find_logger(session, logger_id)
    return records_of_loggers(session, [logger_id], span)[logger_id]


def records_in_store(session: Session, store_id: UUID, span: Span) -> list[Record]:
    """What was measured in a store during a time: each logger while it hung there. At most five statements."""
    return records_in_stores(session, [store_id], span).get(store_id, [])


def records_in_stores(
    session: Session, store_ids: Iterable[UUID], span: Span, logger_ids: Iterable[UUID] | None = None
) -> Mapping[UUID, list[Record]]:
    """The same of several stores, of all loggers or of some; at most five statements."""
    wanted = set(store_ids)
    spells = [
        (spell, during)
        for spell in spells_of_loggers(session, logger_ids)
        if spell.store_id in wanted and (during := spell.span.overlap(span)) is not None
    ]
    ids = sorted({spell.logger_id for spell, _ in spells})
    found: dict[UUID, list[Record]] = {}
    if not ids:
        return found
    came = readings_as_came(session, ids, _around([during for _, during in spells]))
    offsets, out = offsets_of(session, ids), left_out_of(session, ids)
    for spell, during in _joined(spells):
        mine = cut(came.get(spell.logger_id, no_readings()), during)
        record = put_right(
            spell.logger_id,
            spell.sensor,
            mine,
            offsets.get(spell.logger_id, ()),
            out.get(spell.logger_id, ()),
        )
        if len(record.at) and spell.store_id is not None:
            found.setdefault(spell.store_id, []).append(record)
    return found


def _around(spans: Sequence[Span]) -> Span:
    begins = [span.from_at for span in spans]
    ends = [span.until_at for span in spans]
    return Span(
        None if None in begins else min(at for at in begins if at),
        None if None in ends else max(at for at in ends if at),
    )


def _joined(spells: Sequence[tuple[LoggerSpell, Span]]) -> list[tuple[LoggerSpell, Span]]:
    """A logger that hung on one shelf and then on another of the same store has one record there."""
    joined: list[tuple[LoggerSpell, Span]] = []
    for spell, span in spells:
        last, before = joined[-1] if joined else (None, Span())
        if (
            last is not None
            and (last.logger_id, last.sensor, last.store_id)
            == (spell.logger_id, spell.sensor, spell.store_id)
            and before.until_at is not None
            and before.until_at == span.from_at
        ):
            joined[-1] = (last, Span(before.from_at, span.until_at))
        else:
            joined.append((spell, span))
    return joined


# -- told over HTTP ------------------------------------------------------------------------------------------------------


def read_readings(readings: Readings) -> list[ReadingRead]:
    """Readings digit by digit as they came."""
    columns = (readings.at, readings.temp, readings.humidity, readings.marks)
    return [
        ReadingRead(
            at=instant_of(at), temp=Decimal(temp).scaleb(-readings.temp_decimals),
            unit=TempUnit.F if mark & FAHRENHEIT else TempUnit.C,
            humidity=None if mark & DRY else Decimal(humidity).scaleb(-readings.humidity_decimals),
        )
        for at, temp, humidity, mark in zip(*(column.tolist() for column in columns), strict=True)
    ]  # fmt: skip


def hours_read(hours: Hours) -> list[HourRead]:
    rows: Any = zip(hours.hour.tolist(), hours.temp_c.tolist(), hours.humidity.tolist(), strict=True)
    return [
        HourRead(
            at=instant_of(hour * HOUR_SECONDS), temp_c=round(temp, 3),
            humidity=round(humidity, 2) if humidity == humidity else None,  # noqa: PLR0124 - not a number is unlike itself
        )
        for hour, temp, humidity in rows
    ]  # fmt: skip


def hours_in_store(session: Session, store_id: UUID, span: Span) -> list[LoggerHours]:
    """Hour by hour what each logger measured in a store; at most eight statements. Raises `NoSuchStore`."""
    get_store(session, store_id)
    records = records_in_store(session, store_id, span)
    names = names_of_loggers(session, {record.logger_id for record in records})
    return [
        LoggerHours(
            logger_id=record.logger_id, name=names[record.logger_id], sensor=record.sensor, hours=hours_read(record.hours()),
        )
        for record in records
    ]  # fmt: skip


def names_of_loggers(session: Session, logger_ids: Iterable[UUID]) -> dict[UUID, str]:
    """One statement; none for none."""
    ids = list(logger_ids)
    if not ids:
        return {}
    rows = session.execute(select(col(Logger.id), col(Logger.name)).where(col(Logger.id).in_(ids)))
    return {row.id: row.name for row in rows}
