"""Loggers and readings for tests."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid4

from service.lib.write import Writer
from service.storage import actions, schemas
from service.storage.rules import TempUnit
from tests.builders.storage import Ground


def make_logger(writer: Writer, ground: Ground, name: str = "", **given: Any) -> schemas.LoggerRead:
    body = schemas.LoggerCreate(name=name or f"Logger {uuid4().hex[:6]}", **given)
    return writer.write_now(actions.add_logger, ground.host, body)


def batch(
    readings: Iterable[tuple[datetime, object]], unit: TempUnit = TempUnit.C, **given: Any
) -> schemas.ReadingBatch:
    """`batch([(at, "3.4"), (at, ("3.4", "91"))])`: temperatures, or temperatures with humidity."""
    told = []
    for at, value in readings:
        temp, humidity = value if isinstance(value, tuple) else (value, None)
        told.append(
            {
                "at": at,
                "temp": Decimal(str(temp)),
                "humidity": None if humidity is None else Decimal(str(humidity)),
            }
        )
    return schemas.ReadingBatch(unit=unit, readings=told, **given)


def steady(
    begin: datetime, hours: float, value: object, step_minutes: int = 60
) -> list[tuple[datetime, object]]:
    """The same value from a moment on, every so many minutes."""
    count = int(hours * 60 // step_minutes)
    return [(begin + timedelta(minutes=step_minutes * n), value) for n in range(count)]


def send(
    writer: Writer, ground: Ground, logger_id: UUID, readings: Iterable[tuple[datetime, object]], **given: Any
) -> schemas.ReadingsTaken:
    return writer.write_now(actions.send_readings, ground.host, logger_id, batch(readings, **given))
