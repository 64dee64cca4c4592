"""Source: USP 29, chapter 1160, for the equation and its numbers; the worked values were computed elsewhere from it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.kinetics import mean_kinetic_temperature

TEMPS = st.lists(st.floats(-20, 40), min_size=1, max_size=50)


def test_a_day_with_two_warm_hours_is_as_computed_elsewhere() -> None:
    day = [2.0] * 22 + [12.0] * 2

    assert np.mean(day) == pytest.approx(2.8333, abs=5e-5)
    assert mean_kinetic_temperature(day) == pytest.approx(3.4808, abs=5e-5)
    assert mean_kinetic_temperature([2, 12], [22, 2]) == pytest.approx(3.4808, abs=5e-5)


def test_one_cool_and_one_warm_hour_are_as_computed_elsewhere() -> None:
    assert mean_kinetic_temperature([5, 15]) == pytest.approx(11.3867, abs=5e-5)


@given(TEMPS)
def test_it_lies_between_the_mean_and_the_highest(temps: list[float]) -> None:
    found = mean_kinetic_temperature(temps)

    assert found is not None
    assert np.mean(temps) - 1e-6 <= found <= max(temps) + 1e-6


@given(TEMPS)
def test_what_is_not_known_is_left_out(temps: list[float]) -> None:
    assert mean_kinetic_temperature([*temps, np.nan]) == pytest.approx(mean_kinetic_temperature(temps))


def test_of_no_temperature_there_is_no_mean() -> None:
    assert mean_kinetic_temperature([]) is None
    assert mean_kinetic_temperature([np.nan]) is None
