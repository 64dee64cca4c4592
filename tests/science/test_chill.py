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
    Chill,
    add_hours,
    chill_portions,
    chilling_hours,
    no_chill,
    positive_units,
    start_of_utah,
    utah_units,
)
from tests.science.seattle import winter

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


def counted(chill: Chill) -> tuple[float, ...]:
    return (
        float(chill.chilling_h), float(chill.utah_cu), float(chill.positive_pcu), float(chill.portions_cp),
        float(chill.dynamic.precursor),
    )  # fmt: skip


@pytest.mark.parametrize("temp, hours, utah, positive, portions, of_240", CONSTANT)
def test_a_month_of_one_temperature_counts_as_computed_elsewhere(
    temp: float, hours: float, utah: float, positive: float, portions: float, of_240: float
) -> None:
    chill = add_hours(no_chill(), np.full(720, float(temp)))

    assert counted(chill)[:3] == (hours, utah, positive)
    assert float(chill.portions_cp) == pytest.approx(portions, abs=6e-5)
    assert float(chill_portions(np.full(240, float(temp)))[1].portions) == pytest.approx(of_240, abs=6e-5)


@pytest.mark.parametrize("temp, hours, utah, positive, portions", CYCLES)
def test_a_month_of_cool_nights_and_warmer_days_counts_as_computed_elsewhere(
    temp: float, hours: float, utah: float, positive: float, portions: float
) -> None:
    chill = add_hours(no_chill(), np.tile([5.0] * 16 + [float(temp)] * 8, 30))

    assert counted(chill)[:3] == (hours, utah, positive)
    assert float(chill.portions_cp) == pytest.approx(portions, abs=6e-5)


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


def test_a_utah_sum_starts_where_it_no_longer_falls() -> None:
    """The usual start rule, from memory, unverified."""
    autumn = [20.0] * 30 + [5.0] * 10 + [20.0] * 12 + [5.0] * 100

    assert start_of_utah(autumn) == 52
    assert start_of_utah([5.0] * 20) == 0


@given(TEMPERATURES, st.data())
@settings(max_examples=60)
def test_a_record_cut_anywhere_counts_the_same(temp: np.ndarray, data: st.DataObject) -> None:
    whole = add_hours(no_chill(), temp)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(temp)), max_size=4)))
    parts = no_chill()
    for begin, end in zip([0, *cuts], [*cuts, len(temp)], strict=True):
        if end > begin:
            parts = add_hours(parts, temp[begin:end])

    assert counted(parts) == pytest.approx(counted(whole), rel=1e-12)
    assert float(parts.hours) == len(temp)


@pytest.mark.parametrize("cut", [1, 31, 32, 33, 1000, 3623])
def test_a_real_winter_cut_in_two_is_the_same_to_the_last_digit(cut: int) -> None:
    hours = winter(2012)

    assert counted(add_hours(add_hours(no_chill(), hours[:cut]), hours[cut:])) == counted(
        add_hours(no_chill(), hours)
    )


def test_many_series_at_once_are_each_series_alone() -> None:
    many = np.stack([winter(2012)[:3000], winter(2013)[:3000], winter(2014)[:3000]])

    trace, together = chill_portions(many)

    for place, hours in enumerate(many):
        alone, after = chill_portions(hours)
        assert np.array_equal(trace[place], alone)
        assert together.portions[place] == after.portions
        assert together.precursor[place] == after.precursor


@given(TEMPERATURES, st.data())
@settings(max_examples=60)
def test_a_gap_earns_nothing_and_moves_nothing(temp: np.ndarray, data: st.DataObject) -> None:
    """However many hours nobody knows, they count as if they had not been, and are told."""
    place, length = data.draw(st.integers(0, len(temp))), data.draw(st.integers(1, 60))
    gapped = np.concatenate([temp[:place], np.full(length, np.nan), temp[place:]])

    chill = add_hours(no_chill(), gapped)

    assert counted(chill) == pytest.approx(counted(add_hours(no_chill(), temp)), rel=1e-12)
    assert chill.is_partial
    assert float(chill.unknown_hours) == length
    assert float(chill.hours) == len(gapped)


@given(TEMPERATURES)
@settings(max_examples=60)
def test_portions_never_fall(temp: np.ndarray) -> None:
    trace, after = chill_portions(temp)

    assert (np.diff(trace) >= 0).all()
    assert 0 <= float(after.precursor) <= level_at(temp.min())


def test_one_series_by_itself_is_counted_as_among_many() -> None:
    """Few series are walked one by one, many at once: the same steps, to the last bit."""
    hours = np.concatenate([np.linspace(-5, 15, 700), [np.nan] * 30, np.linspace(12, 2, 700)])
    alone, after = chill_portions(hours)
    among, states = chill_portions(np.stack([hours + 0.1 * place for place in range(12)]))

    assert np.array_equal(alone, among[0])
    assert after.precursor == states.precursor[0]
