"""Whether wood keeps until the days its club fixed: the exchange and the grafting day."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from service.lib.clock import day_words

EXCHANGE, GRAFTING = "the exchange", "grafting day"


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


def late_words(missed: Iterable[Iterable[ClubDay]], *, are_all: bool) -> list[str]:
    """For each day how many bundles fall short of it, and what to do, in the order of the days."""
    count = Counter(day for days in missed for day in days)
    least = "" if are_all else "At least "
    return [
        f"{least}{many} {'bundle hardly keeps' if many == 1 else 'bundles hardly keep'} until {day.words}: fewer than three "
        f"quarters are likely left by then. Use {'it' if many == 1 else 'them'} before, or see whether a colder store helps."
        for day, many in sorted(count.items(), key=lambda told: told[0].on)
    ]
