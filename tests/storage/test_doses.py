"""The hours of a store that wood ages by: kept a day a row, whatever came first, and only what changed is rewritten."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlmodel import select

from service.lib.jobs import Job, TryLater
from service.lib.readings import DAY_SECONDS, HOUR_SECONDS, Hours
from service.science.hours import fill_gaps
from service.storage import actions, schemas
from service.storage.actions.dosing import record_days
from service.storage.queries.doses import days_of_stores, see_days
from service.storage.rules.doses import Basis, DayHours, days_of_store, pack_hours, run_of, unpack_hours
from service.storage.tables import StoreDay, StoreRecord
from tests.builders.garage import Garage
from tests.builders.loggers import make_logger, send, steady
from tests.builders.storage import ago, make_box, make_store, put

MORNING = ago(days=30).replace(hour=0)


@pytest.fixture
def garage(database, writer, clock):
    return Garage(database, writer, clock)


def days(garage, store_id):
    with garage.database.reading() as session:
        rows = session.exec(select(StoreDay).where(StoreDay.store_id == store_id)).all()
    return {row.day: (row.measured, row.data) for row in rows}


def hours(garage, store_id=None, begin=MORNING, count=72, assumed=5.0):
    first = int(begin.timestamp()) // 3600
    store_id = store_id or garage.store.id
    with garage.database.reading() as session:
        kept = days_of_stores(session, [store_id], first, first + count).get(store_id, {})
    return run_of(kept, first, first + count, assumed)


some = st.floats(-10, 30).map(lambda value: round(value, 2))


@given(
    temps=st.lists(st.one_of(st.none(), some), min_size=24, max_size=24 * 6),
    dials=st.lists(st.tuples(st.integers(-100, 400), some), max_size=3, unique_by=lambda one: one[0]),
    data=st.data(),
)
@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_order_splitting_and_repeats_change_nothing(garage, temps, dials, data):
    readings = [(MORNING + timedelta(hours=n), value) for n, value in enumerate(temps) if value is not None]
    order = data.draw(st.permutations(range(len(readings)))) if readings else []
    cuts = sorted(data.draw(st.lists(st.integers(0, len(order)), max_size=4)))
    parts = [order[a:b] for a, b in zip([0, *cuts], [*cuts, len(order)], strict=True)]
    twice = [*parts, *parts[:1]]
    stores = [make_store(garage.writer, garage.ground, name=f"Fridge {uuid4().hex}") for _ in range(2)]
    loggers = [
        make_logger(garage.writer, garage.ground, store_id=one.id, from_at=ago(days=90)).id for one in stores
    ]

    def read(store, at, value):
        body = schemas.DialReadingCreate(
            store_id=store.id, sure=True, now=str(value), read_at=MORNING + timedelta(hours=at)
        )
        garage.writer.write_now(actions.read_dial, garage.ground.host, body)

    garage.work()
    for at, value in dials:
        read(stores[0], at, value)
    if readings:
        send(garage.writer, garage.ground, loggers[0], readings)
    garage.work()
    for part in twice:
        if part:
            send(garage.writer, garage.ground, loggers[1], [readings[n] for n in part])
            garage.work()
    for at, value in reversed(dials):
        read(stores[1], at, value)
        garage.work()

    assert days(garage, stores[1].id) == days(garage, stores[0].id)
    assert bool(days(garage, stores[0].id)) == bool(readings or dials)


def test_a_late_reading_rewrites_only_the_days_that_rest_on_it(garage):
    logger = garage.logger()
    begin = ago(days=30)
    garage.send(logger, steady(begin, 24 * 10, 3.0), steady(begin + timedelta(days=11), 24 * 15, 3.0))
    before = days(garage, garage.store.id)
    late = begin + timedelta(days=10, hours=5)

    send(garage.writer, garage.ground, logger, [(late, 9.0)])
    with garage.database.reading() as session:
        seen = see_days(session, garage.store.id)
    garage.work()

    after = days(garage, garage.store.id)
    assert set(seen.changed) == {day for day in after if after[day] != before.get(day)}
    assert late.date() in seen.changed
    assert set(seen.changed) <= {late.date() + timedelta(days=n) for n in (-1, 0, 1)}
    assert not seen.gone


def test_readings_that_are_taken_back_take_their_days_along(garage):
    logger = garage.logger()
    garage.send(logger, steady(ago(days=3), 24, 3.0))
    assert days(garage, garage.store.id)

    garage.writer.write_now(
        actions.leave_out, garage.ground.host, logger,
        schemas.LeftOutCreate(from_at=ago(days=4), until_at=ago(), why="it lay on the table"),
    )  # fmt: skip
    garage.work()

    assert days(garage, garage.store.id) == {}


def test_a_gap_is_never_cold(garage):
    """viability_model: up to 3 hours held, up to 48 the days before and after, longer what a dial says, else assumed."""
    logger = garage.logger()
    told = [(MORNING + timedelta(hours=n), 2.0) for n in range(24) if n not in {5, 6}]
    told += [(MORNING + timedelta(hours=n), 8.0) for n in range(48, 72)]
    garage.send(logger, told)

    found = hours(garage, count=24 * 20)

    assert set(found.temp_c[:24]) == {2.0}
    assert found.known[5] == found.known[6] == Basis.HELD
    assert set(found.temp_c[24:48]) == {5.0}  # between 2 and 8
    assert set(found.known[24:48]) == {Basis.NEIGHBOURS}
    assert set(found.known[72:75]) == {Basis.HELD}
    assert (found.temp_c[75:] == 5.0).all()
    assert (found.known[75:] == Basis.ASSUMED).all()


def test_a_dial_stands_for_a_week_either_way_and_never_before_a_logger(garage):
    garage.send(garage.logger(), steady(MORNING, 24, 2.0))
    garage.dial(now="7", read_at=MORNING + timedelta(hours=30))

    found = hours(garage, count=24 * 12)

    assert set(found.temp_c[:24]) == {2.0}
    assert set(found.temp_c[24 : 30 + 24 * 7 + 1]) == {7.0}
    assert set(found.known[24 : 30 + 24 * 7 + 1]) == {Basis.BY_HAND}
    assert set(found.known[30 + 24 * 7 + 1 :]) == {Basis.ASSUMED}


def test_of_two_dials_each_hour_takes_the_nearer_and_between_them_the_later():
    midnight = 20_000 * DAY_SECONDS
    found = days_of_store([], [(midnight, 4.0), (midnight + 10 * HOUR_SECONDS, 8.0)])

    assert found[20_000].temp_c[:11].tolist() == [4.0] * 5 + [8.0] * 6


def test_of_two_loggers_each_hour_is_the_mean(garage):
    for value in (2.0, 5.0):
        garage.send(garage.logger(), steady(MORNING, 24, value))

    assert set(hours(garage, count=24).temp_c) == {3.5}


def test_who_saw_less_than_stands_begins_anew_and_nothing_is_lost(garage):
    logger = garage.logger()
    garage.send(logger, steady(ago(days=3), 24, 3.0))
    with garage.database.reading() as session:
        kept = session.exec(select(StoreRecord)).one()
    assert kept.version == 1
    send(garage.writer, garage.ground, logger, steady(ago(days=2), 24, 3.0))
    with garage.database.reading() as session:
        slow = see_days(session, garage.store.id)
    garage.work()  # another was faster

    with pytest.raises(TryLater):
        garage.writer.write_now(lambda session: record_days(session, slow), None)
    assert len(days(garage, garage.store.id)) >= 2


@given(
    values=st.lists(st.one_of(st.none(), some), min_size=1, max_size=24 * 8).filter(
        lambda told: told[-1] is not None and told[0] is not None
    )
)
def test_a_day_is_filled_as_the_science_fills_the_whole_record(values):
    told = np.array([np.nan if value is None else value for value in values])
    at = np.flatnonzero(~np.isnan(told))
    found = days_of_store([Hours(at, told[at], np.full(len(at), np.nan))], [])

    whole = fill_gaps(told)
    run = run_of(found, 0, len(values), -99.0)
    known = whole.known < 3
    np.testing.assert_allclose(run.temp_c[known], whole.values[known], atol=0.0051)
    assert (run.temp_c[~known] == -99.0).all()


@given(
    st.lists(st.one_of(st.just(float("nan")), st.floats(-60, 60)), min_size=24, max_size=24),
    st.lists(st.integers(0, 4), min_size=24, max_size=24),
)
def test_a_packed_day_comes_back(temps, known):
    day = DayHours(np.array(temps), np.abs(np.array(temps)), np.array(known, np.uint8))

    back = unpack_hours(pack_hours(day))

    np.testing.assert_allclose(back.temp_c, day.temp_c, atol=0.0006)
    np.testing.assert_allclose(back.humidity, day.humidity, atol=0.006)
    assert (back.known == day.known).all()


# -- a logger's place told anew ------------------------------------------------------------------------------------------


def test_a_place_told_again_for_the_same_instant_takes_the_hours_from_the_wrong_store(garage):
    logger, other = garage.logger(), make_store(garage.writer, garage.ground, name="The right fridge")
    garage.send(logger, steady(ago(days=3), 24, 9.0))
    wrong = days(garage, garage.store.id)
    body = schemas.LoggerMoveCreate(store_id=other.id, from_at=ago(days=90))

    garage.writer.write_now(actions.hang_logger, garage.ground.host, logger, body)
    garage.work()

    assert wrong
    assert (days(garage, garage.store.id), days(garage, other.id)) == ({}, wrong)


def test_a_logger_goes_with_its_box_and_takes_its_hours_along(garage):
    box, other = (
        make_box(garage.writer, garage.ground),
        make_store(garage.writer, garage.ground, name="Cellar"),
    )
    logger = make_logger(garage.writer, garage.ground, box_id=box.id, from_at=ago(days=90)).id
    put(
        garage.writer,
        garage.ground.host,
        {"box_id": box.id, "store_id": garage.store.id, "done_at": ago(days=80)},
    )
    garage.send(logger, steady(ago(days=3), 24, 4.0))
    before = days(garage, garage.store.id)

    put(garage.writer, garage.ground.host, {"box_id": box.id, "store_id": other.id, "done_at": ago(days=80)})
    garage.work()

    assert before
    assert (days(garage, garage.store.id), days(garage, other.id)) == ({}, before)


def test_a_box_without_a_logger_asks_for_no_look(garage):
    garage.work()
    box = make_box(garage.writer, garage.ground)
    put(garage.writer, garage.ground.host, {"box_id": box.id, "store_id": garage.store.id})

    with garage.database.reading() as session:
        assert session.exec(select(Job)).all() == []


# -- in the air and in a pack --------------------------------------------------------------------------------------------


def test_a_logger_in_a_pack_stands_for_the_hours_in_which_nothing_hangs_in_the_air(garage):
    pack = make_logger(
        garage.writer, garage.ground, store_id=garage.store.id, sensor="pack", from_at=ago(days=90)
    ).id
    garage.send(pack, steady(MORNING, 72, 2.0))
    garage.send(garage.logger(), steady(MORNING + timedelta(hours=24), 24, 5.0))

    found = hours(garage, count=72)

    assert found.temp_c.tolist() == [2.0] * 24 + [5.0] * 24 + [2.0] * 24
    assert set(found.known) == {0}
