"""A store's temperatures day by day, against what its wood bears, on both databases."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from service.lib.database import Database
from service.lib.write import Writer
from service.storage import actions, queries, schemas
from service.storage.rules import (
    ANY_SCIONS,
    AlarmKind,
    DayTemps,
    StoreKind,
    StoreLimits,
    days_words,
    limits_to_draw,
    plan_days,
)
from tests.builders.loggers import make_logger
from tests.builders.storage import Ground, ago, make_ground, make_store
from tests.conftest import TODAY
from tests.infra.statements import Statements

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


def test_where_kinds_disagree_the_picture_is_held_against_what_suits_scions_in_general() -> None:
    """Source of the general band: Auer, Grafting Fruit and Nut Trees (GC-310/311): 32-40 °F."""
    apart, together = StoreLimits(1.0, 1.0, -2.0, ("fig", "cherry_sweet")), StoreLimits(0.0, 2.0, -5.0)

    drawn = limits_to_draw(apart, StoreKind.FRIDGE)

    assert (drawn.low_c, drawn.high_c, drawn.freezing_c) == (0.0, 4.4, -2.0)
    assert limits_to_draw(together, StoreKind.FRIDGE) is together


@pytest.mark.parametrize(
    "low, high, kind, drawn",
    [
        (-1.0, 2.0, StoreKind.FRIDGE, (0.0, 2.0)),
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
