"""Sources. PRINTED: the vignette of the R package chillR 0.77 tells 12.2 portions for a record we do not have, so no printed
value of the Dynamic Model can be run here. COMPUTED: constant and cyclic series that anybody can rebuild, worked out
beforehand by another program from the same published equations (which reproduced the printed 12.2)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from service.science.chill import (
    Portions,
    chill_portions,
    chilling_hours,
    positive_units,
    utah_units,
)
from service.science.heat import curved_degree_hours
from tests.science.seattle import hours_of_2010, winter

# °C of 720 hours: chilling hours, Utah units, positive units, portions; then portions of 240 hours.
CONSTANT = [
    (-2, 0, 0, 0, 0.1604, 0.0314), (0, 720, 0, 0, 3.3328, 0.7743), (1, 720, 0, 0, 10.7558, 2.9291),
    (2, 720, 360, 360, 18.7587, 5.7087), (4, 720, 720, 720, 21.2458, 6.5821), (6, 720, 720, 720, 24.4326, 7.8207),
    (7.2, 720, 720, 720, 24.9247, 7.9898), (8, 0, 720, 720, 24.401, 8.1332), (10, 0, 360, 360, 23.313, 7.0953),
    (12, 0, 360, 360, 18.0011, 6.0004), (14, 0, 0, 0, 0, 0), (18, 0, -360, 0, 0, 0),
]  # fmt: skip
# °C of eight hours after sixteen at 5 °C, thirty times.
CYCLES = [
    (10, 480, 600, 600, 24.2348), (13, 480, 480, 480, 24.2324), (15, 480, 480, 480, 24.1732), (20, 480, 240, 480, 12.7534),
    (24, 480, 240, 480, 0.0),
]  # fmt: skip
TEMPERATURES = arrays(np.float64, st.integers(2, 400), elements=st.floats(-15, 30))


def level_at(temp_c: float) -> float:
    """What the precursor tends to; the colder, the more."""
    return 139500 / 2.567e18 * math.exp((12888.8 - 4153.5) / (temp_c + 273))


def counted(temp_c: np.ndarray) -> tuple[float, float, float]:
    """Chilling hours, Utah units and positive units."""
    hours, utah, positive = (
        float(count(temp_c).sum()) for count in (chilling_hours, utah_units, positive_units)
    )
    return hours, utah, positive


def after(temp_c: np.ndarray, start: Portions | None = None) -> tuple[float, float]:
    """Portions and precursor at the end."""
    state = chill_portions(temp_c, start)[1]
    return float(state.portions), float(state.precursor)


def test_three_months_of_real_hours_count_as_computed_elsewhere() -> None:
    """The hours as measured, not drawn from their days. COMPUTED: by another program from the same published equations."""
    temp_c = hours_of_2010()

    assert len(temp_c) == 2_160
    assert counted(temp_c) == (1522, 2036.5, 2036.5)
    assert after(temp_c)[0] == pytest.approx(71.067, abs=0.0005)
    assert float(curved_degree_hours(temp_c).sum()) == pytest.approx(2264.2, abs=0.05)


@pytest.mark.parametrize("temp, hours, utah, positive, portions, of_240", CONSTANT)
def test_a_month_of_one_temperature_counts_as_computed_elsewhere(
    temp: float, hours: float, utah: float, positive: float, portions: float, of_240: float
) -> None:
    month = np.full(720, float(temp))

    assert counted(month) == (hours, utah, positive)
    assert after(month)[0] == pytest.approx(portions, abs=6e-5)
    assert after(month[:240])[0] == pytest.approx(of_240, abs=6e-5)


@pytest.mark.parametrize("temp, hours, utah, positive, portions", CYCLES)
def test_a_month_of_cool_nights_and_warmer_days_counts_as_computed_elsewhere(
    temp: float, hours: float, utah: float, positive: float, portions: float
) -> None:
    month = np.tile([5.0] * 16 + [float(temp)] * 8, 30)

    assert counted(month) == (hours, utah, positive)
    assert after(month)[0] == pytest.approx(portions, abs=6e-5)


def test_the_first_portions_at_six_degrees_fall_when_computed_elsewhere() -> None:
    trace, _ = chill_portions(np.full(100, 6.0))
    falls = np.flatnonzero(np.diff(trace, prepend=0))

    assert (falls + 1).tolist() == [29, 57, 85]
    assert np.diff(trace[falls], prepend=0) == pytest.approx([0.98051, 0.97724, 0.97717], abs=1e-5)


@pytest.mark.parametrize(
    "temp, with_floor, without", [(-0.1, 0, 1), (0, 1, 1), (7.2, 1, 1), (7.21, 0, 0), (np.nan, 0, 0)]
)
def test_the_ends_of_chilling_hours_are_included(temp: float, with_floor: float, without: float) -> None:
    """Weinberger 1950, as coded in chillR; the form without a floor is common practice, no source."""
    assert float(chilling_hours(temp)) == with_floor
    assert float(chilling_hours(temp, floor=False)) == without


@pytest.mark.parametrize(
    "temp, weight",
    [
        (1.4, 0), (1.41, 0.5), (2.4, 0.5), (2.41, 1), (9.1, 1), (9.11, 0.5), (12.4, 0.5), (12.41, 0), (15.9, 0), (15.91, -0.5),
        (18, -0.5), (18.01, -1), (-20, 0), (np.nan, 0),
    ],
)  # fmt: skip
def test_utah_weights_change_where_published(temp: float, weight: float) -> None:
    """Richardson, Seeley and Walker 1974; the ends of the intervals as coded in chillR."""
    assert float(utah_units(temp)) == weight
    assert float(positive_units(temp)) == max(weight, 0)


@given(TEMPERATURES, st.data())
@settings(max_examples=60)
def test_a_record_cut_anywhere_counts_the_same(temp: np.ndarray, data: st.DataObject) -> None:
    cuts = sorted(data.draw(st.lists(st.integers(0, len(temp)), max_size=4)))
    state: Portions | None = None
    for begin, end in zip([0, *cuts], [*cuts, len(temp)], strict=True):
        if end > begin:
            _, state = chill_portions(temp[begin:end], state)

    assert state is not None
    assert (float(state.portions), float(state.precursor)) == pytest.approx(after(temp), rel=1e-12)


@pytest.mark.parametrize("cut", [1, 31, 32, 33, 1000, 3623])
def test_a_real_winter_cut_in_two_is_the_same_to_the_last_digit(cut: int) -> None:
    hours = winter(2012)

    _, state = chill_portions(hours[:cut])

    assert after(hours[cut:], state) == after(hours)


def test_many_series_at_once_are_each_series_alone() -> None:
    many = np.stack([winter(2012)[:3000], winter(2013)[:3000], winter(2014)[:3000]])

    trace, together = chill_portions(many)

    for place, hours in enumerate(many):
        assert np.array_equal(trace[place], chill_portions(hours)[0])
        assert (together.portions[place], together.precursor[place]) == after(hours)


@given(TEMPERATURES, st.data())
@settings(max_examples=60)
def test_a_gap_earns_nothing_and_moves_nothing(temp: np.ndarray, data: st.DataObject) -> None:
    """However many hours nobody knows, they count as if they had not been."""
    place, length = data.draw(st.integers(0, len(temp))), data.draw(st.integers(1, 60))
    gapped = np.concatenate([temp[:place], np.full(length, np.nan), temp[place:]])

    assert counted(gapped) == counted(temp)
    assert after(gapped) == pytest.approx(after(temp), rel=1e-12)


@given(TEMPERATURES)
@settings(max_examples=60)
def test_portions_never_fall(temp: np.ndarray) -> None:
    trace, state = chill_portions(temp)

    assert (np.diff(trace) >= 0).all()
    assert 0 <= float(state.precursor) <= level_at(temp.min())


def test_one_series_by_itself_is_counted_as_among_many() -> None:
    """Few series are walked one by one, many at once: the same steps, to the last bit."""
    hours = np.concatenate([np.linspace(-5, 15, 700), [np.nan] * 30, np.linspace(12, 2, 700)])
    alone, state = chill_portions(hours)
    among, states = chill_portions(np.stack([hours + 0.1 * place for place in range(12)]))

    assert np.array_equal(alone, among[0])
    assert state.precursor == states.precursor[0]
