"""A file with days of air on pages: sent, its columns told once, looked at, taken whole or not at all, and taken back."""

from __future__ import annotations

import io
from datetime import date, timedelta
from uuid import UUID

import pytest
from xlsxwriter import Workbook

from service.members.rules import Role
from service.members.signin import SESSION_COOKIE
from service.trees.tables import AirFile
from tests.bad_input.desk import PAGE, check_page, words_of
from tests.builders.members import make_session
from tests.builders.trees import make_orchard
from tests.infra.browser_checks import check_page as check_in_browser
from tests.infra.web import live
from tests.pages.desk import fresh, opened, read, send, told_next
from tests.pages.test_site_air import kept, week

FILE = "Date,Tmin,Tmax\n2026-01-05,-4,1.5\n2026-01-06,0,2\n2026-01-07,1,3\n"


@pytest.fixture
def site(writer, cast):
    return f"/sites/{make_orchard(writer, cast.steward).site_id}"


@pytest.fixture
def steward(as_):
    return as_(Role.STEWARD)


def sent(steward, site: str, raw: bytes, name: str = "station.csv"):
    form = {**opened(steward, f"{site}/air"), "measured_file": "the station at the mill"}
    form = {name: form[name] for name in ("form_key", "csrf_token", "measured_file")}
    return steward.post(f"{site}/air/files", data=form, files={"file": (name, raw, "text/csv")}, headers=PAGE)


def brought(steward, site: str, text: str = FILE, **told: str) -> str:
    answer = sent(steward, site, text.encode())
    assert answer.status_code == 303, words_of(answer)
    path = str(answer.headers["location"])
    form = {"day": "Date", "lowest": "Tmin", "highest": "Tmax", "unit": "C", "order": "ymd", **told}
    told_next(steward, send(steward, f"{path}/form", {**fresh(read(steward, path)), **form}))
    return path


def take(steward, path: str, **told: str):
    return send(steward, f"{path}/take", {**fresh(read(steward, path)), **told})


def test_a_file_is_looked_at_told_once_taken_and_taken_back(steward, site, database, clock) -> None:
    answer = sent(steward, site, FILE.encode())
    first = words_of(read(steward, answer.headers["location"]))
    path = brought(steward, site)
    seen, before = words_of(read(steward, path)), kept(steward, site)

    after = told_next(steward, take(steward, path))

    assert "How is it to be read?" in first
    assert "3 new of 3 days" in seen and "Coldest −4.0 °C" in seen and before == []
    assert "3 days came into the record." in after
    assert kept(steward, site) == [
        ("2026-01-05", -4.0, 1.5),
        ("2026-01-06", 0.0, 2.0),
        ("2026-01-07", 1.0, 3.0),
    ]
    again = sent(steward, site, FILE.encode()).headers["location"]
    assert "0 new of 3 days" in words_of(read(steward, again))  # read as it was told before
    assert "Measured: the station at the mill" in words_of(read(steward, site))
    clock.move(timedelta(hours=2))
    back = told_next(steward, send(steward, f"{path}/taken-back", fresh(read(steward, path))))
    assert "3 days were taken out again." in back
    assert kept(steward, site) == []
    with database.reading() as session:
        file = session.get_one(AirFile, UUID(path.rpartition("/")[2]))
    assert file.taken_back_at - file.settled_at == timedelta(hours=2)  # when it was taken is not forgotten
    assert file.taken_back_by_party_id == file.settled_by_party_id == file.by_party_id


def test_rows_that_cannot_be_are_left_out_only_where_somebody_says_so(steward, site) -> None:
    path = brought(steward, site, FILE + "2026-01-08,9,2\n,1,2\n")
    seen = words_of(read(steward, path))

    refused, before = take(steward, path), kept(steward, site)
    told_next(steward, take(steward, path, leave_faulty="true"))

    assert "Line 5 The lowest (9) is above the highest (2)" in seen
    assert "Line 6 It has no day" in seen
    assert "2 rows cannot be used" in check_page(refused, 422, "")
    assert before == []
    assert len(kept(steward, site)) == 3


@pytest.mark.parametrize(("word", "lowest"), [("keep", -6.0), ("replace", -4.0)])
def test_days_that_stand_are_told_and_replaced_only_where_that_is_said(steward, site, word, lowest) -> None:
    typed = [("2026-01-05", "-6", "1.5"), ("2026-01-06", "0", "2")]
    told_next(steward, send(steward, f"{site}/air", week(steward, site, typed)))
    path = brought(steward, site)
    seen = words_of(read(steward, path))

    refused, before = take(steward, path), kept(steward, site)
    told_next(steward, take(steward, path, where_differing=word))

    assert "1 new of 3 days" in seen and "Stands already 1 day" in seen
    assert "stands with −6 to 1.5 °C, not −4 to 1.5 °C" in seen
    assert '<option value="Tmin" selected>' in refused.text  # how it is read stays as it was told
    assert "One day says something else" in check_page(refused, 422, "")
    assert len(before) == 2
    assert kept(steward, site)[0] == ("2026-01-05", lowest, 1.5)


def test_three_weeks_alike_are_confirmed_before_they_are_taken(steward, site) -> None:
    days = [f"2026-01-{day:02},{-(day % 7) - 0.5},{day % 7 + 1.25}" for day in range(1, 22)]
    path = brought(steward, site, "Date,Tmin,Tmax\n" + "\n".join(days) + "\n")

    refused, before = take(steward, path), kept(steward, site)
    told_next(steward, take(steward, path, stuck="true"))

    assert "was a week copied?" in words_of(refused)
    assert (refused.status_code, before) == (422, [])
    assert len(kept(steward, site)) == 21


def days_from(first: date, count: int, lift: float = 0) -> str:
    """So many days of weather, each unlike the day a week before it."""
    days = [(first + timedelta(days=place), place * 37 % 101 / 10 + lift) for place in range(count)]
    return "Date,Tmin,Tmax\n" + "".join(f"{day},{low - 4:.1f},{low + 3:.1f}\n" for day, low in days)


def test_days_that_a_later_file_brought_too_are_told_by_its_name_before_and_after(
    steward, site, clock
) -> None:
    short, long = days_from(date(2025, 12, 1), 31), days_from(date(2025, 12, 1), 60)
    first, other = brought(steward, site, short), brought(steward, site, days_from(date(2025, 10, 1), 9))
    told_next(steward, take(steward, first))
    clock.move(timedelta(hours=1))
    told_next(steward, take(steward, other))
    alone = words_of(read(steward, first))
    later = brought(steward, site, long)
    told_next(steward, take(steward, later))

    before = words_of(read(steward, first))
    after = told_next(steward, send(steward, f"{first}/taken-back", fresh(read(steward, first))))

    shown = "Some of them may have come again with station.csv, taken on 14 February 2026, 11:00 "
    assert "come again" not in alone
    assert f"{shown}: they go too. Send that file again to have them back." in before
    assert f"{shown}: send that file again to have them back." in after
    assert "come again" not in words_of(read(steward, later))  # nothing came after it
    assert len(kept(steward, site)) == 9 + 29
    again = brought(steward, site, long)
    assert "adds nothing new" not in words_of(read(steward, again))
    assert "31 new of 60 days" in words_of(read(steward, again))
    told_next(steward, take(steward, again))
    assert len(kept(steward, site)) == 9 + 60


def test_days_that_a_later_file_left_as_they_stood_are_told_too(steward, site, clock) -> None:
    path = brought(steward, site, days_from(date(2025, 12, 1), 5))
    told_next(steward, take(steward, path))
    clock.move(timedelta(hours=1))
    other = brought(steward, site, days_from(date(2025, 12, 1), 5, lift=1))
    told_next(steward, take(steward, other, where_differing="keep"))

    assert "may have come again with station.csv" in words_of(read(steward, path))


def test_what_a_file_replaced_goes_with_it_and_that_is_said_before(steward, site) -> None:
    typed = [("2026-01-05", "-6", "1.5"), ("2026-01-06", "0", "2")]
    told_next(steward, send(steward, f"{site}/air", week(steward, site, typed)))
    path = brought(steward, site)
    told_next(steward, take(steward, path, where_differing="replace"))

    before = words_of(read(steward, path))
    told_next(steward, send(steward, f"{path}/taken-back", fresh(read(steward, path))))

    assert "nothing else" not in before
    assert "1 day stood before with other values, and this file put it right: it goes too" in before
    assert [day for day, _, _ in kept(steward, site)] == ["2026-01-06"]


def workbook() -> bytes:
    made = io.BytesIO()
    book = Workbook(made)
    sheet, days = book.add_worksheet(), book.add_format({"num_format": "yyyy-mm-dd"})
    sheet.write_row(0, 0, ["Date", "Tmin", "Tmax"])
    for row, (day, low, high) in enumerate(
        [(date(2026, 1, 5), -4.5, 1.25), (date(2026, 1, 6), 0.1 + 0.2, 2)], 2
    ):
        sheet.write_datetime(row, 0, day, days)
        sheet.write_row(row, 1, [low, high])
    sheet.write_row(5, 0, ["2026-01-09", 8, 2])
    book.close()
    return made.getvalue()


def test_a_workbook_is_read_with_the_rows_its_program_shows(steward, site) -> None:
    """The workbook is written by another library (XlsxWriter)."""
    path = str(sent(steward, site, workbook(), "station.xlsx").headers["location"])
    form = {"day": "Date", "lowest": "Tmin", "highest": "Tmax", "unit": "C", "order": "ymd"}
    told_next(steward, send(steward, f"{path}/form", {**fresh(read(steward, path)), **form}))
    seen = words_of(read(steward, path))

    told_next(steward, take(steward, path, leave_faulty="true"))

    assert "Line 6 The lowest (8) is above the highest (2)" in seen
    assert kept(steward, site) == [("2026-01-05", -4.5, 1.25), ("2026-01-06", 0.3, 2.0)]


@pytest.mark.parametrize(
    ("raw", "status", "says"),
    [
        (b"", 422, "The file is empty."),
        (b"a,b\n1,2\n", 422, "No line of it has both a time and a number."),
        (
            b"Date,Tmin,Tmax\n" + b"2026-01-05,1,2\n" * 250_001,
            413,
            "A file may have 250,000 rows; this one has more.",
        ),
        (b"PK\x03\x04 no workbook", 422, ""),
    ],
    ids=["nothing", "no days", "too many rows", "no workbook"],
)
def test_what_is_no_table_is_refused_at_once(steward, site, raw, status, says) -> None:
    answer = sent(steward, site, raw)

    assert says in check_page(answer, answer.status_code, "")
    assert answer.status_code == status


def test_what_the_file_does_not_say_is_asked(steward, site) -> None:
    path = str(sent(steward, site, b"Date,Tmin,Tmax\n05/01/2026,1,2\n06/01/2026,1,2\n").headers["location"])
    form = {"day": "Date", "lowest": "Tmin", "highest": "Tmax"}

    unit = told_next(steward, send(steward, f"{path}/form", {**fresh(read(steward, path)), **form}))
    order = told_next(
        steward, send(steward, f"{path}/form", {**fresh(read(steward, path)), **form, "unit": "C"})
    )
    refused = take(steward, path)

    assert "does not say whether it is °C or °F" in unit
    assert "in which order day, month and year stand" in order
    assert refused.status_code == 422 and kept(steward, site) == []


@pytest.mark.databases("sqlite")
def test_the_pages_have_no_fault_that_axe_knows(app, phone, site, writer, cast, steward) -> None:
    guessed = str(sent(steward, site, FILE.encode()).headers["location"])
    odd = brought(steward, site, FILE + "2026-01-08,9,2\n")
    taken = brought(steward, site)
    told_next(steward, take(steward, taken))
    signed_in = make_session(writer, cast.steward)
    with live(app) as address:
        phone.context.add_cookies([{"name": SESSION_COOKIE, "value": signed_in.token, "url": address}])
        for path in (f"{site}/air", guessed, odd, taken):
            phone.goto(address + path)
            check_in_browser(phone)
