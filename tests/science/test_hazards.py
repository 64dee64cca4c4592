"""Source of every expected number: COMPUTED beforehand by another program from the same equations, hourly, sealed plastic with
damp paper, 6 mm, store at 80 %, rest complete at the start, no ethylene. Most parameters behind them are judgement."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from service.science.groups import GROUPS
from service.science.hazards import (
    Doses,
    Fruit,
    HoursNotKnown,
    Keeping,
    age,
    cold_warning,
    dose_trace,
    fresh_doses,
    many_traits,
    traits_of,
)
from service.science.packings import Packing

APPLE = traits_of(GROUPS["apple"])
A_MONTH = np.arange(720)
STEADY, SWINGING = np.full(720, 4.0), 4 + 3 * np.sin(2 * np.pi * A_MONTH / 24)
TEMPERATURES = arrays(np.float64, st.integers(2, 300), elements=st.floats(-10, 25))


def plain(doses: Doses) -> list[float]:
    return [
        float(doses.reserve), float(doses.lost_pct), float(doses.mould), float(doses.bud), float(doses.ethylene),
        float(doses.coldest_c), float(doses.chill.portions), float(doses.chill.precursor), float(doses.hours),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "temp, reserve, drying, mould, bud, portions, digits",
    [
        (STEADY, 0.094251, 0.007807, 0.086152, 0.227150, 71.2458, 6e-7),
        (SWINGING, 0.095272, 0.007884, 0.093486, 0.241444, 72.7473, 6e-7),
        (np.full(123 * 24, 1.0), 0.314, 0.026, 0.189, 0.550, None, 6e-4),
        (np.repeat([1.0, 15.0, 1.0], [1440, 72, 1440]), 0.326, 0.027, 0.240, 0.658, None, 6e-4),
    ],
)
def test_apple_wood_ages_as_computed_elsewhere(
    temp: np.ndarray, reserve: float, drying: float, mould: float, bud: float, portions: float | None, digits: float
) -> None:  # fmt: skip
    doses = age(APPLE, fresh_doses(APPLE), temp)

    assert float(doses.reserve) == pytest.approx(reserve, abs=digits)
    assert float(doses.lost_pct / APPLE.lost_half_pct) == pytest.approx(drying, abs=digits)
    assert float(doses.mould) == pytest.approx(mould, abs=digits)
    assert float(doses.bud) == pytest.approx(bud, abs=digits)
    assert portions is None or float(doses.chill.portions) == pytest.approx(portions, abs=6e-5)


@given(TEMPERATURES, st.floats(0, 80), st.data())
@settings(max_examples=50)
def test_a_history_cut_anywhere_ages_the_same(temp: np.ndarray, portions: float, data: st.DataObject) -> None:
    cut = data.draw(st.integers(1, len(temp) - 1))
    damp = np.linspace(60, 95, len(temp))
    begun = fresh_doses(APPLE, portions)

    parts = age(APPLE, age(APPLE, begun, temp[:cut], damp[:cut]), temp[cut:], damp[cut:])

    assert plain(parts) == pytest.approx(plain(age(APPLE, begun, temp, damp)), rel=1e-11)


@given(TEMPERATURES)
@settings(max_examples=30)
def test_a_trace_ends_where_ageing_ends_and_no_dose_ever_falls(temp: np.ndarray) -> None:
    keeping = Keeping(Packing.LOOSE, fruit=Fruit.RIPE)
    traits = traits_of(GROUPS["peach"], keeping)
    trace, _ = dose_trace(traits, fresh_doses(traits), temp)
    after = age(traits, fresh_doses(traits), temp)

    for name in ("reserve", "lost_pct", "mould", "bud", "ethylene"):
        assert getattr(trace, name)[-1] == pytest.approx(float(getattr(after, name)), rel=1e-11)
        assert (np.diff(getattr(trace, name)) >= 0).all()
    assert trace.coldest_c[-1] == temp.min()
    assert trace.chill.portions[-1] == float(after.chill.portions)


def test_many_bundles_at_once_are_each_bundle_alone() -> None:
    ways = [
        traits_of(GROUPS["apple"]),
        traits_of(GROUPS["citrus"], Keeping(Packing.SEALED)),
        traits_of(GROUPS["fig"], Keeping(Packing.BARE, 9, fruit=Fruit.SOME)),
    ]
    hours = np.stack([STEADY, SWINGING, SWINGING + 3])
    together = age(many_traits(ways), fresh_doses(many_traits(ways), 20), hours)

    for place, traits in enumerate(ways):
        alone = age(traits, fresh_doses(traits, 20), hours[place])
        for name in ("reserve", "lost_pct", "mould", "bud", "ethylene", "coldest_c"):
            assert getattr(together, name)[place] == pytest.approx(float(getattr(alone, name)), rel=1e-12)


def test_a_gap_is_refused_and_not_taken_as_cold() -> None:
    with pytest.raises(HoursNotKnown):
        age(APPLE, fresh_doses(APPLE), [4.0, np.nan, 4.0])


def test_humidity_that_nobody_measured_counts_as_eighty_percent() -> None:
    bare = traits_of(GROUPS["apple"], Keeping(Packing.BARE))
    told, partly, nothing = (
        float(age(bare, fresh_doses(bare), [4.0, 4.0], damp).lost_pct)
        for damp in ([80.0, 80.0], [np.nan, 80.0], None)
    )

    assert told == partly == nothing


def test_a_bare_stick_loses_what_was_derived() -> None:
    """0.57 % a day at 4 °C and 65 %: derived from the bark of pines, with 2 % per kPa and day at 6 mm."""
    bare = traits_of(GROUPS["apple"], Keeping(Packing.BARE))
    day = age(bare, fresh_doses(bare), np.full(24, 4.0), np.full(24, 65.0))

    assert float(day.lost_pct) == pytest.approx(0.57, abs=0.005)


@pytest.mark.parametrize(
    "keeping, part, times",
    [
        (Keeping(waxed=True), "drying", 0.6), (Keeping(diameter_mm=12), "drying", 0.5), (Keeping(in_pack=True), "drying", 50),
        (Keeping(disinfected=True), "mould", 0.5), (Keeping(Packing.WET), "mould", 1 / 0.35),
    ],
)  # fmt: skip
def test_how_a_bundle_lies_changes_one_rate(keeping: Keeping, part: str, times: float) -> None:
    assert float(getattr(traits_of(GROUPS["apple"], keeping), part)) == pytest.approx(
        times * float(getattr(APPLE, part))
    )


@pytest.mark.parametrize(
    "fruit, ppm, level",
    [
        (Fruit.NONE, None, 0), (Fruit.SOME, None, 0.3), (Fruit.RIPE, None, 1), (Fruit.RIPE, 0, 0), (Fruit.NONE, 17.5, 1),
        (Fruit.NONE, 90, 1.5),
    ],
)  # fmt: skip
def test_a_sensor_goes_before_what_is_told_of_fruit(fruit: Fruit, ppm: float | None, level: float) -> None:
    bare = Keeping(Packing.BARE, fruit=fruit, ethylene_ppm=ppm)

    assert float(traits_of(GROUPS["apple"], bare).ethylene) == pytest.approx(level)


def test_wood_without_rest_has_no_budbreak() -> None:
    citrus = traits_of(GROUPS["citrus"])

    assert float(age(citrus, fresh_doses(citrus), np.full(2000, 15.0)).bud) == 0


def test_wood_cut_before_its_rest_is_over_goes_on_to_be_chilled_in_store() -> None:
    met, early = (age(APPLE, fresh_doses(APPLE, portions), np.full(90 * 24, 4.0)) for portions in (50, 25))

    assert 0 < float(early.bud) < float(met.bud)
    assert float(early.chill.portions) == pytest.approx(float(met.chill.portions) - 25)


def test_wood_below_what_its_group_is_stored_at_is_warned_of() -> None:
    warning = cold_warning([5.0, 3.9, 2.0, np.nan, 4.0], 4.0)

    assert warning is not None
    assert (warning.hours, warning.lowest_c) == (2, 2.0)
    assert cold_warning([4.0, np.nan], 4.0) is None
