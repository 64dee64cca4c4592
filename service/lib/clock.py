"""What time it is: a clock that can be set, and instants that are always UTC."""

from __future__ import annotations

import time
from datetime import UTC, date, datetime, timedelta
from typing import Protocol
from zoneinfo import ZoneInfo

from service.lib.errors import Unusable


class Clock(Protocol):
    """Tells the present instant, in UTC."""

    def now(self) -> datetime: ...


class SystemClock:
    """The machine's own time."""

    def now(self) -> datetime:
        return datetime.now(UTC)


class FixedClock:
    """A clock that stands still until it is set or moved on."""

    def __init__(self, at: datetime) -> None:
        self.at = as_utc(at)

    def now(self) -> datetime:
        return self.at

    def move(self, step: timedelta) -> None:
        self.at += step


class StartedClock:
    """A clock that starts at a given instant and runs on from there: the demo's own today."""

    def __init__(self, start: datetime) -> None:
        self.start = as_utc(start)
        self._since = time.monotonic()

    def now(self) -> datetime:
        return self.start + timedelta(seconds=time.monotonic() - self._since)


def as_utc(at: datetime) -> datetime:
    """The same instant in UTC; a value without a zone is taken to be UTC already."""
    return at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)


def local_day(at: datetime, zone: str) -> date:
    """The calendar day of an instant in the club's zone."""
    return as_utc(at).astimezone(ZoneInfo(zone)).date()


def start_of_day(day: date, zone: str) -> datetime:
    """The first instant of a calendar day in the club's zone, in UTC."""
    return datetime(day.year, day.month, day.day, tzinfo=ZoneInfo(zone)).astimezone(UTC)


def day_words(on: date | None) -> str:
    """A day nobody can read the wrong way round: `3 July 2025`."""
    return f"{on.day} {on:%B %Y}" if on else "a day not told"


def minute_words(at: datetime | None) -> str:
    """`3 July 2025, 14:05 UTC`."""
    if at is None:
        return day_words(at)
    at = as_utc(at)
    return f"{day_words(at)}, {at:%H:%M} UTC"


CLOCK_SLACK = timedelta(minutes=10)


class InTheFuture(Unusable):
    title = "This lies in the future"
    todo = "Check the date and the clock of the device."


def check_done_at(done_at: datetime | None, recorded_at: datetime) -> datetime:
    """The person's time of a deed: the server's where none is told, never over ten minutes ahead of it."""
    if done_at is None:
        return recorded_at
    at = as_utc(done_at)
    if at > recorded_at + CLOCK_SLACK:
        raise InTheFuture(
            f"It is said to be done on {minute_words(at)}, but it is only {minute_words(recorded_at)} now.",
            field="done_at",
        )
    return at


def check_day(day: date, recorded_at: datetime, zone: str, *, field: str) -> date:
    """A day something was seen or done on: not after today in the club's zone (with ten minutes' slack)."""
    if day > local_day(recorded_at + CLOCK_SLACK, zone):
        raise InTheFuture(f"{day_words(day)} has not come yet.", field=field)
    return day
