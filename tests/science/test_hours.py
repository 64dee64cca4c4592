"""How gaps are filled is judgement; no published rule was found."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.hours import HOUR_SECONDS, Known, fill_gaps, on_shared_hours

FIRST = 490_000  # an hour in 2025
READINGS = st.lists(
    st.tuples(st.integers(FIRST * HOUR_SECONDS, (FIRST + 6) * HOUR_SECONDS - 1), st.floats(-20, 30)),
    min_size=1,
    max_size=40,
)


def a_day_around(gap: int, before: float = 2.0, after: float = 4.0) -> np.ndarray:
    return np.concatenate([np.full(48, before), np.full(gap, np.nan), np.full(48, after)])


def test_readings_become_means_of_whole_hours() -> None:
    seconds = [FIRST * 3600, FIRST * 3600 + 1800, FIRST * 3600 + 3599, (FIRST + 2) * 3600]

    means = on_shared_hours(seconds, [1.0, 2.0, 6.0, 5.0], FIRST, 4)

    assert means[[0, 2]].tolist() == [3.0, 5.0]
    assert np.isnan(means[[1, 3]]).all()


@given(READINGS, st.randoms())
def test_the_order_of_arrival_changes_nothing(readings: list[tuple[int, float]], chance: object) -> None:
    mixed = list(readings)
    chance.shuffle(mixed)
    in_order, in_any = (
        on_shared_hours([at for at, _ in each], [temp for _, temp in each], FIRST, 6)
        for each in (readings, mixed)
    )

    assert np.array_equal(in_order, in_any, equal_nan=True)


@given(READINGS)
def test_more_readings_of_the_same_temperature_change_nothing(readings: list[tuple[int, float]]) -> None:
    seconds = [at for at, _ in readings]
    once = on_shared_hours(sorted(seconds), np.full(len(seconds), 3.5), FIRST, 6)
    thrice = on_shared_hours(seconds * 3, np.full(3 * len(seconds), 3.5), FIRST, 6)

    assert np.array_equal(once, thrice, equal_nan=True)


@pytest.mark.parametrize(
    "gap, known",
    [
        (3, [Known.HELD] * 3),
        (4, [Known.NEIGHBOURS] * 4),
        (48, [Known.NEIGHBOURS] * 48),
        (49, [Known.NOMINAL] * 49),
    ],
)
def test_a_gap_is_filled_by_its_length(gap: int, known: list[Known]) -> None:
    filled = fill_gaps(a_day_around(gap), nominal=6.0)
    expected = {Known.HELD: 2.0, Known.NEIGHBOURS: 3.0, Known.NOMINAL: 6.0}

    assert filled.known[48 : 48 + gap].tolist() == known
    assert filled.values[48 : 48 + gap].tolist() == [expected[each] for each in known]
    assert filled.has_long_gap == (gap > 48)


def test_a_gap_of_hours_takes_the_same_hours_of_the_days_beside_it() -> None:
    days = np.tile(np.arange(24.0), 5)
    days[50:90] = np.nan

    filled = fill_gaps(days)

    assert filled.values.tolist() == np.tile(np.arange(24.0), 5).tolist()
    assert not filled.has_long_gap


def test_without_a_nominal_temperature_a_long_gap_stays_unknown() -> None:
    filled = fill_gaps(a_day_around(60))

    assert np.isnan(filled.values[48:108]).all()
    assert set(filled.known[48:108].tolist()) == {Known.UNKNOWN}
    assert filled.has_long_gap


def test_a_gap_that_is_still_open_holds_three_hours_and_no_more() -> None:
    filled = fill_gaps([5.0, 4.0, *[np.nan] * 6], nominal=3.0)

    assert filled.values.tolist() == [5, 4, 4, 4, 4, 3, 3, 3]


def test_before_the_first_reading_all_is_nominal() -> None:
    filled = fill_gaps([np.nan, np.nan, 4.0], nominal=3.0)

    assert filled.values.tolist() == [3, 3, 4]
    assert filled.known.tolist() == [Known.NOMINAL, Known.NOMINAL, Known.MEASURED]
