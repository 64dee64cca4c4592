"""Days are the club's own: compared with the IANA time zone database (zoneinfo) across every change of the clocks."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from service.lib.clock import CLOCK_SLACK, InTheFuture, check_day, check_done_at, local_day, start_of_day

ZONES = [
    "Europe/London",  # northern, an hour
    "America/New_York",
    "Australia/Hobart",  # southern, an hour
    "Australia/Lord_Howe",  # southern, half an hour
    "Pacific/Auckland",
    "America/Havana",  # changes at midnight, so that one day a year has no first hour
    "Asia/Kolkata",  # never changes, and lies half an hour off
    "UTC",
]


def changes(zone: str, year: int) -> list[datetime]:
    """The instants of a year at which the offset of a zone changes, to the minute."""
    at, found = datetime(year, 1, 1, tzinfo=UTC), []
    while at.year == year:
        after = at + timedelta(hours=6)
        if at.astimezone(ZoneInfo(zone)).utcoffset() != after.astimezone(ZoneInfo(zone)).utcoffset():
            low, high = at, after
            while high - low > timedelta(minutes=1):
                middle = low + (high - low) / 2
                same = (
                    middle.astimezone(ZoneInfo(zone)).utcoffset()
                    == low.astimezone(ZoneInfo(zone)).utcoffset()
                )
                low, high = (middle, high) if same else (low, middle)
            found.append(high.replace(second=0, microsecond=0))
        at = after
    return found


@pytest.mark.parametrize("zone", ZONES)
def test_the_day_of_every_instant_around_a_change_is_that_of_the_wall_clock(zone: str) -> None:
    around = changes(zone, 2026)
    assert len(around) == (0 if zone in ("Asia/Kolkata", "UTC") else 2)
    for change in around or [datetime(2026, 3, 29, 1, tzinfo=UTC)]:
        for minutes in range(-26 * 60, 26 * 60, 7):
            at = change + timedelta(minutes=minutes)
            assert local_day(at, zone) == at.astimezone(ZoneInfo(zone)).date()
            assert local_day(at.astimezone(ZoneInfo("Asia/Tokyo")), zone) == local_day(at, zone)


@pytest.mark.parametrize("zone", ZONES)
def test_a_day_begins_with_its_first_instant_and_days_meet_without_a_gap(zone: str) -> None:
    for change in changes(zone, 2026) or [datetime(2026, 3, 29, 1, tzinfo=UTC)]:
        for step in range(-2, 3):
            day = local_day(change, zone) + timedelta(days=step)
            begun = start_of_day(day, zone)
            assert local_day(begun, zone) == day
            assert local_day(begun - timedelta(seconds=1), zone) == day - timedelta(days=1)


@pytest.mark.parametrize(
    "zone, day, hours",
    [
        ("Europe/London", date(2026, 3, 29), 23), ("Europe/London", date(2026, 10, 25), 25),
        ("America/New_York", date(2026, 3, 8), 23), ("America/New_York", date(2026, 11, 1), 25),
        ("Australia/Hobart", date(2026, 4, 5), 25), ("Australia/Hobart", date(2026, 10, 4), 23),
        ("Australia/Lord_Howe", date(2026, 4, 5), 24.5), ("Australia/Lord_Howe", date(2026, 10, 4), 23.5),
    ],
)  # fmt: skip
def test_a_day_of_change_is_as_long_as_the_zone_database_says(zone: str, day: date, hours: float) -> None:
    length = start_of_day(day + timedelta(days=1), zone) - start_of_day(day, zone)

    assert length == timedelta(hours=hours)


@pytest.mark.parametrize("zone", ZONES)
def test_a_time_that_comes_twice_or_never_is_still_of_one_day(zone: str) -> None:
    for change in changes(zone, 2026):
        wall = (change + timedelta(minutes=10)).astimezone(ZoneInfo(zone))
        for fold in (0, 1):
            typed = datetime.combine(wall.date(), time(wall.hour, wall.minute), ZoneInfo(zone)).replace(
                fold=fold
            )
            assert local_day(typed, zone) == typed.astimezone(UTC).astimezone(ZoneInfo(zone)).date()
            assert check_done_at(typed, typed.astimezone(UTC) + timedelta(days=1)) == typed.astimezone(UTC)


@pytest.mark.parametrize("zone", ZONES)
def test_today_is_the_clubs_with_ten_minutes_slack(zone: str) -> None:
    for change in changes(zone, 2026) or [datetime(2026, 3, 29, 1, tzinfo=UTC)]:
        tomorrow = local_day(change, zone) + timedelta(days=1)
        midnight = start_of_day(tomorrow, zone)
        assert check_day(tomorrow, midnight - CLOCK_SLACK, zone, field="seen_on") == tomorrow
        with pytest.raises(InTheFuture):
            check_day(tomorrow, midnight - CLOCK_SLACK - timedelta(seconds=1), zone, field="seen_on")
