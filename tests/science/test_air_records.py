"""How much air is enough to say anything by; every limit is judgement, so the tests hold what the docstrings tell."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from service.science.air_records import is_enough, is_stale, is_whole, range_of


@pytest.mark.parametrize(
    ("measured", "asked", "enough"), [(0, 0, False), (49, 100, False), (50, 100, True), (1, 1, True)]
)
def test_half_of_the_days_are_enough_to_count_chill_by(measured: int, asked: int, enough: bool) -> None:
    assert is_enough(measured, asked) is enough


@pytest.mark.parametrize(("measured", "asked", "whole"), [(0, 0, False), (179, 200, False), (180, 200, True)])
def test_a_winter_is_whole_from_nine_tenths_of_its_days_on(measured: int, asked: int, whole: bool) -> None:
    assert is_whole(measured, asked) is whole


@pytest.mark.parametrize(("days", "stale"), [(0, False), (7, False), (8, True)])
def test_a_record_is_too_old_more_than_a_week_after_its_last_day(days: int, stale: bool) -> None:
    last = date(2027, 2, 1)

    assert is_stale(last, last + timedelta(days=days)) is stale


def test_two_winters_tell_between_which_days_something_falls_and_one_does_not() -> None:
    assert range_of([]) is None
    assert range_of([98]) is None
    assert range_of([98, 91, 105]) == (91, 105)
