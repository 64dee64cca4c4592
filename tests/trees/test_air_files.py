"""Files with days of air, read by rule: by the day and by the hour, against real days, the library's own zones, and bad rows."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from service.lib.logger_files import FormWrong
from service.lib.plain_csv import read_table
from service.trees.rules.air_files import AirForm, doubt_of_air, guess_air, tell_air, unlikely_days
from tests.science.seattle import AIR, seattle

NOW = datetime(2026, 2, 21, 12, tzinfo=UTC)
LONDON = "Europe/London"
BY_DAY = AirForm(day="date", lowest="lowest", highest="highest", unit="C", order="ymd")
BY_HOUR = AirForm(day="time", temp="temp", unit="C", order="ymd", zone=LONDON)
# What only the way from °C to °F and back may cost: half of the last digit written.
ROUNDED = 0.006


def told(text: str, form: AirForm, zone: str = LONDON):
    return tell_air(read_table(text.encode()), form, NOW, zone)


def test_a_station_s_own_file_of_four_years_is_guessed_and_read_as_it_stands() -> None:
    """Source: seattle-weather.csv of vega_datasets 0.9.0 (NOAA, public domain), as fixtures/demo/air.csv keeps it."""
    table, air = read_table(AIR.read_bytes()), seattle()

    guess = guess_air(table)
    found = tell_air(table, AirForm(**{**guess.to_json(), "unit": "C"}), NOW, LONDON)

    assert (guess.day, guess.lowest, guess.highest, guess.order, guess.unit) == (
        "date",
        "lowest",
        "highest",
        "ymd",
        "",
    )
    real = zip(air.lowest_c.tolist(), air.highest_c.tolist(), strict=True)
    assert found.days == dict(zip(air.days, real, strict=True))
    assert (len(found.days), found.report.faulty_count, found.unlikely, doubt_of_air(found)) == (
        1461,
        0,
        [],
        "",
    )


@pytest.mark.parametrize(("order", "shape"), [("dmy", "%d/%m/%Y"), ("mdy", "%m/%d/%Y")])
def test_the_same_days_in_fahrenheit_with_either_order_come_to_the_same(order, shape) -> None:
    """Source of the days: as above. °F by its definition."""
    air = seattle()
    rows = list(zip(air.days, air.lowest_c.tolist(), air.highest_c.tolist(), strict=True))
    lines = [
        f"{day.strftime(shape)};{low * 1.8 + 32:.2f};{high * 1.8 + 32:.2f}".replace(".", ",")
        for day, low, high in rows
    ]
    table = read_table(("Day;Tmin (°F);Tmax (°F)\n" + "\n".join(lines)).encode())

    guess = guess_air(table)
    found = tell_air(table, guess, NOW, LONDON)

    assert (guess.unit, guess.order) == ("F", order)
    for day, low, high in rows:
        assert found.days[day] == pytest.approx((low, high), abs=ROUNDED)


def test_where_both_orders_can_be_the_order_is_asked() -> None:
    text = "Day,Min °C,Max °C\n05/01/2026,1,4\n06/01/2026,2,5\n"

    guess = guess_air(read_table(text.encode()))

    assert (guess.order, guess.unit, guess.lowest) == ("", "C", "Min °C")
    with pytest.raises(FormWrong, match="order day, month and year"):
        told(text, guess)


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("2026-01-08,7,2", "the lowest (7) is above the highest (2)"),
        ("2026-01-08,1,400", "400 is no temperature of the air (from -70 to 60 °C)"),
        ("2026-01-08,271.2,280.4", "271.2 looks like kelvin"),
        ("2026-03-01,1,2", "1 March 2026 has not come yet"),
        ("2026-01-05,1,2", "5 January 2026 stands on line 2 with other values"),
        (",1,2", "it has no day"),
        ("some day,1,2", "'some day' is no day"),
        ("2026-02-30,1,2", "'2026-02-30' is no day: no month 2 or day 30 with this order of day and month"),
        ("2026-01-08,1,", "the highest is missing"),
        ("2026-01-08,warm,2", "'warm' is no number"),
        ("2026-01-08,1,2,3,4", "it has another number of columns"),
    ],
)
def test_a_row_that_cannot_be_is_named_by_its_line_and_the_others_are_read(line, says) -> None:
    text = f"date,lowest,highest\n2026-01-05,-4,1.5\n2026-01-06,0,2\n{line}\n2026-01-07,1,3\n"

    found = told(text, BY_DAY)

    assert found.report.faulty == [(4, says)]
    assert found.days == {
        date(2026, 1, 5): (-4.0, 1.5),
        date(2026, 1, 6): (0.0, 2.0),
        date(2026, 1, 7): (1.0, 3.0),
    }


def test_a_day_said_again_counts_once_and_one_without_a_value_is_a_gap() -> None:
    found = told("date,lowest,highest\n2026-01-05,-4,1.5\n2026-01-05,-4.0,1.50\n2026-01-06,,\n", BY_DAY)

    assert (len(found.days), found.same_within, found.report.without_value, found.report.faulty) == (
        1,
        1,
        1,
        [],
    )


@pytest.mark.parametrize(
    ("zone", "now", "days"),
    [
        (LONDON, datetime(2026, 1, 6, 12, tzinfo=UTC), 1),
        (LONDON, datetime(2026, 1, 6, 23, 59, tzinfo=UTC), 1),
        (LONDON, datetime(2026, 1, 7, tzinfo=UTC), 2),
        ("Pacific/Auckland", datetime(2026, 1, 6, 10, 59, tzinfo=UTC), 1),  # 13 hours ahead of UTC in January
        ("Pacific/Auckland", datetime(2026, 1, 6, 11, tzinfo=UTC), 2),
        ("America/Vancouver", datetime(2026, 1, 7, 7, 59, tzinfo=UTC), 1),  # 8 hours behind
        ("America/Vancouver", datetime(2026, 1, 7, 8, tzinfo=UTC), 2),
    ],
)
def test_a_day_counts_once_it_is_over_where_the_club_is(zone, now, days) -> None:
    """By the day and by the hour; the zones' offsets are those of the time zone database."""
    by_day = "date,lowest,highest\n2026-01-05,-4,1.5\n2026-01-06,0,2\n"
    midnight = datetime(2026, 1, 5, tzinfo=ZoneInfo(zone)).astimezone(UTC)
    hours = [at for at in (midnight + timedelta(hours=hour) for hour in range(47)) if at <= now]
    by_hour = "time,temp\n" + "".join(f"{at:%Y-%m-%d %H:%M},{at.hour % 7}\n" for at in hours)
    form = AirForm(**{**BY_HOUR.to_json(), "zone": "UTC"})

    for found, then in (
        (tell_air(read_table(by_day.encode()), BY_DAY, now, zone), "send it again then"),
        (tell_air(read_table(by_hour.encode()), form, now, zone), "send the rest of it then"),
    ):
        assert list(found.days) == [date(2026, 1, 5), date(2026, 1, 6)][:days]
        assert found.report.faulty == []
        assert (f"6 January 2026 is not over yet and stays out: {then}." in found.notes) is (days == 1)


@pytest.mark.parametrize(
    ("form", "field"),
    [
        ({"unit": ""}, "unit"), ({"order": ""}, "order"), ({"highest": ""}, "highest"), ({"lowest": ""}, "lowest"), ({"day": ""}, "day"),
        ({"temp": "lowest"}, "temp"), ({"highest": "lowest"}, "highest"), ({"lowest": "nothing"}, "lowest"),
        ({"lowest": "", "highest": "", "temp": "lowest", "zone": ""}, "zone"),
    ],
)  # fmt: skip
def test_what_nobody_told_is_asked_at_its_field(form, field) -> None:
    with pytest.raises(FormWrong) as refused:
        told("date,lowest,highest\n2026-01-05,-4,1.5\n", AirForm(**{**BY_DAY.to_json(), **form}))

    assert refused.value.field == field


def hourly(first: datetime, hours: int, zone: str, *, bare: bool) -> tuple[list[tuple[datetime, float]], str]:
    """Hours that pass, as instants, and as the clock on the wall of a zone shows them."""
    rows = [(first + timedelta(hours=n), round(4 + n % 24 / 10 - n / 100, 2)) for n in range(hours)]
    walls = [(at.astimezone(ZoneInfo(zone)), temp) for at, temp in rows]
    shape = "%Y-%m-%d %H:%M" if bare else "%Y-%m-%d %H:%M%z"
    return rows, "time,temp\n" + "".join(f"{wall.strftime(shape)},{temp}\n" for wall, temp in walls)


@pytest.mark.parametrize("first", [date(2025, 3, 28), date(2025, 10, 24)])
@pytest.mark.parametrize("bare", [True, False])
@pytest.mark.parametrize(
    ("clock", "club"), [(LONDON, LONDON), ("UTC", LONDON), ("America/New_York", "Australia/Sydney")]
)
def test_hours_over_both_changes_of_the_clock_make_the_days_zoneinfo_makes(first, bare, clock, club) -> None:
    """Compared with the zones of Python's own zoneinfo: each hour that passes is put into its day there."""
    begin = datetime(first.year, first.month, first.day, tzinfo=ZoneInfo(club)).astimezone(UTC)
    rows, text = hourly(begin, 5 * 24, clock, bare=bare)
    by_day: dict[date, list[float]] = {}
    for at, temp in rows:
        by_day.setdefault(at.astimezone(ZoneInfo(club)).date(), []).append(temp)
    whole = {day: (min(all_), max(all_)) for day, all_ in by_day.items() if day < first + timedelta(days=4)}

    found = told(text, AirForm(**{**BY_HOUR.to_json(), "zone": clock if bare else "in the file"}), club)

    assert found.report.faulty == []
    assert {day: air for day, air in found.days.items() if day in whole} == whole
    assert {len(by_day[day]) for day in whole} <= {23, 24, 25}


def test_a_day_with_a_long_gap_has_no_lowest_and_an_hour_that_never_was_is_named() -> None:
    rows = [f"2025-03-30 {hour:02}:30,{hour / 10}" for hour in range(24)]
    rows += [f"2025-03-31 {hour:02}:30,{hour / 10}" for hour in range(24) if not 9 <= hour <= 12]
    rows += [f"2025-04-01 {hour:02}:30,{hour / 10}" for hour in range(13)]  # where the file ends

    found = told("time,temp\n" + "\n".join(rows) + "\n", BY_HOUR)

    assert [line for line, _ in found.report.faulty] == [3]
    assert "does not exist in the zone" in found.report.faulty[0][1]
    assert list(found.days) == [date(2025, 3, 30)]
    assert "2 days have 3 hours or more in a row without a reading" in found.notes[-1]


def test_three_weeks_that_say_the_same_and_a_lowest_that_never_moves_are_told_as_unlikely() -> None:
    """The real days of Seattle (source above) raise no such question; see the first test."""
    air = seattle()
    real = dict(zip(air.days, zip(air.lowest_c.tolist(), air.highest_c.tolist(), strict=True), strict=True))
    first = date(2013, 1, 7)
    copied = {first + timedelta(days=n): real[first + timedelta(days=n % 7)] for n in range(21)}
    unset = {first + timedelta(days=n): (-7.2, real[first + timedelta(days=n)][1]) for n in range(21)}

    (copies,), (stuck,) = unlikely_days(copied), unlikely_days(unset)

    assert copies == (
        "From 14 January 2013 to 27 January 2013 each day says what the day a week before it said: was a week copied?"
    )
    assert stuck.startswith(
        "The lowest is -7.2 °C on 21 days in a row, from 7 January 2013 to 27 January 2013"
    )


def test_a_mean_that_hardly_is_asks_for_the_unit() -> None:
    rows = [f"2026-01-{day:02},{day + 28},{day + 40}" for day in range(1, 15)]
    text = "date,lowest,highest\n" + "\n".join(rows) + "\n"

    assert "if it is written in °F" in doubt_of_air(told(text, BY_DAY))
    assert doubt_of_air(told(text, AirForm(**{**BY_DAY.to_json(), "unit": "F"}))) == ""
