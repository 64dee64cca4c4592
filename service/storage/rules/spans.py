"""Which days of a store's record are shown, and the ways from there: closer, wider, earlier, later."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from service.lib.clock import day_words
from service.lib.errors import Unusable

USUAL_DAYS, MOST_DAYS = 42, 400
MOST_IN_HOURS = 7  # up to so many days are shown hour by hour
MOST_ROWS = 98  # more days than that are told week by week in a table
FIRST_DAY = date(1990, 1, 1)  # no logger of a club is older
WIDTHS = {"2 days": 2, "2 weeks": 14, "6 weeks": USUAL_DAYS, "Half a year": 182, "A year": 365}


class NoSuchDays(Unusable):
    title = "These days cannot be shown"
    todo = f"Give a first day that has come, as 2026-01-31, and 1 to {MOST_DAYS} days; or neither, for the last six weeks."


@dataclass(frozen=True)
class DaysShown:
    """Days in a row, the first and the last among them."""

    first: date
    last: date

    @property
    def count(self) -> int:
        return (self.last - self.first).days + 1


def plan_days_shown(from_on: date | None, count: int, today: date) -> DaysShown:
    """So many days from a first on, none after today; without a first, the last so many. Raises `NoSuchDays`."""
    if not 1 <= count <= MOST_DAYS:
        raise NoSuchDays(f"{count} days cannot be shown, but 1 to {MOST_DAYS}.", field="days")
    if from_on is None:
        return DaysShown(today - timedelta(days=count - 1), today)
    if from_on > today:
        raise NoSuchDays(f"{day_words(from_on)} has not come yet.", field="from_day")
    if from_on < FIRST_DAY:
        raise NoSuchDays(f"Nothing was measured before {day_words(FIRST_DAY)}.", field="from_day")
    return DaysShown(from_on, min(from_on + timedelta(days=count - 1), today))


def as_wide_as(shown: DaysShown, count: int, today: date) -> DaysShown:
    """Other so many days: up to today where the others are, else with the same day in the middle."""
    if shown.last >= today:
        return _moved(today - timedelta(days=count - 1), count, today)
    middle = shown.first + timedelta(days=shown.count // 2)
    return _moved(middle - timedelta(days=count // 2), count, today)


def earlier_than(shown: DaysShown, today: date) -> DaysShown | None:
    """As many days just before; None where there can be none."""
    if shown.first <= FIRST_DAY:
        return None
    return _moved(shown.first - timedelta(days=shown.count), shown.count, today)


def later_than(shown: DaysShown, today: date) -> DaysShown | None:
    """As many days just after, up to today; None where today is shown."""
    if shown.last >= today:
        return None
    return _moved(shown.last + timedelta(days=1), shown.count, today)


def _moved(first: date, count: int, today: date) -> DaysShown:
    first = max(FIRST_DAY, min(first, today - timedelta(days=count - 1)))
    return DaysShown(first, first + timedelta(days=count - 1))


def stretches_of(shown: DaysShown, most: int) -> list[DaysShown]:
    """The days in at most so many stretches that are as good as equally long; none where a day is all there is."""
    if shown.count == 1:
        return []
    parts = min(most, shown.count)
    begins = [shown.first + timedelta(days=part * shown.count // parts) for part in range(parts + 1)]
    return [DaysShown(begin, end - timedelta(days=1)) for begin, end in pairwise(begins)]
