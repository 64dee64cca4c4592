"""Gaps, sensors that are stuck, days that repeat themselves, and hours filled by the rules of a record with gaps."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.lib.logged import (
    How,
    fill_hours,
    find_gaps,
    find_repeats,
    find_stuck,
    usual_step,
)
from service.lib.readings import DAY_SECONDS, DRY, Hours, Readings, make_readings

HOUR = 3600


def every(step: int, temps: list[int], decimals: int = 1, begin: int = 0) -> Readings:
    count = len(temps)
    return make_readings(
        [begin + step * n for n in range(count)], temps, [0] * count, [DRY] * count, 0, decimals
    )


def wavy(count: int, seed: int = 1) -> list[int]:
    """A fridge's ups and downs in tenths."""
    chance = np.random.default_rng(seed)
    return [int(value) for value in np.rint(25 + 12 * np.sin(np.arange(count) / 9) + chance.normal(0, 2, count))]  # fmt: skip


def test_a_gap_is_longer_than_three_hours_and_than_usual() -> None:
    at = np.array([0, 1, 2, 3, 4.5, 7.5, 10.6, 11], float) * HOUR

    assert find_gaps(at.astype(np.int64)) == [(int(7.5 * HOUR), int(10.6 * HOUR))]


def test_a_logger_that_writes_twice_a_day_has_no_gaps() -> None:
    assert find_gaps(np.arange(20) * 12 * HOUR) == []
    assert usual_step(np.arange(20) * 12 * HOUR) == 12 * HOUR


def test_a_sensor_that_says_the_same_for_a_day_is_stuck() -> None:
    temps = wavy(100)
    temps[40:66] = [31] * 26

    (stuck,) = find_stuck(every(HOUR, temps))

    assert (stuck.begin, stuck.readings, stuck.temp_c) == (40 * HOUR, 26, 3.1)
    assert stuck.end == 65 * HOUR


def test_humidity_that_moves_says_that_the_sensor_works() -> None:
    count = 60
    readings = make_readings(
        [n * HOUR for n in range(count)], [31] * count, list(range(count)), [0] * count, 0, 1
    )

    assert find_stuck(readings) == []


def test_a_logger_of_whole_degrees_may_say_the_same_for_days_in_a_quiet_cellar() -> None:
    assert find_stuck(every(HOUR, [4] * 24 * 6, decimals=0)) == []
    assert len(find_stuck(every(HOUR, [4] * 24 * 8, decimals=0))) == 1


def test_three_identical_weeks_are_told() -> None:
    week = wavy(7 * 24)

    found = find_repeats(every(HOUR, week * 3))

    assert found == [(7, (7 * DAY_SECONDS, (3 * 7 * 24 - 1) * HOUR))]


def test_a_day_copied_once_is_told() -> None:
    day = wavy(24 * 4, seed=3)

    assert [days for days, _ in find_repeats(every(HOUR // 4, day + day + wavy(200, seed=4)))] == [1]


def test_an_ordinary_month_repeats_nothing() -> None:
    assert find_repeats(every(HOUR // 2, wavy(30 * 48))) == []
    assert find_stuck(every(HOUR // 2, wavy(30 * 48))) == []


# -- hours -------------------------------------------------------------------------------------------------------------


def hours(told: dict[int, float]) -> Hours:
    keys = sorted(told)
    return Hours(np.array(keys), np.array([told[key] for key in keys]), np.full(len(keys), np.nan))


def steady(*spans: tuple[int, int, float]) -> Hours:
    return hours({hour: temp for begin, end, temp in spans for hour in range(begin, end)})


def test_up_to_three_hours_the_last_reading_is_held() -> None:
    filled = fill_hours(steady((0, 24, 2.0), (27, 48, 4.0)), 0, 48)

    assert filled.temp_c[24:27].tolist() == [2.0] * 3
    assert filled.how[24:27].tolist() == [How.HELD] * 3


def test_up_to_two_days_the_days_before_and_after_stand_in() -> None:
    filled = fill_hours(steady((0, 24, 9.0), (24, 48, 2.0), (96, 120, 4.0)), 0, 120)

    assert filled.temp_c[48:96].tolist() == [3.0] * 48
    assert set(filled.how[48:96].tolist()) == {How.FILLED}


def test_a_longer_gap_is_what_the_store_is_set_to_and_else_unknown() -> None:
    record = steady((0, 24, 2.0), (73, 96, 4.0))

    nominal, unknown = fill_hours(record, 0, 96, 3.5), fill_hours(record, 0, 96)

    assert nominal.temp_c[24:73].tolist() == [3.5] * 49
    assert set(nominal.how[24:73].tolist()) == {How.NOMINAL}
    assert np.isnan(unknown.temp_c[24:73]).all()
    assert set(unknown.how[24:73].tolist()) == {How.UNKNOWN}


def test_after_the_last_reading_of_all_it_is_held_for_three_hours_and_no_longer() -> None:
    filled = fill_hours(steady((0, 24, 2.0)), 20, 40)

    assert filled.how.tolist() == [How.MEASURED] * 4 + [How.HELD] * 3 + [How.UNKNOWN] * 13


def test_before_the_first_reading_nothing_is_known() -> None:
    assert set(fill_hours(steady((30, 40, 2.0)), 0, 30).how.tolist()) == {How.UNKNOWN}


@given(
    st.dictionaries(st.integers(0, 400), st.floats(5.0, 30.0), min_size=1, max_size=60),
    st.integers(0, 200), st.integers(0, 200),
)  # fmt: skip
def test_a_gap_is_never_cold(told: dict[int, float], begin: int, length: int) -> None:
    """Whatever is filled in lies between what was measured and what the store is set to, and never below."""
    filled = fill_hours(hours(told), begin, begin + length, nominal_c=6.0)

    known = filled.temp_c[filled.how != How.UNKNOWN]
    assert (known >= min(*told.values(), 6.0) - 1e-9).all()
    assert (known <= max(*told.values(), 6.0) + 1e-9).all()
    assert np.isnan(filled.temp_c[filled.how == How.UNKNOWN]).all()
    for hour, temp in told.items():
        if begin <= hour < begin + length:
            assert filled.temp_c[hour - begin] == pytest.approx(temp)


@given(
    st.dictionaries(st.integers(0, 300), st.floats(-5.0, 30.0), min_size=1, max_size=60),
    st.integers(0, 150), st.integers(0, 150), st.integers(0, 150),
)  # fmt: skip
def test_asking_for_a_part_gives_the_same_hours_as_asking_for_all(
    told: dict[int, float], begin: int, first: int, second: int
) -> None:
    record = hours(told)
    whole = fill_hours(record, begin, begin + first + second, 4.0)
    parts = (
        fill_hours(record, begin, begin + first, 4.0),
        fill_hours(record, begin + first, begin + first + second, 4.0),
    )

    assert np.concatenate([part.how for part in parts]).tolist() == whole.how.tolist()
    assert np.allclose(np.concatenate([part.temp_c for part in parts]), whole.temp_c, equal_nan=True)
