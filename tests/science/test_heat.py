"""Sources. COMPUTED: single hours and constant series, worked out beforehand by another program from the same published
equations (Anderson, Richardson and Kesner 1986; Richardson et al. 1975); the forcing curve as told from memory there."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.heat import (
    curved_degree_hours,
    forcing_per_hour,
    linear_degree_hours,
    rest_gate,
)

CURVED = [
    (4, 0),
    (5, 0.117276),
    (10, 3.953357),
    (14.5, 10.5),
    (20, 18.197045),
    (25, 21),
    (30, 7.247925),
    (36, 0),
]
OF_720_HOURS = [
    (4, 0), (6, 335.870), (7.2, 849.851), (8, 1313.635), (10, 2846.417), (12, 4798.022), (14, 6995.040), (18, 11340),
]  # fmt: skip
FORCING = [(0, 0.0561), (1, 0.0671), (2, 0.0801), (4, 0.1136), (6, 0.1598), (10, 0.3043), (15, 0.6064), (20, 1), (25, 1.3466)]  # fmt: skip


@pytest.mark.parametrize("temp, hours", CURVED)
def test_one_hour_counts_on_the_curve_as_computed_elsewhere(temp: float, hours: float) -> None:
    assert float(curved_degree_hours(temp)) == pytest.approx(hours, abs=1e-6)


@pytest.mark.parametrize("temp, hours", OF_720_HOURS)
def test_a_month_of_one_temperature_counts_as_computed_elsewhere(temp: float, hours: float) -> None:
    assert float(curved_degree_hours(np.full(720, float(temp))).sum()) == pytest.approx(hours, abs=6e-4)


@pytest.mark.parametrize("other, hours", [(15, 2764.61), (20, 4423.58), (24, 5068.15)])
def test_a_month_of_cool_nights_and_warmer_days_counts_as_computed_elsewhere(
    other: float, hours: float
) -> None:
    days = np.tile([5.0] * 16 + [float(other)] * 8, 30)

    assert float(curved_degree_hours(days).sum()) == pytest.approx(hours, abs=6e-3)


@pytest.mark.parametrize(
    "temp, hours", [(-10, 0), (4.5, 0), (5.5, 1), (25, 20.5), (26, 20.5), (40, 20.5), (np.nan, 0)]
)
def test_straight_degree_hours_begin_at_the_base_and_end_at_the_cap(temp: float, hours: float) -> None:
    """Richardson et al. 1975; that hours above 25 °C count as 25 °C is from memory, unverified."""
    assert float(linear_degree_hours(temp)) == hours


@pytest.mark.parametrize("temp, days", FORCING)
def test_forcing_is_a_day_a_day_at_twenty_degrees(temp: float, days: float) -> None:
    assert float(forcing_per_hour(temp)) * 24 == pytest.approx(days, abs=5e-5)


def test_roses_in_store_are_forced_as_much_as_a_trial_saw() -> None:
    """Menoud, Mauget and Frossard 1991, Acta Hortic 298:237-245: after 12-16 weeks at 0-2 °C, 7 days sooner at 20 °C."""
    low, high = (float(forcing_per_hour(1.0)) * 24 * days for days in (84, 112))

    assert low < 7 < high


@pytest.mark.parametrize("temp", [-1.1, -30, np.nan])
def test_frost_and_hours_that_nobody_knows_force_nothing(temp: float) -> None:
    assert float(forcing_per_hour(temp)) == 0
    assert float(curved_degree_hours(temp)) == 0


@given(st.floats(-30, 34), st.floats(0, 5))
def test_warmer_never_forces_less(temp: float, more: float) -> None:
    assert float(forcing_per_hour(temp + more)) >= float(forcing_per_hour(temp))


def test_the_gate_opens_as_rest_ends() -> None:
    assert rest_gate([0, 40, 50, 60], 50) == pytest.approx([0, 0.1517, 1, 1], abs=1e-4)
    assert float(rest_gate(0, 0)) == 1
