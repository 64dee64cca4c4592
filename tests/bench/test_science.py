"""Chill and ageing of a thousand series of a year of hours, against a plain loop over the hours in the same run."""

from __future__ import annotations

import time
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from service.science.chill import chill_portions
from service.science.groups import GROUPS
from service.science.hazards import age, fresh_doses, many_traits, traits_of
from tests.bench import reference_loop
from tests.bench.figures import Figures, by_turns, ms

SERIES, HOURS = 1_000, 8_760
MOST_OVER_LOOP = 1.3
MOST_FROZEN = 2.0
MOST_LINES = 20  # of the loop's own file


def a_year() -> tuple[np.ndarray, np.ndarray]:
    """Of mild and colder stores and yards: a season, a day, and noise; series by hours."""
    chance = np.random.default_rng(3)
    hour = np.arange(HOURS)
    season = 7 - 6 * np.cos(2 * np.pi * hour / HOURS) + 3 * np.sin(2 * np.pi * hour / 24)
    temp = season + chance.normal(0, 2, (SERIES, 1)) + chance.normal(0, 1, (SERIES, HOURS))
    return temp, np.clip(chance.normal(85, 5, (SERIES, HOURS)), 0, 100)


def seconds_of(work: partial[object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def test_a_thousand_years_of_hours_take_little_more_than_a_plain_loop(figures: Figures) -> None:
    temp, damp = a_year()
    traits = many_traits([traits_of(GROUPS["apple"])] * SERIES)
    ours = partial(age, traits, fresh_doses(traits, 0), temp, damp)
    # The loop gets its columns the way it likes them, outside the time.
    loop = partial(reference_loop.run, np.ascontiguousarray(temp.T), np.ascontiguousarray(damp.T))

    doses, plain = ours(), loop()
    took = by_turns(5, {"ours": partial(seconds_of, ours), "loop": partial(seconds_of, loop)}, warm_up=0)
    ratio = took["ours"] / took["loop"]
    figures.add(
        f"chill and doses, {SERIES:,} series of a year",
        ms(took["ours"]),
        ms(took["loop"]),
        ratio,
        f"<= {MOST_OVER_LOOP}",
    )

    found = (
        doses.chill.portions, doses.chill.precursor, doses.reserve, doses.lost_pct, doses.mould, doses.bud,
    )  # fmt: skip
    for row, column in zip(plain, found, strict=True):
        assert column == pytest.approx(row, rel=1e-4)
    assert ratio <= MOST_OVER_LOOP
    assert len(Path(reference_loop.__file__).read_text().splitlines()) <= MOST_LINES


def test_hours_below_freezing_are_counted_as_quickly_as_mild_ones(figures: Figures) -> None:
    """The precursor is ripe in every hour of frost, in one of about thirty at 6 °C: two years of them, as weeks ahead are reckoned."""
    swing = np.sin(2 * np.pi * np.arange(2 * HOURS) / 24)
    mild, frozen = (partial(chill_portions, np.stack([at + swing] * 3)) for at in (6.0, -4.0))

    took = by_turns(5, {"frozen": partial(seconds_of, frozen), "mild": partial(seconds_of, mild)})
    ratio = took["frozen"] / took["mild"]
    figures.add(
        "chill of frost, 3 series of two years",
        ms(took["frozen"]),
        ms(took["mild"]),
        ratio,
        f"<= {MOST_FROZEN}",
    )

    assert ratio <= MOST_FROZEN
