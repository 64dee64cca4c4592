"""Readings out of loggers' tables: columns, units, zones, orders, and every fault by its line."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.lib.local_times import NoSuchZone
from service.lib.logger_files import (
    IN_FILE,
    FileForm,
    FileRead,
    FormWrong,
    read_file,
    read_number,
)
from service.lib.logger_guess import guess_form, several_loggers
from service.lib.plain_csv import read_table

FORM = FileForm(time="Time", temp="Temp", humidity="RH", zone="Europe/London")


def table(*lines: str, heading: str = "Time,Temp,RH"):
    return read_table("\n".join([heading, *lines]).encode())


def read(*lines: str, form: FileForm = FORM, heading: str = "Time,Temp,RH") -> FileRead:
    return read_file(table(*lines, heading=heading), form)


def temps(found: FileRead) -> list[Decimal]:
    return [Decimal(value).scaleb(-found.readings.temp_decimals) for value in found.readings.temp.tolist()]


def instants(found: FileRead) -> list[str]:
    return [datetime.fromtimestamp(at, UTC).isoformat() for at in found.readings.at.tolist()]


@pytest.mark.parametrize(
    "told, order",
    [
        ("2026-07-04 18:05", "ymd"),
        ("2026-07-04T18:05:00", "ymd"),
        ("2026/07/04 18:05:00", "dmy"),
        ("04.07.2026 18:05", "dmy"),
        ("4/7/2026 18:05:00", "dmy"),
        ("07/04/2026 06:05 PM", "mdy"),
        ("7/4/26 6:05 p.m.", "mdy"),
        ("04-07-26, 18:05:00.000", "dmy"),
    ],
)
def test_a_date_is_read_in_every_usual_way_of_writing_it(told: str, order: str) -> None:
    found = read(f'"{told}",2.5,91', form=FileForm("Time", "Temp", humidity="RH", zone="+01:00", order=order))

    assert instants(found) == ["2026-07-04T17:05:00+00:00"]


def test_date_and_time_may_have_columns_of_their_own() -> None:
    form = FileForm("Time", "Temp", date="Date", zone="UTC", order="dmy")

    found = read("04/07/2026,18:05,2.5", "05/07/2026,06:05:30,2.6", form=form, heading="Date,Time,Temp")

    assert instants(found) == ["2026-07-04T18:05:00+00:00", "2026-07-05T06:05:30+00:00"]


def test_times_that_bring_their_zone_need_no_other() -> None:
    form = FileForm("Time", "Temp", humidity="RH", zone=IN_FILE)

    found = read(
        "2026-01-10T08:00:00Z,2.5,91",
        "2026-01-10T10:30:00+02:00,2.6,91",
        "2026-01-10 09:00,2.7,91",
        form=form,
    )

    assert instants(found) == ["2026-01-10T08:00:00+00:00", "2026-01-10T08:30:00+00:00"]
    assert found.report.faulty == [(4, "'2026-01-10 09:00' does not say in which zone it is")]


def test_a_zone_in_the_file_is_never_overruled_in_silence() -> None:
    found = read("2026-01-10T08:00:00Z,2.5,91")

    assert found.report.faulty == [
        (2, "'2026-01-10T08:00:00Z' brings a zone of its own: choose 'in the file' as the zone")
    ]


@pytest.mark.parametrize(
    "told, value",
    [
        ("2.5", (25, 1)),
        (" 2,50 ", (250, 2)),
        ("-0.0", (0, 1)),
        ("+3", (3, 0)),
        ("36.5 °F", (365, 1)),
        ("2.5C", (25, 1)),
        ("91 %", (91, 0)),
        ("−1.5", (-15, 1)),
        ("2.1000000", (2100000, 6)),
    ],
)
def test_a_number_is_read_with_its_decimals(told: str, value: tuple[int, int]) -> None:
    assert read_number(told) == value


@pytest.mark.parametrize("told", ["", "--", "N/A", "nan", " ERR ", "---"])
def test_where_nothing_was_measured_there_is_no_reading(told: str) -> None:
    found = read(f"2026-01-10 08:00,{told},91", "2026-01-10 09:00,2.5,91")

    assert (len(found.readings), found.report.without_value, found.report.faulty) == (1, 1, [])


@pytest.mark.parametrize(
    "row, says",
    [
        ("2026-01-10 08:00,warm,91", "'warm' is no number"),
        ("2026-01-10 08:00,1e5,91", "is no number"),
        ("2026-01-10,2.5,91", "is no date with a time"),
        ("2026-13-10 08:00,2.5,91", "no month 13"),
        ("2026-01-10 24:30,2.5,91", "no such time of day"),
        ("soon,2.5,91", "is no date with a time"),
        ("2026-01-10 08:00,2.5", "another number of columns"),
        ("2026-01-10 08:00,2.1234567,91", "more than 6 decimals"),
        ("2026-03-29 01:30,2.5,91", "does not exist in the zone"),
        ("1969-01-10 08:00,2.5,91", "the year 1969"),
        ("2026-01-10 08:00,123456789,91", "is too large"),
        ("2026-01-10 13:00 PM,2.5,91", "no hour 13 before or after noon"),
    ],
)
def test_a_row_that_cannot_be_read_is_named_with_its_line_and_the_rest_is_read(row: str, says: str) -> None:
    found = read("2026-01-01 08:00,2.5,91", row, "2026-04-10 10:00,2.7,91")

    ((line, words),) = found.report.faulty
    assert line == 3
    assert says in words
    assert found.lines == [2, 4]


def test_newest_first_is_turned_round_and_disorder_is_counted() -> None:
    lines = [f"2026-01-{day:02} 08:00,{day / 10},91" for day in range(1, 11)]

    back = read(*reversed(lines))
    mixed = read(*lines[:4], lines[6], lines[5], lines[4], *lines[7:])

    assert (back.report.newest_first, back.report.out_of_order) == (True, 0)
    assert temps(back) == temps(mixed) == [Decimal(day) / 10 for day in range(1, 11)]
    assert (mixed.report.newest_first, mixed.report.out_of_order) == (False, 2)
    assert back.lines == list(range(11, 1, -1))


@pytest.mark.parametrize("newest_first", [False, True])
@pytest.mark.parametrize("step", [10, 60])
def test_the_hour_that_happens_twice_is_told_apart_by_its_order(newest_first: bool, step: int) -> None:
    """Against the zone database: what a clock in Berlin shows through the night of 25 October 2026."""
    begin = datetime(2026, 10, 24, 20, tzinfo=UTC)
    at = [begin + timedelta(minutes=step * n) for n in range(10 * 60 // step)]
    lines = [f"{each.astimezone(ZoneInfo('Europe/Berlin')):%Y-%m-%d %H:%M},2.5,91" for each in at]

    found = read(
        *(reversed(lines) if newest_first else lines), form=FileForm("Time", "Temp", zone="Europe/Berlin")
    )

    assert found.readings.at.tolist() == [int(each.timestamp()) for each in at]
    assert found.report.twice == ["25 October 2026, 02:00 to 03:00"]
    assert (found.report.out_of_order, found.report.faulty) == (0, [])


def test_the_hour_that_happens_twice_and_is_there_once_is_told() -> None:
    lines = [f"2026-10-25 {hour:02}:{minute:02},2.5,91" for hour in range(5) for minute in (0, 30)]

    found = read(*lines, form=FileForm("Time", "Temp", zone="Europe/Berlin"))

    assert (found.report.twice, found.report.once) == ([], ["25 October 2026, 02:00 to 03:00"])


@pytest.mark.parametrize(
    "form, problem",
    [
        (FileForm("When", "Temp", zone="UTC"), FormWrong),
        (FileForm("Time", "", zone="UTC"), FormWrong),
        (FileForm("Time", "Time", zone="UTC"), FormWrong),
        (FileForm("Time", "Temp", zone="UTC", unit="K"), FormWrong),
        (FileForm("Time", "Temp", zone="UTC", order="ydm"), FormWrong),
        (FileForm("Time", "Temp", zone=""), NoSuchZone),
        (FileForm("Time", "Temp", zone="Berlin"), NoSuchZone),
    ],
    ids=[
        "no such column",
        "no temperature",
        "one column twice",
        "kelvin",
        "no such order",
        "no zone",
        "no such zone",
    ],
)
def test_a_form_that_does_not_fit_is_refused(form: FileForm, problem: type[Exception]) -> None:
    with pytest.raises(problem):
        read("2026-01-10 08:00,2.5,91", form=form)


# -- guessing ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "heading, row, wanted",
    [
        (
            "Time,Temperature(°F),Humidity(%RH)",
            "2026-01-10 08:00,36.5,91",
            FileForm("Time", "Temperature(°F)", "", "Humidity(%RH)", "F"),
        ),
        (
            "Index,Datum,Uhrzeit,Temp. [°C],Feuchte [%]",
            '1,10.01.2026,08:00:00,"2,5","91,0"',
            FileForm("Uhrzeit", "Temp. [°C]", "Datum", "Feuchte [%]", "C", order="dmy"),
        ),
        (
            "timestamp,battery,t (C)",
            "2026-01-10T08:00:00Z,3.01,2.5",
            FileForm("timestamp", "t (C)", zone=IN_FILE),
        ),
        (
            "Date/Time,Celsius(C),Serial",
            "10/01/2026 08:00,2.5,A-17",
            FileForm("Date/Time", "Celsius(C)", order="dmy"),
        ),
    ],
    ids=["American", "German", "with its zone", "one column for both"],
)
def test_usual_headings_are_understood(heading: str, row: str, wanted: FileForm) -> None:
    assert guess_form(table(*[row] * 3, heading=heading)) == wanted


def test_day_and_month_are_told_apart_by_the_smaller_steps() -> None:
    """All days are possible months here."""
    day_first = [f"{day:02}/02/2026 08:00,2.5,91" for day in range(1, 13)]
    month_first = [f"02/{day:02}/2026 08:00,2.5,91" for day in range(1, 13)]

    assert guess_form(table(*day_first)).order == "dmy"
    assert guess_form(table(*month_first)).order == "mdy"


def test_two_loggers_in_one_file_are_seen_and_one_can_be_chosen() -> None:
    lines = [
        f"2026-01-{day:02} 08:00,{temp},{name}"
        for day in range(1, 11)
        for name, temp in (("Top", 2.5), ("Bottom", 3.5))
    ]
    both = table(*lines, heading="Time,Temp,Sensor")
    form = guess_form(both, "UTC")

    assert several_loggers(both, form) == ("Sensor", ["Bottom", "Top"])
    chosen = read_file(both, FileForm("Time", "Temp", zone="UTC", only_column="Sensor", only_value="Top"))
    assert (set(temps(chosen)), chosen.report.of_others) == ({Decimal("2.5")}, 10)
    assert several_loggers(table(*["2026-01-10 08:00,2.5,Top"] * 9, heading="Time,Temp,Sensor"), form) is None


@given(
    st.lists(
        st.tuples(st.datetimes(datetime(2020, 1, 1), datetime(2030, 1, 1)), st.decimals(-40, 50, places=2)),  # noqa: DTZ001
        min_size=1,
        max_size=40,
        unique_by=lambda row: row[0].replace(microsecond=0),
    ),
    st.sampled_from(["%Y-%m-%d %H:%M:%S", "%d.%m.%Y %H:%M:%S", "%m/%d/%Y %I:%M:%S %p"]),
)
def test_what_was_written_is_read_whatever_the_way_of_writing(
    rows: list[tuple[datetime, Decimal]], way: str
) -> None:
    order = {"%Y": "ymd", "%d": "dmy", "%m": "mdy"}[way[:2]]
    lines = [
        f"{at.strftime(way)};{value}".replace(".", ",") if order == "dmy" else f"{at.strftime(way)};{value}"
        for at, value in rows
    ]
    lines = [line.replace(",", ".", 2) if order == "dmy" else line for line in lines]

    found = read_file(
        read_table("\n".join(["Time;Temp", *lines]).encode()),
        FileForm("Time", "Temp", zone="UTC", order=order),
    )

    wanted = sorted((int(at.replace(tzinfo=UTC, microsecond=0).timestamp()), value) for at, value in rows)
    assert list(zip(found.readings.at.tolist(), temps(found), strict=True)) == wanted
