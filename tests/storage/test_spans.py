"""Which days of a store are shown, and where closer, wider, earlier and later lead."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest

from service.storage.rules.spans import (
    DaysShown,
    NoSuchDays,
    as_wide_as,
    earlier_than,
    later_than,
    plan_days_shown,
    stretches_of,
)

TODAY = date(2026, 2, 14)


def days(first: str, last: str) -> DaysShown:
    return DaysShown(date.fromisoformat(first), date.fromisoformat(last))


@pytest.mark.parametrize(
    "first, count, shown",
    [
        (None, 42, days("2026-01-04", "2026-02-14")),
        (None, 1, days("2026-02-14", "2026-02-14")),
        (None, 400, days("2025-01-11", "2026-02-14")),
        (date(2025, 12, 30), 3, days("2025-12-30", "2026-01-01")),
        (date(2026, 2, 10), 14, days("2026-02-10", "2026-02-14")),  # none after today
        (TODAY, 2, days("2026-02-14", "2026-02-14")),
    ],
)
def test_days_from_a_first_on_or_the_last_so_many(first, count, shown) -> None:
    assert plan_days_shown(first, count, TODAY) == shown


@pytest.mark.parametrize(
    "first, count, words",
    [
        (None, 0, "0 days cannot be shown"),
        (None, 401, "401 days cannot be shown"),
        (date(2026, 2, 15), 2, "15 February 2026 has not come yet"),
        (date(1, 1, 1), 2, "Nothing was measured before 1 January 1990"),
    ],
)
def test_days_that_cannot_be_shown_are_refused_in_words(first, count, words) -> None:
    with pytest.raises(NoSuchDays, match=words):
        plan_days_shown(first, count, TODAY)


def test_wider_and_closer_keep_the_middle_and_end_no_later_than_today() -> None:
    past = days("2026-01-01", "2026-01-14")

    assert as_wide_as(past, 2, TODAY) == days("2026-01-07", "2026-01-08")
    assert as_wide_as(past, 42, TODAY) == days("2025-12-18", "2026-01-28")
    assert as_wide_as(past, 182, TODAY) == days("2025-08-17", "2026-02-14")
    assert as_wide_as(days("2026-01-04", "2026-02-14"), 2, TODAY) == days("2026-02-13", "2026-02-14")


def test_earlier_and_later_lead_to_the_days_beside() -> None:
    past = days("2026-01-20", "2026-02-02")

    assert earlier_than(past, TODAY) == days("2026-01-06", "2026-01-19")
    assert later_than(past, TODAY) == days("2026-02-01", "2026-02-14")  # as many, up to today
    assert later_than(days("2026-02-01", "2026-02-14"), TODAY) is None
    assert earlier_than(days("1990-01-01", "1990-01-02"), TODAY) is None


@pytest.mark.parametrize("count", [1, 2, 5, 6, 7, 42, 365, 400])
def test_the_stretches_of_a_picture_are_all_its_days_once_and_as_good_as_equal(count) -> None:
    shown = DaysShown(TODAY - timedelta(days=count - 1), TODAY)

    found = stretches_of(shown, 6)

    if count == 1:
        assert found == []
        return
    each = [one.count for one in found]
    assert sum(each) == count
    assert max(each) - min(each) <= 1
    assert (found[0].first, found[-1].last, len(found)) == (shown.first, shown.last, min(6, count))
    assert all(before.last + timedelta(days=1) == after.first for before, after in pairwise(found))
