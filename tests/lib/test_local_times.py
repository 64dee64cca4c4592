"""Clock times as instants, over both changes of the year, against the zone database itself."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.lib.local_times import NoSuchZone, changes_of, instants_of, zone_of

EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001 - the beginning of a clock of no zone
ZONES = (
    "Europe/London", "Europe/Berlin", "America/New_York", "America/Sao_Paulo", "Australia/Lord_Howe", "Pacific/Auckland", "Asia/Kolkata",
    "Africa/Casablanca", "UTC",
)  # fmt: skip


def clock(told: datetime) -> int:
    """Seconds on the clock face since the beginning of 1970."""
    return int((told.replace(tzinfo=None) - EPOCH).total_seconds())


def faces(zone: str, begin: datetime, count: int, minutes: int) -> tuple[list[int], list[int]]:
    """What a clock of a zone shows at steady instants, and those instants: told by the zone database."""
    instants = [begin + timedelta(minutes=minutes * n) for n in range(count)]
    return (
        [clock(at.astimezone(ZoneInfo(zone))) for at in instants],
        [int(at.timestamp()) for at in instants],
    )


@given(
    st.sampled_from(ZONES), st.datetimes(datetime(2000, 1, 1), datetime(2035, 1, 1)), st.integers(1, 90), st.integers(1, 60)  # noqa: DTZ001
)  # fmt: skip
def test_times_of_a_steady_logger_are_the_instants_they_were_written_at(
    zone: str, begin: datetime, count: int, step: int
) -> None:
    """Steps that the hour is a multiple of, so that no time is the same by chance; cut nowhere inside a doubled hour."""
    local, at = faces(zone, begin.replace(tzinfo=UTC, second=0, microsecond=0), count, step)

    found = instants_of(np.array(local), zone_of(zone))

    sure = [
        place for place in range(count) if local.count(local[place]) == 1 and not _doubtful(zone, at[place])
    ]
    assert found.at[sure].tolist() == [at[place] for place in sure]
    assert len(found.never) == 0


def _doubtful(zone: str, at: int) -> bool:
    """A time that comes twice on that day, though the record may hold one of them only."""
    shown = datetime.fromtimestamp(at, ZoneInfo(zone))
    return shown.replace(fold=0).utcoffset() != shown.replace(fold=1).utcoffset()


@pytest.mark.parametrize(
    "zone", ["Europe/London", "Europe/Berlin", "America/New_York", "Australia/Lord_Howe"]
)
@pytest.mark.parametrize("step", [5, 10, 15, 30])
def test_over_both_changes_of_a_year_every_time_finds_its_instant(zone: str, step: int) -> None:
    local, at = faces(zone, datetime(2026, 1, 1, tzinfo=UTC), 365 * 24 * 60 // step, step)

    found = instants_of(np.array(local), zone_of(zone))

    assert found.at.tolist() == at
    assert (len(found.never), len(found.twice), len(found.once)) == (0, 1, 0)


@pytest.mark.parametrize("zone", ["Europe/London", "Europe/Berlin", "America/New_York"])
def test_an_hourly_logger_writes_the_doubled_hour_twice(zone: str) -> None:
    local, at = faces(zone, datetime(2026, 1, 1, tzinfo=UTC), 365 * 24, 60)

    assert instants_of(np.array(local), zone_of(zone)).at.tolist() == at


def test_a_row_written_twice_is_no_second_round() -> None:
    times = [clock(datetime(2026, 10, 25, 1, minute)) for minute in (0, 10, 10, 20)]  # noqa: DTZ001

    found = instants_of(np.array(times), zone_of("Europe/London"))

    assert (found.at - found.at[0]).tolist() == [0, 600, 600, 1200]


def test_the_doubled_hour_that_is_there_once_is_taken_for_the_first_and_told() -> None:
    times = [clock(datetime(2026, 10, 25, hour, minute)) for hour in (0, 1, 2) for minute in (0, 30)]  # noqa: DTZ001

    found = instants_of(np.array(times), zone_of("Europe/London"))

    # 25 October 2026, 02:00 BST is 01:00 GMT: the European Union's rule, last Sunday of October, 01:00 UTC (Directive 2000/84/EC).
    (change,) = found.once
    assert datetime.fromtimestamp(change.at, UTC) == datetime(2026, 10, 25, 1, tzinfo=UTC)
    assert datetime.fromtimestamp(int(found.at[2]), UTC) == datetime(2026, 10, 25, 0, tzinfo=UTC)
    assert datetime.fromtimestamp(int(found.at[4]), UTC) == datetime(2026, 10, 25, 2, tzinfo=UTC)


def test_a_time_that_never_came_is_named() -> None:
    times = [clock(datetime(2026, 3, 29, hour, 30)) for hour in (0, 1, 2, 3)]  # noqa: DTZ001

    assert instants_of(np.array(times), zone_of("Europe/London")).never.tolist() == [1]
    assert instants_of(np.array(times), zone_of("Europe/Berlin")).never.tolist() == [2]
    assert instants_of(np.array(times), zone_of("+01:00")).never.tolist() == []


@pytest.mark.parametrize(
    "told, hours",
    [("+01:00", 1), ("-3", -3), ("+0530", 5.5), ("UTC+2", 2), ("GMT-05:30", -5.5), ("utc", 0), ("Z", 0), ("−02:00", -2)],
)  # fmt: skip
def test_an_offset_is_understood(told: str, hours: float) -> None:
    assert zone_of(told).utcoffset(None) == timedelta(hours=hours)


@pytest.mark.parametrize(
    "told", ["", "Berlin", "CET+1", "+25:00", "+01:75", "../etc/passwd", "Europe/Atlantis"]
)
def test_what_is_no_zone_is_refused(told: str) -> None:
    with pytest.raises(NoSuchZone):
        zone_of(told)


def test_changes_are_found_to_the_second() -> None:
    begin, end = (
        int(datetime(2026, 1, 1, tzinfo=UTC).timestamp()),
        int(datetime(2027, 1, 1, tzinfo=UTC).timestamp()),
    )

    first, changes = changes_of(zone_of("America/New_York"), begin, end)

    # Energy Policy Act of 2005: second Sunday of March, first Sunday of November, 2 a.m. local time.
    assert first == -5 * 3600
    assert [datetime.fromtimestamp(change.at, UTC) for change in changes] == [
        datetime(2026, 3, 8, 7, tzinfo=UTC), datetime(2026, 11, 1, 6, tzinfo=UTC),
    ]  # fmt: skip
