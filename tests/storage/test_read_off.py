"""The weekly curve: how it is reckoned, and the share read off it as of now."""

from __future__ import annotations

from datetime import timedelta

import pytest

from service.science.groups import GROUPS
from service.science.hazards import traits_of
from service.storage.rules.read_off import share_at
from service.storage.schemas.keeping import KeepingCurve
from tests.builders.hourly import weekly_shares
from tests.storage.test_keeping import CUT, Shelf

NOW = CUT + timedelta(days=10)
CURVE = KeepingCurve(
    begins_at=CUT, past=2, expected=[97, 95, 80, 40], low=[96, 90, 60, 10], high=[97, 96, 90, 70]
)
SHARE = (0.9, 0.8, 0.95)


@pytest.fixture
def shelf(database, writer, clock):
    return Shelf(database, writer, clock)


@pytest.mark.parametrize(
    "days, told",
    [
        (10, SHARE),
        (8, SHARE),  # before it was reckoned: as it was reckoned
        (14, (0.80, 0.60, 0.90)),
        (12, (0.85, 0.70, 0.925)),
        (21, (0.40, 0.10, 0.70)),
    ],
)  # fmt: skip
def test_the_share_is_read_off_straight_between_weeks(days, told):
    assert share_at(CURVE, NOW, SHARE, CUT + timedelta(days=days)) == pytest.approx(told)


def test_beyond_its_last_week_nothing_is_read_off():
    assert share_at(CURVE, NOW, SHARE, CUT + timedelta(days=21, hours=1)) is None


def test_weeks_behind_and_ahead_are_those_of_the_hourly_model(shelf):
    """Against the hourly reckoning of the same weeks, step by step from the cut: central shares, apple at 4 °C."""
    shelf.until(24 * 45).hourly([4.0] * 24 * 45)

    curve = shelf.told().curve

    weeks = weekly_shares(traits_of(GROUPS["apple"]), [4.0] * 168, len(curve.expected) - 1)
    assert curve.past == 7
    assert curve.begins_at == CUT
    assert curve.expected[0] == 97
    assert curve.low[1:] == [pytest.approx(100 * low, abs=0.51) for low, _, _ in weeks]
    assert curve.high[1:] == [pytest.approx(100 * high, abs=0.51) for _, _, high in weeks]
    assert curve.expected == sorted(curve.expected, reverse=True)


def test_a_look_is_in_the_weeks_after_it_alone(shelf):
    shelf.until(24 * 30).hourly([4.0] * 24 * 30)
    before = shelf.told().curve
    shelf.look(buds="swelling")
    shelf.until(24 * 36).hourly([4.0] * 24 * 6, CUT + timedelta(days=30))

    after = shelf.told().curve

    assert after.expected[: before.past] == before.expected[: before.past]
    assert after.expected[before.past] < before.expected[before.past] - 10
    assert after.past == before.past + 1
