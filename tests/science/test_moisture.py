"""Sources. PRINTED: FAO Irrigation and Drainage Paper 56, chapter 3, example 3. COMPUTED: the same equation elsewhere."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.moisture import saturation_pressure, vapour_deficit


def test_saturation_pressure_is_what_example_3_prints() -> None:
    """24.5 and 15 °C: 3.075 and 1.705 kPa, on average 2.39."""
    pressures = saturation_pressure([24.5, 15.0])

    assert np.round(pressures, 3).tolist() == [3.075, 1.705]
    assert round(float(pressures.mean()), 2) == 2.39


@pytest.mark.parametrize("temp, pressure", [(0, 0.6108), (1, 0.6567), (4, 0.8133), (10, 1.2280)])
def test_saturation_pressure_in_store_is_as_computed_elsewhere(temp: float, pressure: float) -> None:
    assert float(saturation_pressure(temp)) == pytest.approx(pressure, abs=5e-5)


@pytest.mark.parametrize(
    "temp, humidity, deficit", [(4, 65, 0.2846), (1, 95, 0.0328), (4, 100, 0), (4, 103, 0)]
)
def test_the_deficit_is_what_is_missing(temp: float, humidity: float, deficit: float) -> None:
    assert float(vapour_deficit(temp, humidity)) == pytest.approx(deficit, abs=5e-5)


@given(st.floats(-10, 40), st.floats(0, 100), st.floats(0, 20))
def test_warmer_or_drier_air_never_pulls_less(temp: float, humidity: float, more: float) -> None:
    here = float(vapour_deficit(temp, humidity))

    assert float(vapour_deficit(temp + more, humidity)) >= here
    assert float(vapour_deficit(temp, humidity - more)) >= here


def test_a_deficit_of_air_that_nobody_measured_is_not_known() -> None:
    assert np.isnan(vapour_deficit([4.0, np.nan], [np.nan, 80.0])).all()
