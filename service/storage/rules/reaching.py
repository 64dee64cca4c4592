"""Whether wood keeps until the days its club fixed: the exchange and the grafting day."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from service.lib.clock import day_words

EXCHANGE, GRAFTING = "the exchange", "grafting day"
# Not "a colder store": wood of evergreens is harmed by it.
ANOTHER_STORE = "or see on its page whether it would keep longer in another store"


@dataclass(frozen=True)
class ClubDay:
    """A day that wood should reach with three quarters of it fit to graft."""

    what: str
    on: date

    @property
    def words(self) -> str:
        return f"{self.what} on {day_words(self.on)}"


def club_days(exchange_on: date | None, grafting_on: date | None) -> list[ClubDay]:
    """Those that are fixed, the first first."""
    told = ((EXCHANGE, exchange_on), (GRAFTING, grafting_on))
    return sorted((ClubDay(what, on) for what, on in told if on is not None), key=lambda day: day.on)


def not_reached(until: date | None, days: Iterable[ClubDay], today: date) -> list[ClubDay]:
    """Of days that are still to come, those before which wood that keeps until a day falls short; none: it outlasts them."""
    return [day for day in days if until is not None and until < day.on and today <= day.on]


def late_words(missed: Iterable[Iterable[ClubDay]], told_until: date | None = None) -> str:
    """How many bundles fall short of which day, and what to do; empty where none does.

    `told_until`: the end of the last of a list that was cut off; of later days there may be more.
    """
    days = sorted(Counter(day for each in missed for day in each).items(), key=lambda told: told[0].on)
    if not days:
        return ""
    parts = []
    for place, (day, many) in enumerate(days):
        least = "at least " if told_until is not None and told_until < day.on else ""
        keep = f" {'bundle hardly keeps' if many == 1 else 'bundles hardly keep'}" if place == 0 else ""
        parts.append(f"{least}{many}{keep} until {day.words}")
    words = " and ".join(parts)
    return f"{words[0].upper()}{words[1:]}: fewer than three quarters are likely left by then. Use such wood before, {ANOTHER_STORE}."
