"""Frost that a thermometer kept in mind: between two readings of it, nobody knows when, and perhaps only by the door.

What it kept in mind is the coldest hour of wood that lay there all the while, at the low end of the band and in the middle; at
the high end it was a moment by the door, and not the wood. Wood that lay there for a part of the time, and a memory of which
nobody knows since when it goes back, count at the low end alone. Where a logger told every hour, that stands. Judgement.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

from service.lib.readings import HOUR_SECONDS, Column
from service.lib.temperatures import signed
from service.lib.whole_times import second_of
from service.storage.rules.doses import Basis
from service.storage.rules.ringing import DialAt

# Nearer to what it said before than this, it is the same frost told again.
SAME_C = 0.1
# Of the time that a memory goes back, wood that lay there for so much of it lay there all the while. Judgement.
ALL_BUT = 0.9


class Counts(StrEnum):
    """How far a frost that was kept in mind is a bundle's own."""

    WHOLE = "whole"
    PARTLY = "partly"
    UNKNOWN = "unknown"


_WORDS = {
    Counts.WHOLE: "down to {c} °C since the thermometer was read before, by its memory: counted as an hour of frost, and at the high end "
    "as a moment by the door",
    Counts.PARTLY: "down to {c} °C by a thermometer’s memory, in a time of which it lay there for a part: only the low end counts it",
    Counts.UNKNOWN: "down to {c} °C by a thermometer’s memory, and nobody knows since when: only the low end counts it",
}


@dataclass(frozen=True)
class Remembered:
    """The lowest below freezing that a thermometer kept in mind, and the hours it was in; no begin: nobody knows since when."""

    begin: int | None
    end: int
    lowest_c: float

    def counts(
        self, stay: tuple[int, int], part: tuple[int, int], known: Column, first: int
    ) -> Counts | None:
        """How it counts for a stay in the store, in that part of it in which its last hour lies; None: not, or not here."""
        begin = stay[0] if self.begin is None else max(self.begin, stay[0])
        end = min(self.end, stay[1])
        if begin >= end or not part[0] < end <= part[1]:
            return None
        if bool((known[begin - first : end - first] <= Basis.HELD).all()):
            return None
        if self.begin is None:
            return Counts.UNKNOWN
        return Counts.WHOLE if end - begin >= ALL_BUT * (self.end - self.begin) else Counts.PARTLY


def remembered_frosts(dials: Iterable[DialAt]) -> tuple[Remembered, ...]:
    """Of all thermometers of a store, each place's by itself. What was told before, and was not reset, is told once."""
    found: list[Remembered] = []
    places: dict[UUID | None, list[DialAt]] = {}
    for dial in sorted(dials, key=lambda one: one.at):
        places.setdefault(dial.place_id, []).append(dial)
    for readings in places.values():
        memory: float | None = None
        since: int | None = None
        for dial in readings:
            at, told = (second_of(dial.at) + HOUR_SECONDS // 2) // HOUR_SECONDS, dial.lowest_c
            if told is not None and told < 0 and (memory is None or abs(told - memory) >= SAME_C):
                found.append(Remembered(since, at if since is None else max(at, since + 1), told))
            if dial.reset_done:
                memory, since = None, at
            elif told is not None:
                memory, since = told, at
    return tuple(sorted(found, key=lambda one: (one.end, one.lowest_c)))


def remembered_words(frosts: Sequence[tuple[Counts, float]]) -> str:
    """The coldest of each sort; empty: there was none."""
    if not frosts:
        return ""
    coldest = {sort: min((low for each, low in frosts if each is sort), default=None) for sort in Counts}
    return "; ".join(_WORDS[sort].format(c=signed(low)) for sort, low in coldest.items() if low is not None)
