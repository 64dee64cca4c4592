"""Calendars for other programs to read, in the form of iCalendar (RFC 5545): whole days, each with its words and its page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID, uuid5

MEDIA_TYPE = "text/calendar"
PRODUCT = "-//Scionwood record//Dates of one person//EN"
READ_AGAIN = timedelta(
    hours=6
)  # what calendars are asked to wait (RFC 7986, 5.7); many have a rhythm of their own
_OURS = UUID("5b0d9c0e-6c0a-4d3a-9d0e-2f6a1f1d7a11")


@dataclass(frozen=True)
class DayToMind:
    """One whole day in a calendar. `about` tells it from all others, and is the same at every reading."""

    about: str
    on: date
    title: str
    text: str
    path: str
    changed_at: datetime  # when what it tells was last changed


def uid_of(about: str) -> str:
    return str(uuid5(_OURS, about))


def calendar_of(name: str, days: Iterable[DayToMind], address: str) -> bytes:
    """The calendar as it is sent. The same days give the same bytes: nothing in it tells when it was read."""
    from icalendar import Calendar, vText

    told = Calendar()
    told.add("prodid", PRODUCT)
    told.add("version", "2.0")
    # Of these two names the library does not know by itself that they are text, with its signs escaped.
    told.add("name", vText(plain(name)))
    told.add("x-wr-calname", vText(plain(name)))  # what calendars read that do not know the line before
    told.add("refresh-interval", READ_AGAIN, parameters={"VALUE": "DURATION"})
    for day in sorted(days, key=lambda each: (each.on, each.about)):
        told.add_component(_event(day, address))
    return bytes(told.to_ical())


def _event(day: DayToMind, address: str):  # type: ignore[no-untyped-def]  # noqa: ANN202 - the library loads late
    from icalendar import Event

    event, changed_at = Event(), day.changed_at.replace(microsecond=0)
    event.add("uid", uid_of(day.about))
    # Without a METHOD both say when it was last changed, and not when it was sent (RFC 5545, 3.8.7.2).
    event.add("dtstamp", changed_at)
    event.add("last-modified", changed_at)
    event.add("dtstart", day.on)
    event.add("summary", plain(day.title))
    event.add("description", plain(f"{day.text}\n{address}{day.path}"))
    event.add("url", address + day.path)
    event.add("transp", "TRANSPARENT")  # nobody is busy all day with it
    return event


def plain(text: str) -> str:
    """Without the signs that no text of a calendar may hold (RFC 5545, 3.1: CONTROL)."""
    return "".join(sign for sign in text if sign in "\n\t" or (sign >= " " and sign != "\x7f"))
