"""Readings on both databases: exactly as they came, once however often they come, whole or not at all."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from sqlmodel import select

from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.write import Writer
from service.storage import actions, queries
from service.storage.queries.readings import read_readings
from service.storage.routes import router
from service.storage.rules import (
    ImpossibleReading,
    LoggerRetired,
    NoSuchLogger,
    ReadingsDiffer,
    Span,
    TempUnit,
    WhereDiffering,
)
from service.storage.schemas import LoggerRead, LoggerUpdate, ReadingRead, ReadingsTaken
from service.storage.tables import ReadingDay
from tests.builders.loggers import batch, make_logger, send, steady
from tests.builders.storage import Ground, ago, make_ground, make_store
from tests.conftest import TODAY
from tests.infra.statements import Statements
from tests.storage.desk import Desk

NOON = datetime(2026, 2, 1, 12, tzinfo=UTC)


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_ground(writer)


@pytest.fixture
def logger(writer: Writer, ground: Ground) -> LoggerRead:
    return make_logger(writer, ground, "Grey logger")


def all_of(database: Database, logger: LoggerRead) -> list[ReadingRead]:
    with database.reading() as session:
        return read_readings(queries.readings_of_logger(session, logger.id, Span()))


def test_a_reading_comes_back_digit_by_digit(
    writer: Writer, ground: Ground, logger: LoggerRead, database: Database
):
    send(writer, ground, logger.id, [(NOON, ("3.40", "91.2")), (NOON + timedelta(minutes=5), "-0.0625")])
    send(writer, ground, logger.id, [(NOON + timedelta(minutes=10), "38.1")], unit=TempUnit.F)

    found = all_of(database, logger)

    assert [(one.temp, one.unit, one.humidity) for one in found] == [
        (Decimal("3.40"), "C", Decimal("91.2")), (Decimal("-0.0625"), "C", None), (Decimal("38.1"), "F", None),
    ]  # fmt: skip


def test_an_instant_is_the_same_in_whatever_zone_it_was_told_and_kept_to_the_second(
    writer: Writer, ground: Ground, logger: LoggerRead, database: Database
):
    berlin = datetime.fromisoformat("2026-02-01T13:00:00.750+01:00")

    send(writer, ground, logger.id, [(NOON, "3.4")])
    again = send(writer, ground, logger.id, [(berlin, "3.4")])

    assert (again.added, again.same) == (0, 1)
    assert [one.at for one in all_of(database, logger)] == [NOON]


def test_the_same_batch_again_adds_nothing_and_writes_nothing(
    writer: Writer, ground: Ground, logger: LoggerRead, database: Database
):
    told = steady(ago(days=3), 70, "2.1")
    first = send(writer, ground, logger.id, told)
    again = send(writer, ground, logger.id, reversed(told))

    with database.reading() as session:
        versions = set(session.exec(select(ReadingDay.version)).all())
    assert (first.added, first.same, again.added, again.same) == (70, 0, 0, 70)
    assert versions == {1}


def test_late_readings_go_into_their_days_row(
    writer: Writer, ground: Ground, logger: LoggerRead, database: Database
):
    hours = steady(NOON, 12, "2.1")

    for part in (hours[6:], hours[:3], hours[3:6]):
        send(writer, ground, logger.id, part)

    with database.reading() as session:
        (day,) = session.exec(select(ReadingDay)).all()
    assert (day.readings, day.version) == (12, 3)
    assert [one.at for one in all_of(database, logger)] == [at for at, _ in hours]


def test_another_value_for_the_same_instant_is_refused_by_name_and_nothing_is_written(
    writer: Writer, ground: Ground, logger: LoggerRead, database: Database
):
    send(writer, ground, logger.id, [(NOON, ("3.4", "90"))])

    with pytest.raises(ReadingsDiffer) as refused:
        send(writer, ground, logger.id, [(NOON - timedelta(hours=1), "3.0"), (NOON, "3.5")])

    assert refused.value.facts["rows"] == ["1 February 2026, 12:00 UTC: 3.5 °C, where 3.4 °C at 90 % stands"]
    assert len(all_of(database, logger)) == 1


def test_what_stands_is_kept_or_replaced_where_somebody_says_so(
    writer: Writer, ground: Ground, logger: LoggerRead, database: Database
):
    send(writer, ground, logger.id, [(NOON, "3.4"), (NOON + timedelta(hours=1), "3.4")])
    other = [(NOON, "9.9"), (NOON + timedelta(hours=2), "3.5")]

    kept = send(writer, ground, logger.id, other, where_differing=WhereDiffering.KEEP)
    after_kept = [one.temp for one in all_of(database, logger)]
    put = send(writer, ground, logger.id, other, where_differing=WhereDiffering.REPLACE)

    assert kept == ReadingsTaken(added=1, same=0, passed_over=1)
    assert after_kept == [Decimal("3.4"), Decimal("3.4"), Decimal("3.5")]
    assert put == ReadingsTaken(added=0, same=1, replaced=1)
    assert [one.temp for one in all_of(database, logger)] == [Decimal("9.9"), Decimal("3.4"), Decimal("3.5")]


@pytest.mark.parametrize("mode", [WhereDiffering.REFUSE, WhereDiffering.REPLACE])
def test_a_batch_that_contradicts_itself_is_refused(
    writer: Writer, ground: Ground, logger: LoggerRead, database: Database, mode: WhereDiffering
):
    with pytest.raises(ReadingsDiffer):
        send(writer, ground, logger.id, [(NOON, "3.4"), (NOON, "3.6")], where_differing=mode)

    assert all_of(database, logger) == []


@pytest.mark.parametrize(
    "value, unit, says",
    [
        ("400", TempUnit.C, "400 is no temperature of a store"), ("275.2", TempUnit.C, "275.2 looks like kelvin"),
        ("-274", TempUnit.C, "no temperature"), ("275.2", TempUnit.F, "looks like kelvin"), (("3.4", "140"), TempUnit.C, "no humidity"),
        (("3.4", "-1"), TempUnit.C, "no humidity"),
    ],
    ids=["400 degrees", "kelvin", "below absolute zero", "kelvin as fahrenheit", "too humid", "less than dry"],
)  # fmt: skip
def test_what_cannot_be_true_is_refused_by_name(
    writer: Writer, ground: Ground, logger: LoggerRead, database: Database, value: object, unit: TempUnit, says: str
):  # fmt: skip
    with pytest.raises(ImpossibleReading) as refused:
        send(writer, ground, logger.id, [(NOON, "35.0"), (NOON + timedelta(hours=1), value)], unit=unit)

    assert says in str(refused.value)
    assert refused.value.facts["rows"][0].startswith("1 February 2026, 13:00 UTC: ")
    assert all_of(database, logger) == []


def test_readings_from_the_future_are_refused(writer: Writer, ground: Ground, logger: LoggerRead):
    with pytest.raises(ImpossibleReading, match="has not come yet"):
        send(writer, ground, logger.id, [(TODAY + timedelta(minutes=11), "3.4")])
    assert send(writer, ground, logger.id, [(TODAY + timedelta(minutes=9), "3.4")]).added == 1


def test_a_logger_that_is_no_longer_used_takes_nothing(writer: Writer, ground: Ground, logger: LoggerRead):
    writer.write_now(actions.change_logger, ground.host, logger.id, 1, LoggerUpdate(retired=True))

    with pytest.raises(LoggerRetired):
        send(writer, ground, logger.id, [(NOON, "3.4")])
    with pytest.raises(NoSuchLogger):
        send(writer, ground, ground.tree_id, [(NOON, "3.4")])


def test_two_programs_at_once_lose_nothing(
    writer: Writer, ground: Ground, logger: LoggerRead, database: Database
):
    """Interleaved readings of the same days, from many threads at the same moment."""
    parts = [steady(ago(days=6) + timedelta(minutes=n), 48, "2.0", 30) for n in range(8)]
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda part: send(writer, ground, logger.id, part), parts * 2))

    assert len(all_of(database, logger)) == sum(len(part) for part in parts)


def test_a_batch_costs_the_same_however_large(
    writer: Writer, ground: Ground, logger: LoggerRead, statements: Statements
):
    small, large = batch(steady(ago(days=9), 2, "2.0")), batch(steady(ago(days=8), 180, "2.0"))
    with statements.at_most(5):  # one of them reads what stands around it
        writer.write_now(actions.send_readings, ground.host, logger.id, small)
    with statements.at_most(5):  # one of them reads what stands around it
        writer.write_now(actions.send_readings, ground.host, logger.id, large)


# -- over HTTP ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def desk(database: Database, writer: Writer, clock: FixedClock, ground: Ground) -> Desk:
    return Desk(database, writer, clock, router)


def test_a_program_sends_and_a_host_reads(desk: Desk, writer: Writer, ground: Ground):
    store = make_store(writer, ground)
    made = desk.post(
        "host",
        "/api/loggers",
        {"name": "Probe", "store_id": str(store.id), "from_at": "2026-02-01T00:00:00Z"},
    )
    path = f"/api/loggers/{made.json()['id']}"
    body = {
        "unit": "F",
        "readings": [
            {"at": f"2026-02-10T{hour:02}:{minute:02}:00+01:00", "temp": 35.6, "humidity": 91}
            for hour in (8, 9)
            for minute in (0, 30)
        ],
    }

    sent = [desk.ask("host", "PUT", f"{path}/readings", json=body) for _ in range(2)]

    span = {"from_at": "2026-02-10T00:00:00Z", "until_at": "2026-02-11T00:00:00Z"}
    raw = desk.get("host", f"{path}/readings", params=span).json()
    hours = desk.get("host", f"{path}/hours", params=span).json()
    in_store = desk.get("host", f"/api/stores/{store.id}/hours", params=span).json()
    assert [(answer.status_code, answer.json()["added"]) for answer in sent] == [(200, 4), (200, 0)]
    assert raw[0] == {"at": "2026-02-10T07:00:00Z", "temp": "35.6", "unit": "F", "humidity": "91"}
    assert hours == [
        {"at": "2026-02-10T07:00:00Z", "temp_c": 2.0, "humidity": 91.0},
        {"at": "2026-02-10T08:00:00Z", "temp_c": 2.0, "humidity": 91.0},
    ]
    assert [(one["name"], one["sensor"], one["hours"]) for one in in_store] == [("Probe", "air", hours)]


@pytest.mark.parametrize(
    "reading",
    [
        {"at": "2026-02-10T07:00:00", "temp": 3}, {"at": 1770000000, "temp": 3}, {"at": "2026-02-10T07:00:00Z", "temp": "warm"},
        {"at": "2026-02-10T07:00:00Z"}, {"at": "2026-02-10T07:00:00Z", "temp": "NaN"}, {"at": "2026-02-10T07:00:00Z", "temp": 1e30},
    ],
    ids=["no zone", "a bare number for a time", "a word", "no temperature", "not a number", "beyond all bounds"],
)  # fmt: skip
def test_a_reading_of_another_shape_is_refused(desk: Desk, logger: LoggerRead, reading: dict[str, object]):
    answer = desk.ask("host", "PUT", f"/api/loggers/{logger.id}/readings", json={"readings": [reading]})

    assert answer.status_code == 422


def test_a_months_readings_are_the_most_to_be_asked_for_at_once(desk: Desk, logger: LoggerRead):
    span = {"from_at": "2026-01-01T00:00:00Z", "until_at": "2026-02-10T00:00:00Z"}
    back = {"from_at": "2026-01-02T00:00:00Z", "until_at": "2026-01-01T00:00:00Z"}

    assert desk.get("host", f"/api/loggers/{logger.id}/readings", params=span).status_code == 422
    assert desk.get("host", f"/api/loggers/{logger.id}/hours", params=back).status_code == 422


# -- what a program sends is taken, and doubted --------------------------------------------------------------------------


def lively(begin: datetime, hours: int, around: float = 3.0) -> list[tuple[datetime, object]]:
    """A sensor that shows its own noise, and no day like another."""
    return [
        (begin + timedelta(hours=hour), round(around + (hour * hour * 7 % 11 - 5) / 10, 1))
        for hour in range(hours)
    ]


def test_readings_that_may_be_fahrenheit_are_taken_and_doubted(
    writer: Writer, ground: Ground, logger: LoggerRead
) -> None:
    """38.2 °F are 3.4 °C, by the definition of the degree Fahrenheit."""
    told = [(NOON + timedelta(hours=hour), "38.0" if hour % 2 else "38.4") for hour in range(24)]

    taken = send(writer, ground, logger.id, told)

    assert taken.added == 24
    assert any("3.4 °C if it is written in °F" in one for one in taken.doubts)


def test_a_stuck_sensor_is_told_also_where_each_batch_brings_one_reading(
    writer: Writer, ground: Ground, logger: LoggerRead
) -> None:
    send(writer, ground, logger.id, steady(NOON, 30, "3.2"))

    taken = send(writer, ground, logger.id, [(NOON + timedelta(hours=30), "3.2")])

    (doubt,) = taken.doubts
    assert doubt.startswith("31 readings of 3.2 °C, one like the other, from 1 February 2026, 12:00 UTC")


def test_a_day_that_says_what_the_day_before_said_is_told(
    writer: Writer, ground: Ground, logger: LoggerRead
) -> None:
    first = lively(NOON, 24)
    send(writer, ground, logger.id, first)

    taken = send(writer, ground, logger.id, [(at + timedelta(days=1), value) for at, value in first])

    assert [one.partition(" each reading")[0] for one in taken.doubts] == [
        "From 2 February 2026 to 3 February 2026"
    ]


def test_of_sound_readings_nothing_is_doubted(writer: Writer, ground: Ground, logger: LoggerRead) -> None:
    assert send(writer, ground, logger.id, lively(NOON, 120)).doubts == []
    assert send(writer, ground, logger.id, steady(NOON + timedelta(days=7), 8, "3.2")).doubts == []
    fahrenheit = lively(NOON + timedelta(days=10), 24, 38.2)
    assert send(writer, ground, logger.id, fahrenheit, unit=TempUnit.F).doubts == []
