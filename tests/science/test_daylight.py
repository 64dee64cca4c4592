"""Sources: FAO Irrigation and Drainage Paper 56, chapter 3, example 9 (printed), and the same example with more digits as
the NCAR Command Language documents its function daylight_fao56; the vignette 'hourly temperatures' of the R package chillR
0.77 (printed)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.daylight import day_length, hourly_temperatures, sun_times

# Lowest and highest at 50.4° N on 1, 2 and 3 January 1998.
THREE_DAYS = ([5.1, 5.0, 3.3], [8.2, 9.1, 10.4])
PRINTED = {
    (0, 19): 6.424223, (0, 20): 6.203183, (0, 21): 6.022917, (0, 22): 5.870701, (0, 23): 5.738969, (1, 0): 5.574983,
    (1, 1): 5.468975, (1, 2): 5.373123, (1, 3): 5.28565, (1, 4): 5.205208, (1, 5): 5.13075,
}  # fmt: skip


def test_the_third_of_september_at_20_south_has_11_7_hours_as_fao_56_prints() -> None:
    assert round(float(day_length(-20, 246)), 1) == 11.7
    assert float(day_length(-20, 246)) == pytest.approx(11.66559, abs=1e-5)


@pytest.mark.parametrize(
    "latitude, day, hours", [(50.4, 15, 8.467149), (50.5, 1, 8.074373), (50.5, 6, 8.176486)]
)
def test_the_day_from_rim_to_rim_is_as_long_as_printed(latitude: float, day: int, hours: float) -> None:
    assert float(sun_times(latitude, day).day_h) == pytest.approx(hours, abs=1e-6)


def test_sunrise_and_sunset_are_as_printed() -> None:
    sun = sun_times(50.4, 15)

    assert float(sun.sunrise_h) == pytest.approx(7.766425, abs=1e-6)
    assert float(sun.sunset_h) == pytest.approx(16.23357, abs=1e-5)


@pytest.mark.parametrize("latitude, day, hours", [(75, 172, 24), (75, 355, 0), (-75, 172, 0), (-75, 355, 24)])
def test_near_the_poles_the_sun_stays_up_or_down(latitude: float, day: int, hours: float) -> None:
    sun = sun_times(latitude, day)

    assert float(day_length(latitude, day)) == hours
    assert float(sun.day_h) == hours
    assert bool(sun.is_polar)


@given(st.floats(-65, 65), st.integers(1, 366))
def test_both_day_lengths_agree_but_for_the_suns_rim(latitude: float, day: int) -> None:
    """0.8333 degrees are at most a few minutes at each end, more where the sun rises slantwise."""
    longer = float(sun_times(latitude, day).day_h - day_length(latitude, day))

    assert -0.15 < longer < 1.2


@given(st.floats(0, 60), st.integers(1, 365))
def test_north_and_south_share_the_day(latitude: float, day: int) -> None:
    assert float(day_length(latitude, day) + day_length(-latitude, day)) == pytest.approx(24)


def test_the_hours_of_three_january_days_are_as_printed() -> None:
    hours = hourly_temperatures(*THREE_DAYS, 50.4, [1, 2, 3])

    assert hours.shape == (3, 24)
    for place, printed in PRINTED.items():
        assert float(hours[place]) == pytest.approx(printed, abs=1e-6)


def test_many_sites_at_once_are_each_site_alone() -> None:
    low = np.array([[1.0, 2, 0, -3], [4, 4, 5, 1]])
    days = [100, 101, 102, 103]

    both = hourly_temperatures(low, low + 8, 47.6, days)

    for place in (0, 1):
        alone = hourly_temperatures(low[place], low[place] + 8, 47.6, days)
        assert np.array_equal(both[place], alone)


def test_a_day_that_was_not_measured_gives_no_hours_and_takes_the_nights_beside_it() -> None:
    low = [2.0, 1.0, np.nan, 0.0, 1.0]
    hours = hourly_temperatures(low, [9.0, 8.0, np.nan, 7.0, 9.0], 47.6, [40, 41, 42, 43, 44])
    missing = np.isnan(hours)

    assert missing[2].all()
    assert missing[1].tolist() == [False] * 17 + [True] * 7  # the sun sets at 16.9
    assert missing[3].tolist() == [True] * 7 + [False] * 17  # and rises at 6.8
    assert not missing[[0, 4]].any()


def test_a_day_without_sunrise_is_its_mean_all_day() -> None:
    hours = hourly_temperatures([-9.0, -8.0, -10.0], [-3.0, -2.0, -4.0], 75, [354, 355, 356])

    assert hours.tolist() == [[-6.0] * 24, [-5.0] * 24, [-7.0] * 24]


@pytest.mark.parametrize("latitude", [-66.5, -40, 0, 47.6, 62, 66, 70, 89])
def test_no_hour_of_a_steady_year_leaves_the_days_bounds_by_much(latitude: float) -> None:
    """The published curve dips a little below the lowest before sunrise; nowhere by a degree for a day of eight."""
    hours = hourly_temperatures(np.full(365, -3.0), np.full(365, 5.0), latitude, np.arange(1, 366))

    assert not np.isnan(hours).any()
    assert hours.max() <= 5
    assert hours.min() > -4
