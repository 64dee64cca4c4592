"""A store's temperatures day by day, against what its wood bears, on both databases."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from uuid import UUID

import pytest

from service.lib.database import Database
from service.lib.write import Writer
from service.storage import actions, queries, schemas
from service.storage.rules import (
    ANY_SCIONS,
    AlarmKind,
    DayTemps,
    Excursion,
    Sensor,
    StoreKind,
    StoreLimits,
    days_words,
    limits_for,
    limits_to_draw,
    plan_days,
)
from service.storage.rules.temps import humidity_words, joined_excursions
from tests.builders.loggers import make_logger, send, steady
from tests.builders.storage import Ground, ago, make_ground, make_store
from tests.conftest import TODAY
from tests.infra.statements import Statements
from tests.storage.test_excursions import APPLE

DAY = date(2026, 2, 14)


# The band for fruit and nut scions in general is 0 to 4.4 °C: Auer, Grafting Fruit and Nut Trees (GC-310/311).
def test_each_day_has_its_lowest_and_highest_and_a_gap_stays_one():
    first = DAY - timedelta(days=2)

    days = plan_days([(first, 1.0), (first, 4.4), (first, 2.0)], [(DAY, -1.0, 3.0)], first, DAY, ANY_SCIONS)

    assert days == [
        DayTemps(first, 1.0, 4.4),
        DayTemps(DAY - timedelta(days=1)),
        DayTemps(DAY, -1.0, 3.0, by_hand=True, outside=True),
    ]
    assert (
        days_words(days, ANY_SCIONS) == "From -1.0 to 4.4 °C on 2 of 3 days; 1 of them outside 0 to 4.4 °C."
    )


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_ground(writer)


def test_a_warm_night_is_outside_and_rings_once_and_a_dial_fills_a_day_without_logger(
    database: Database, writer: Writer, ground: Ground, statements: Statements
):
    store = make_store(writer, ground)
    logger = make_logger(writer, ground, store_id=store.id, from_at=ago(days=30))
    warm = ago(days=3)
    readings = [
        schemas.ReadingCreate(at=ago(days=5) + timedelta(hours=hour), temp="3.0" if hour < 48 else "16.5")
        for hour in range(52)
    ]
    writer.write_now(actions.send_readings, ground.host, logger.id, schemas.ReadingBatch(readings=readings))
    dial = schemas.DialReadingCreate(store_id=store.id, now="3", lowest="1", highest="4", read_at=ago(days=1))
    writer.write_now(actions.read_dial, ground.host, dial)

    with database.reading() as session, statements.at_most(11):
        temps = queries.store_temps(session, store.id, TODAY, 14)

    told = {day.day: day for day in temps.days}
    assert len(temps.days) == 14
    assert (told[warm.date()].high_c, told[warm.date()].outside) == (16.5, True)
    assert (told[DAY - timedelta(days=1)].by_hand, told[DAY - timedelta(days=1)].low_c) == (True, 1.0)
    assert told[DAY].low_c is None
    (alarm,) = temps.alarms
    assert (alarm.kind, alarm.extreme_c, alarm.ended_at) == (AlarmKind.HEAT, 16.5, None)


@pytest.fixture
def filled(writer: Writer, ground: Ground):
    """A store with a logger of temperature and humidity over ten days, a reading an hour, three missing on the eleventh."""

    def fill(humidity: bool = True) -> UUID:
        store = make_store(writer, ground, name=f"Fridge, humidity {humidity}")
        logger = make_logger(writer, ground, store_id=store.id, from_at=ago(days=30))
        begin = datetime(2026, 2, 1, tzinfo=UTC)
        told: list[tuple[datetime, object]] = []
        for hour in range(263):
            if hour not in (250, 251, 252):
                temp = "8.0" if 100 <= hour < 105 else "-1.5" if 200 <= hour < 202 else "3.0"
                value = (temp, "85" if 100 <= hour < 105 else "95") if humidity else temp
                told.append((begin + timedelta(hours=hour), value))
        send(writer, ground, logger.id, told)
        return store.id

    return fill


def test_a_few_days_are_told_hour_by_hour_with_gaps_as_gaps(database: Database, filled) -> None:
    """The readings of two of the days: sums done by hand."""
    store_id = filled()

    with database.reading() as session:
        temps = queries.store_temps(session, store_id, TODAY, 2, date(2026, 2, 11))

    told = {hour.at: hour for hour in temps.hours}
    assert len(temps.hours) == 48
    assert temps.from_at == datetime(2026, 2, 10, 23, tzinfo=UTC)  # midnight in Berlin
    assert told[datetime(2026, 2, 11, 9, tzinfo=UTC)].mean_c == 3.0
    assert [told[datetime(2026, 2, 11, 9 + hour, tzinfo=UTC)].low_c for hour in range(5)] == [3.0, None, None, None, 3.0]  # fmt: skip
    assert told[datetime(2026, 2, 12, tzinfo=UTC)].mean_c is None
    assert (temps.days[0].low_c, temps.days[1].low_c, len(temps.days)) == (3.0, None, 2)


def test_the_mean_of_an_hour_is_that_of_its_readings(
    database: Database, writer: Writer, ground: Ground
) -> None:
    store = make_store(writer, ground)
    logger = make_logger(writer, ground, store_id=store.id, from_at=ago(days=30))
    at = datetime(2026, 2, 13, 12, tzinfo=UTC)
    values = [(at, ("1", "80")), (at + timedelta(minutes=20), ("2", "90")), (at + timedelta(minutes=40), "6")]
    send(writer, ground, logger.id, values)

    with database.reading() as session:
        temps = queries.store_temps(session, store.id, TODAY, 7)

    (hour,) = [one for one in temps.hours if one.mean_c is not None]
    assert (hour.at, hour.low_c, hour.mean_c, hour.high_c, hour.outside) == (at, 1.0, 3.0, 6.0, True)
    assert (hour.humidity_low_pct, hour.humidity_high_pct) == (80.0, 90.0)
    assert len(temps.hours) == 6 * 24 + 11  # the hour that runs is the last


def test_each_stretch_beyond_is_told_on_the_warm_and_on_the_cold_side(database: Database, filled) -> None:
    """The band of an empty store is that for scions in general, 0 to 4.4 °C: Auer (GC-310/311)."""
    store_id = filled()

    with database.reading() as session:
        whole, part = (
            queries.store_temps(session, store_id, TODAY, days, date(2026, 2, 1)) for days in (14, 5)
        )

    told = [(one.began_at, one.hours, one.extreme_c, one.above) for one in whole.excursions]
    assert told == [
        (datetime(2026, 2, 5, 4, tzinfo=UTC), 5.0, 8.0, True),
        (datetime(2026, 2, 9, 8, tzinfo=UTC), 2.0, -1.5, False),
    ]
    assert whole.excursion_words == "Above 4.4 °C once, 5 hours in all; below 0 °C once, 2 hours in all."
    assert part.excursion_words == "Above 4.4 °C once, 5 hours in all; below 0 °C never for an hour."
    assert part.excursions_in_all == 1


def test_what_two_loggers_tell_of_one_stretch_is_one() -> None:
    first = Excursion(0, 7200, True, 2.0, 6.0, above=True)
    later = Excursion(3600, 10800, True, 2.0, 7.5, above=True)
    cold = Excursion(3600, 7200, True, 1.0, -2.0, above=False)

    assert joined_excursions([later, cold, first]) == [Excursion(0, 10800, True, 3.0, 7.5, above=True), cold]


def test_humidity_is_held_against_the_least_that_the_wood_wants_in_its_pack(
    database: Database, filled
) -> None:
    """90 % inside the pack: common practice, no source, as the table of limits says for all groups."""
    store_id, dry = filled(), filled(humidity=False)
    limits = limits_for([replace(APPLE, humidity_min_pct=90, humidity_mark="common practice, no source")])

    with database.reading() as session:
        temps = queries.store_temps(session, store_id, TODAY, 14)
        none = queries.store_temps(session, dry, TODAY, 14)

    assert temps.humidity_of is Sensor.AIR
    assert temps.humidity_words == "Humidity in the store’s air from 85 to 95 % on 11 of 14 days."
    assert (none.humidity_of, none.humidity_words) == (None, "")
    assert (limits.humidity_min_pct, limits.humidity_mark) == (90, "common practice, no source")
    days = [DayTemps(**day.model_dump()) for day in temps.days]
    held = plan_days([], [], days[0].day, days[-1].day, limits, [(DAY, 95.0), (DAY, 85.0)])
    assert (held[-1].dry, held[-1].humidity_low_pct, held[-2].dry) == (True, 85.0, False)
    assert humidity_words(held, Sensor.PACK, limits).endswith("on 1 of 14 days; 1 of them below 90 %.")


def test_a_humidity_inside_a_pack_goes_before_that_of_the_air(
    database: Database, writer: Writer, ground: Ground
) -> None:
    store = make_store(writer, ground)
    for sensor, damp in ((Sensor.AIR, "60"), (Sensor.PACK, "97")):
        logger = make_logger(writer, ground, store_id=store.id, sensor=sensor, from_at=ago(days=30))
        send(writer, ground, logger.id, steady(ago(days=2), 5, ("3.0", damp)))

    with database.reading() as session:
        temps = queries.store_temps(session, store.id, TODAY, 7)

    assert temps.humidity_of is Sensor.PACK
    assert {day.humidity_low_pct for day in temps.days} == {None, 97.0}


def test_heat_that_gathered_before_the_days_shown_still_rings(
    database: Database, writer: Writer, ground: Ground
) -> None:
    """10 °C for 10 hours within 7 days rings (judgement, see `rules/excursions.py`)."""
    store = make_store(writer, ground)
    logger = make_logger(writer, ground, store_id=store.id, from_at=ago(days=30))
    begin = datetime(2026, 2, 8, 12, tzinfo=UTC)
    told = [(begin + timedelta(hours=h), "11" if 7 <= h < 18 else "3") for h in range(40)]
    send(writer, ground, logger.id, told)

    with database.reading() as session:
        on, after, before = (
            queries.store_temps(session, store.id, TODAY, 1, date(2026, 2, day)) for day in (9, 11, 7)
        )

    assert [alarm.began_at for alarm in on.alarms] == [begin + timedelta(hours=7)]
    assert (after.alarms, before.alarms) == ([], [])


def test_where_kinds_disagree_the_picture_is_held_against_what_suits_scions_in_general() -> None:
    """Source of the general band: Auer, Grafting Fruit and Nut Trees (GC-310/311): 32-40 °F."""
    apart, together = StoreLimits(1.0, 1.0, -2.0, ("fig", "cherry_sweet")), StoreLimits(0.0, 2.0, -5.0)

    drawn = limits_to_draw(apart, StoreKind.FRIDGE)

    assert (drawn.low_c, drawn.high_c, drawn.freezing_c) == (0.0, 4.4, -2.0)
    assert limits_to_draw(together, StoreKind.COLD_ROOM) is together
    assert limits_to_draw(together, StoreKind.FRIDGE).high_c == 4.4  # no fridge keeps it at 2 °C


@pytest.mark.parametrize(
    "low, high, kind, drawn",
    [
        (-1.0, 2.0, StoreKind.FRIDGE, (0.0, 4.4)),
        (-1.0, 2.0, StoreKind.COLD_ROOM, (-1.0, 2.0)),
        (-1.0, 1.0, StoreKind.FRIDGE, (0.0, 4.4)),  # a degree is too narrow for any fridge
        (1.0, 5.0, StoreKind.FRIDGE, (1.0, 5.0)),
    ],
)
def test_a_household_fridge_is_not_held_against_limits_below_freezing(low, high, kind, drawn) -> None:
    """Sour cherry is kept at -1 to 2 °C (judgement); no household fridge holds that without freezing at its back."""
    found = limits_to_draw(StoreLimits(low, high, -5.0, mark="judgement"), kind)

    assert (found.low_c, found.high_c) == drawn
    assert ("not below 0 °C in a fridge" in found.mark) is (drawn == (0.0, 2.0))
