"""A year of five-minute readings of fifty stores: how small it lies, and how quickly a season of it is read."""

from __future__ import annotations

import csv
import io
import time
from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

import numpy as np
import pytest
from sqlalchemy import insert, text
from sqlmodel import select

from service.lib.database import Database
from service.lib.readings import DAY_SECONDS, Readings, make_readings, pack_day, unpack_day
from service.lib.write import Writer
from service.storage import actions, queries, schemas
from service.storage.actions.reading import Planned, write_days
from service.storage.rules import Span, day_of, instant_of
from service.storage.tables import Logger, ReadingDay
from tests.bench.figures import Figures, by_turns, ms
from tests.builders.loggers import make_logger
from tests.builders.storage import make_ground

STORES, DAYS, A_DAY = 50, 365, 288
FIRST = 20_089  # 1 January 2025
SEASON = 150  # days, from December on
LARGEST_MB, MOST_BYTES = 15, 3.0
MOST_OVER_DECODING = 3.0


def a_year(chance: np.random.Generator) -> list[tuple[int, Readings]]:
    """Of a fridge with a thermostat, as a logger of a tenth of a degree and a tenth of a percent writes it."""
    count = DAYS * A_DAY
    along = np.arange(count)
    temp = 2.5 + 1.2 * np.sin(along / 7 + chance.normal(0, 1)) + chance.normal(0, 0.15, count)
    humid = 88 + 5 * np.sin(along / 7) + chance.normal(0, 0.5, count)
    at = FIRST * DAY_SECONDS + along * 300
    whole = (np.rint(each * 10).astype(int).tolist() for each in (temp, humid))
    return list(make_readings(at.tolist(), *whole, [0] * count, 0, 1, 1).days())


def size_of(database: Database) -> int:
    """Of the day rows with their index; on SQLite of the whole file, which holds little else here."""
    with database.reading() as session:
        if database.is_sqlite:
            pages, page = (
                session.execute(text(f"PRAGMA {name}")).scalar_one() for name in ("page_count", "page_size")
            )
            return int(pages) * int(page)
        return int(session.execute(text("SELECT pg_total_relation_size('reading_day')")).scalar_one())


@pytest.fixture
def filled(database: Database) -> list[UUID]:
    chance = np.random.default_rng(7)
    loggers = [uuid4() for _ in range(STORES)]
    years = [a_year(chance) for _ in range(5)]
    with database.writing_session() as session:
        session.add_all(Logger(id=one, name=f"Logger {place}") for place, one in enumerate(loggers))
        session.flush()
        for place, one in enumerate(loggers):
            write_days(session, one, [Planned(day, part, 1) for day, part in years[place % 5]])
        session.commit()
    return loggers


def test_a_year_of_fifty_stores_is_small_and_a_season_is_read_quickly(
    database: Database, filled: list[UUID], figures: Figures, database_kind: str
) -> None:
    size = size_of(database)
    per_reading = size / (STORES * DAYS * A_DAY)
    span = Span(instant_of(FIRST * DAY_SECONDS), instant_of((FIRST + SEASON) * DAY_SECONDS))
    with database.reading() as session:
        blocks = session.exec(
            select(ReadingDay.data).where(ReadingDay.logger_id == filled[3]).order_by(ReadingDay.day).limit(SEASON)  # type: ignore[arg-type]
        ).all()  # fmt: skip

    def bare() -> float:
        began = time.perf_counter()
        for block in blocks:
            unpack_day(block)
        return time.perf_counter() - began

    def hours() -> float:
        with database.reading() as session:
            began = time.perf_counter()
            found = queries.record_of_logger(session, filled[3], span).hours()
            took = time.perf_counter() - began
        assert len(found.hour) == SEASON * 24
        return took

    took = by_turns(9, {"bare": bare, "hours": hours})
    ratio = took["hours"] / took["bare"]
    figures.add(
        f"{STORES} stores, a year, {database_kind}", f"{size / 1e6:.1f} MB", f"{LARGEST_MB} MB", None, f"{per_reading:.2f} bytes a reading"
    )  # fmt: skip
    figures.add(
        f"a season's hourly means, {database_kind}",
        ms(took["hours"]),
        ms(took["bare"]),
        ratio,
        f"<= {MOST_OVER_DECODING}",
    )
    assert per_reading <= MOST_BYTES
    assert size <= LARGEST_MB * 1e6
    assert ratio <= MOST_OVER_DECODING


# -- a file of 250,000 rows ------------------------------------------------------------------------------------------

ROWS = 250_000
MOST_OVER_BARE = 3.0


def big_file() -> bytes:
    chance = np.random.default_rng(11)
    at = datetime(2025, 8, 1, tzinfo=UTC)
    temp = np.rint(25 + 12 * np.sin(np.arange(ROWS) / 70) + chance.normal(0, 2, ROWS)) / 10
    damp = np.rint(880 + 50 * np.sin(np.arange(ROWS) / 70) + chance.normal(0, 5, ROWS)) / 10
    rows = [
        f"{at + timedelta(minutes=n):%Y-%m-%d %H:%M:%S},{t},{h}"
        for n, (t, h) in enumerate(zip(temp, damp, strict=True))
    ]
    return "\n".join(["Time,Temp,RH", *rows]).encode()


def parse_and_write_bare(raw: bytes, database: Database, logger_id: UUID) -> None:
    """What cannot be done without: cells, instants, numbers, blocks, rows. No check of anything."""
    rows = list(csv.reader(io.StringIO(raw.decode())))[1:]
    at = [int(datetime.fromisoformat(row[0] + "+00:00").timestamp()) for row in rows]
    temp = [round(float(row[1]) * 10) for row in rows]
    damp = [round(float(row[2]) * 10) for row in rows]
    days = make_readings(at, temp, damp, bytes(ROWS), 1, 1, 1).days()
    told = [
        {
            "logger_id": logger_id,
            "day": day_of(day),
            "readings": len(part),
            "last_second": int(part.at[-1]),
            "data": pack_day(part),
            "version": 1,
        }
        for day, part in days
    ]
    with database.writing_session() as session:
        session.execute(insert(ReadingDay), told)
        session.commit()


def test_a_file_of_250000_rows_is_taken_in_little_more_than_parsing_and_writing_it(
    database: Database, writer: Writer, figures: Figures, database_kind: str
) -> None:
    ground, raw = make_ground(writer), big_file()
    form = schemas.FileFormSet(time="Time", temp="Temp", humidity="RH", zone="UTC")

    def bare() -> float:
        logger = make_logger(writer, ground)
        began = time.perf_counter()
        parse_and_write_bare(raw, database, logger.id)
        return time.perf_counter() - began

    def taken() -> float:
        logger = make_logger(writer, ground)
        file = writer.write_now(actions.send_file, ground.host, logger.id, uuid4(), "big.csv", raw)
        writer.write_now(actions.set_file_form, ground.host, file.id, form)
        began = time.perf_counter()
        with database.reading() as session:
            prepared = queries.prepare_file(session, file.id, writer.clock.now())
        done = writer.write_now(actions.take_file, ground.host, file.id, schemas.FileTake(), prepared)
        took = time.perf_counter() - began
        assert done.added == ROWS
        return took

    took = by_turns(3, {"bare": bare, "taken": taken})
    ratio = took["taken"] / took["bare"]
    figures.add(
        f"{ROWS:,} rows of a file, {database_kind}",
        ms(took["taken"]),
        ms(took["bare"]),
        ratio,
        f"<= {MOST_OVER_BARE}",
    )
    assert ratio <= MOST_OVER_BARE
