"""Calendars as they are sent, against RFC 5545 line by line, and read back by the library's parser."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime

import pytest
from icalendar import Calendar

from service.lib.calendars import DayToMind, calendar_of, plain
from tests.infra.ical import check_rules, events_of, unfolded

CHANGED = datetime(2026, 1, 10, 12, 30, 45, 678900, tzinfo=UTC)
NAMES = (
    "Reine des Reinettes",
    "Žlutý bělokvět",
    "Ålands Vinäpple",
    "国光",
    "Пепин шафранный",
    "🍎 no name of any cultivar",
)


def day(
    about="looks/1",
    on=date(2026, 3, 29),
    title="A look",
    text="Look at it.",
    path="/store/1",
    changed=CHANGED,
):
    return DayToMind(about, on, title, text, path, changed)


def sent(*days, name="Grafting dates", address="https://club.example"):
    return calendar_of(name, days, address)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("times", [1, 5, 40])
def test_lines_are_folded_at_75_octets_and_no_letter_is_torn(name, times):
    body = sent(day(title=f"{name}; " * times, text=f"{name}, \\ and\nmore " * times), name=name)

    check_rules(body)
    (event,) = events_of(body)
    assert event["SUMMARY"] == f"{name}; " * times
    assert event["DESCRIPTION"] == f"{name}, \\ and\nmore " * times + "\nhttps://club.example/store/1"


def test_commas_semicolons_backslashes_and_new_lines_are_escaped():
    """RFC 5545, 3.3.11."""
    body = sent(day(title="Wood, pears; a\\b", text="one\ntwo"), name="Fen, Moor; \\ Hill")

    lines = unfolded(body)
    assert r"SUMMARY:Wood\, pears\; a\\b" in lines
    assert r"DESCRIPTION:one\ntwo\nhttps://club.example/store/1" in lines
    assert r"NAME:Fen\, Moor\; \\ Hill" in lines
    assert r"X-WR-CALNAME:Fen\, Moor\; \\ Hill" in lines


def test_a_name_cannot_smuggle_a_line_in():
    """RFC 5545, 3.1: a content line ends at CRLF, and holds no control signs."""
    body = sent(day(title="Gala\r\nATTENDEE:mailto:nobody@club.example", text="a\rb\x00c\x7f\x1bd"))

    check_rules(body)
    assert not any(line.startswith("ATTENDEE") for line in unfolded(body))
    assert events_of(body)[0]["DESCRIPTION"].startswith("abcd\n")
    assert plain("a\tb") == "a\tb"


def test_a_whole_day_is_a_date_without_an_hour():
    """RFC 5545, 3.6.1: DTSTART as DATE without an end lasts one day; 3.2.20: a date has no zone."""
    body = sent(day(on=date(2026, 3, 29)))

    assert "DTSTART;VALUE=DATE:20260329" in unfolded(body)
    assert b"TZID" not in body
    (event,) = Calendar.from_ical(body).walk("VEVENT")
    assert event.decoded("dtstart") == date(2026, 3, 29)


def test_when_it_was_changed_is_told_and_not_when_it_was_read():
    """RFC 5545, 3.8.7.2: without a METHOD the stamp is that of the last change; 3.8.7.3: in UTC."""
    (event,) = events_of(sent(day()))

    assert event["DTSTAMP"] == event["LAST-MODIFIED"] == "20260110T123045Z"
    (read,) = Calendar.from_ical(sent(day())).walk("VEVENT")
    assert read.decoded("dtstamp") == read.decoded("last-modified") == CHANGED.replace(microsecond=0)


def test_the_same_days_give_the_same_bytes_in_any_order():
    one, other = day(about="looks/1"), day(about="looks/2", on=date(2026, 3, 1))

    assert sent(one, other) == sent(other, one)
    uids = [event["UID"] for event in events_of(sent(one, other))]
    assert len(set(uids)) == 2
    assert all(re.fullmatch(r"[0-9a-f-]{36}", uid) for uid in uids)
    assert [event["UID"] for event in events_of(sent(other, one, address="https://moved.example"))] == uids


def test_a_calendar_without_a_day_is_a_calendar():
    body = sent()

    check_rules(body)
    assert Calendar.from_ical(body).walk("VEVENT") == []
