"""Loggers and readings for tests."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid4

from service.lib.database import Database
from service.lib.write import Writer
from service.storage import actions, queries, schemas
from service.storage.rules import Span, TempUnit
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


FORM = schemas.FileFormSet(time="Time", temp="Temp", zone="UTC")


class Clerk:
    """Sends files and takes them, as a page or a program does."""

    def __init__(self, writer: Writer, ground: Ground, database: Database, logger_id: UUID) -> None:
        self.writer, self.ground, self.database, self.logger_id = writer, ground, database, logger_id

    def send(self, *lines: str, name: str = "log.csv", heading: str = "Time,Temp") -> schemas.FileSummary:
        text = "\n".join([heading, *lines])
        return self.writer.write_now(
            actions.send_file, self.ground.host, self.logger_id, uuid4(), name, text.encode()
        )

    def form(self, file: schemas.FileSummary, form: schemas.FileFormSet = FORM) -> schemas.FileSummary:
        return self.writer.write_now(actions.set_file_form, self.ground.host, file.id, form)

    def look(self, file: schemas.FileSummary) -> schemas.FileRead:
        with self.database.reading() as session:
            return queries.look_at_file(session, file.id, self.writer.clock.now(), "Europe/Berlin").file

    def take(self, file: schemas.FileSummary, **answers: Any) -> schemas.FileSummary:
        with self.database.reading() as session:
            prepared = queries.prepare_file(session, file.id, self.writer.clock.now())
        body = schemas.FileTake(**answers)
        return self.writer.write_now(actions.take_file, self.ground.host, file.id, body, prepared)

    def take_all(self, *lines: str, **answers: Any) -> schemas.FileSummary:
        file = self.send(*lines)
        self.form(file)
        return self.take(file, **answers)

    def back(self, file: schemas.FileSummary) -> schemas.FileSummary:
        return self.writer.write_now(actions.take_file_back, self.ground.host, file.id)

    def temps(self) -> list[float]:
        with self.database.reading() as session:
            found = queries.record_of_logger(session, self.logger_id, Span())
        return [round(value, 3) for value in found.temp_c.tolist()]


def hourly(begin: datetime, values: list[str]) -> list[str]:
    return [f"{begin + timedelta(hours=n):%Y-%m-%d %H:%M},{value}" for n, value in enumerate(values)]
