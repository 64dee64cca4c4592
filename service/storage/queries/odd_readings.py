"""What is odd about a logger's readings as they stand: gaps, stretches in which nothing moves, days in the other unit."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

from sqlmodel import Session

from service.lib.logged import find_gaps, find_stuck
from service.lib.readings import Readings, no_readings, without_spans
from service.storage.queries.readings import readings_as_came
from service.storage.rules import Span, instant_of, second_of
from service.storage.rules.odd_readings import doubts_of, look_back, other_unit, stuck_words
from service.storage.schemas import LoggerRead, Stretch

SHOWN = timedelta(days=60)


@dataclass(frozen=True)
class OddReadings:
    """Of the last weeks that a logger wrote; the newest first."""

    gaps: list[Stretch]
    stuck: list[Stretch]
    units: list[str]


def doubts_of_batch(session: Session, logger: UUID, new: Readings) -> list[str]:
    """Doubts about readings that were just taken, held against what stands before and between them; one statement."""
    if not len(new):
        return []
    span = Span(instant_of(look_back(new)), instant_of(int(new.at[-1]) + 1))
    around = readings_as_came(session, [logger], span).get(logger, no_readings())
    return doubts_of(new, around)


def odd_readings(session: Session, logger: LoggerRead) -> OddReadings:
    """Stretches that are left out already ask for nothing more; one statement, none of a logger that never wrote."""
    if logger.last_at is None:
        return OddReadings([], [], [])
    span = Span(logger.last_at - SHOWN, logger.last_at + timedelta(seconds=1))
    came = readings_as_came(session, [logger.id], span).get(logger.id, no_readings())
    out = [
        (second_of(one.from_at), second_of(one.until_at)) for one in logger.left_out if one.ended_at is None
    ]
    counted = without_spans(came, out)
    gaps = [_stretch(begin, end, "nothing was measured") for begin, end in find_gaps(came.at)]
    stuck = [_stretch(one.begin, one.end, stuck_words(one)) for one in find_stuck(counted)]
    return OddReadings(gaps[::-1], stuck[::-1], [words for _, words in other_unit(counted)][::-1])


def _stretch(begin: int, end: int, what: str) -> Stretch:
    return Stretch(from_at=instant_of(begin), until_at=instant_of(end), what=what)
