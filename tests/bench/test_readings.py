"""A year of five-minute readings of fifty stores: how small it lies, and how quickly a season of it is read."""

from __future__ import annotations

import time
from uuid import UUID, uuid4

import numpy as np
import pytest
from sqlalchemy import text
from sqlmodel import select

from service.lib.database import Database
from service.lib.readings import DAY_SECONDS, Readings, make_readings, unpack_day
from service.storage import queries
from service.storage.actions.reading import Planned, write_days
from service.storage.queries.readings import instant_of
from service.storage.rules import Span
from service.storage.tables import Logger, ReadingDay
from tests.bench.figures import Figures, by_turns, ms

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
