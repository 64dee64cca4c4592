"""How warm and damp a store was, as a picture with its table, over any days."""

from __future__ import annotations

import contextlib
from datetime import date, datetime
from html import escape
from itertools import groupby
from typing import Annotated
from uuid import UUID
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Query, Request, Response

from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages.pictures import NARROW, both_widths, closer_over, temps_of
from service.pages.render import frame, render
from service.storage import queries
from service.storage.rules.spans import (
    MOST_ROWS,
    USUAL_DAYS,
    WIDTHS,
    DaysShown,
    NoSuchDays,
    as_wide_as,
    earlier_than,
    later_than,
    plan_days_shown,
    stretches_of,
)
from service.storage.rules.temps import DayTemps, weeks_of
from service.storage.schemas import StoreTempsRead
from service.storage.schemas.temps import HourTempsRead

router = APIRouter(route_class=PageRoute)
Host = Annotated[Asker, may(May.STORE)]
FirstDay = Annotated[str, Query(alias="from", max_length=40)]
Days = Annotated[str, Query(max_length=40)]
PARTS_WIDE, PARTS_NARROW = 12, 6  # as many as a thumb can tell apart


@router.get("/store/{store_id}/temperature")
def get_temperature(
    request: Request, session: Read, asker: Host, store_id: UUID, from_day: FirstDay = "", days: Days = ""
) -> Response:
    """Any days of a store, the last six weeks where none are told: up to a week hour by hour."""
    around = frame(request)
    shown = plan_days_shown(_day(from_day), _count(days), around.today)
    store = queries.get_store(session, store_id)
    now = request.app.state.clock.now()
    temps = queries.store_temps(session, store_id, now, shown.count, shown.first)
    weeks = (
        []
        if temps.hours or shown.count <= MOST_ROWS
        else weeks_of([DayTemps(**day.model_dump()) for day in temps.days])
    )
    way = _Way(shown, around.today)
    return render(
        request, "store/temperature.html", asker=asker, store=store, temps=temps, way=way, shown=shown, weeks=weeks,
        hours=_hours_by_day(temps, around.zone),
        picture=_picture(temps, store.name, way, around.zone),
    )  # fmt: skip


def _hours_by_day(
    temps: StoreTempsRead, zone: str
) -> list[tuple[date, list[tuple[datetime, HourTempsRead]]]]:
    """The latest day first, and in it the latest hour: each with its time in the club's zone."""
    told = [(hour.at.astimezone(ZoneInfo(zone)), hour) for hour in reversed(temps.hours)]
    return [(day, list(group)) for day, group in groupby(told, key=lambda each: each[0].date())]


def _day(told: str) -> date | None:
    if not told.strip():
        return None
    with contextlib.suppress(ValueError):
        return date.fromisoformat(told.strip())
    raise NoSuchDays(f"{told} is no day.", field="from")


def _count(told: str) -> int:
    if not told.strip():
        return USUAL_DAYS
    if told.strip().isdecimal():
        return int(told)
    raise NoSuchDays(f"{told} is no number of days.", field="days")


class _Way:
    """The addresses that lead from these days to others."""

    def __init__(self, shown: DaysShown, today: date) -> None:
        self.shown, self.today = shown, today

    def to(self, days: DaysShown) -> str:
        """From the page itself, which keeps a page of many such links small."""
        if days.last >= self.today:
            return f"?days={days.count}"
        return f"?from={days.first.isoformat()}&days={days.count}"

    def to_week(self, first: date, last: date) -> str:
        return self.to(DaysShown(first, last))

    @property
    def widths(self) -> list[tuple[str, str]]:
        """Each with its address, or none where it is the one that is shown."""
        found = []
        for words, count in WIDTHS.items():
            same = count == self.shown.count
            found.append((words, "" if same else self.to(as_wide_as(self.shown, count, self.today))))
        return found

    @property
    def earlier(self) -> str:
        days = earlier_than(self.shown, self.today)
        return self.to(days) if days else ""

    @property
    def later(self) -> str:
        days = later_than(self.shown, self.today)
        return self.to(days) if days else ""

    def closer(self, most: int) -> list[tuple[int, str, str]]:
        """The stretches of the picture: how many days each, its address, and what it is called."""
        return [
            (days.count, self.to(days), f"Closer: {span_words(days)}")
            for days in stretches_of(self.shown, most)
        ]


def span_words(days: DaysShown) -> str:
    """`1 to 14 January 2026`, as short as it is clear."""
    if days.count == 1:
        return f"{days.first.day} {days.first:%B %Y}"
    same_year = days.first.year == days.last.year
    month = "" if same_year and days.first.month == days.last.month else f" {days.first:%B}"
    year = "" if same_year else f" {days.first.year}"
    return f"{days.first.day}{month}{year} to {days.last.day} {days.last:%B %Y}"


def _picture(temps: StoreTempsRead, name: str, way: _Way, zone: str) -> str:
    wide, narrow = temps_of(temps, name, zone=zone), temps_of(temps, name, width=NARROW, zone=zone)
    return both_widths(
        closer_over(wide, [(count, escape(href), escape(words)) for count, href, words in way.closer(PARTS_WIDE)]),
        closer_over(narrow, [(count, escape(href), escape(words)) for count, href, words in way.closer(PARTS_NARROW)], width=NARROW),
    )  # fmt: skip
