"""Instants and days of readings as whole numbers, and back."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
FIRST_DAY = date(1970, 1, 1)


def second_of(at: datetime) -> int:
    """Whole seconds since the beginning of 1970, a fraction cut off."""
    return (at - EPOCH) // timedelta(seconds=1)


def instant_of(second: int) -> datetime:
    return EPOCH + timedelta(seconds=int(second))


def day_of(number: int) -> date:
    return FIRST_DAY + timedelta(days=number)


def number_of(day: date) -> int:
    return (day - FIRST_DAY).days
