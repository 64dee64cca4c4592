"""Loggers: where one hangs and since when, what is added to its readings, and which readings cannot be true."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from uuid import UUID

from service.lib.errors import NotFound, Refused, Unusable
from service.lib.temperatures import fault_of_temperature, humidity_fault
from service.storage.rules.stays import Span

# No store and no winter of a club is beyond these; what says so is a fault or another unit. Judgement.
COLDEST_C, WARMEST_C = -60.0, 60.0
BY_PROGRAM = 0  # the source of readings that no file brought
# A logger that sends by itself and wrote nothing for so long is silent: no reading for 3 hours, or for half as long again as
# it usually takes, where that is longer. Judgement.
SILENT_AFTER = timedelta(hours=3)
SILENT_STEPS = 1.5
# A sensor in saturated air may read a little over; beyond that it is no humidity. Judgement.
DAMPEST_PCT = 105.0
MOST_NAMED = 20
# The largest correction a sensor that is worth keeping needs. Judgement.
LARGEST_OFFSET_C = 10.0


def is_silent(last: datetime, step_seconds: int, now: datetime) -> bool:
    """Whether a logger that writes every so many seconds should have written by now."""
    return now - last > max(SILENT_AFTER, timedelta(seconds=step_seconds * SILENT_STEPS))


class Sensor(StrEnum):
    """What a logger measures: the air of the store, or inside a pack with the wood."""

    AIR = "air"
    PACK = "pack"


class NoSuchLogger(NotFound):
    title = "There is no such logger"


class NoSuchFile(NotFound):
    title = "There is no such file of a logger"


class NoSuchStretch(NotFound):
    title = "There is no such stretch that was left out"


class LoggerRetired(Refused):
    title = "This logger is no longer used"
    todo = "Take another logger, or take this one into use again first."


class OneSpot(Unusable):
    title = "A logger hangs in one place"
    todo = "Say a box, a place or a store; or that it was taken out."


class ImpossibleReading(Unusable):
    title = "Some readings cannot be true"
    todo = "Look at the rows that are named: at the unit, at the column, at the decimal sign."


class ReadingsDiffer(Refused):
    title = "Readings stand already that say something else of the same time"
    todo = (
        "Is it the same logger, the same zone, the same unit? Then say what to do with these: keep what stands, "
        "or put the new ones in its place."
    )


class BackToFront(Unusable):
    title = "The end lies before the beginning"


@dataclass(frozen=True)
class LoggerSpot:
    """Where a logger hangs: in a box, or on a place of a store; neither: it was taken out."""

    box_id: UUID | None
    place_id: UUID | None
    sensor: Sensor

    @property
    def is_out(self) -> bool:
        return self.box_id is None and self.place_id is None


@dataclass(frozen=True)
class LoggerMoved:
    """One time a logger was hung somewhere or taken out."""

    logger_id: UUID
    spot: LoggerSpot
    from_at: datetime
    seq: int


@dataclass(frozen=True)
class LoggerStay:
    """From when until when a logger hung somewhere."""

    logger_id: UUID
    spot: LoggerSpot
    span: Span


def plan_logger_stays(moves: Iterable[LoggerMoved]) -> list[LoggerStay]:
    """The stays that follow from all moves of loggers: of moves told for the same instant the last told counts."""
    by_logger: dict[UUID, dict[datetime, LoggerMoved]] = {}
    for move in sorted(moves, key=lambda move: (move.from_at, move.seq)):
        by_logger.setdefault(move.logger_id, {})[move.from_at] = move
    stays: list[LoggerStay] = []
    for by_time in by_logger.values():
        told = list(by_time.values())
        ends: list[datetime | None] = [*(move.from_at for move in told[1:]), None]
        stays += [
            LoggerStay(move.logger_id, move.spot, Span(move.from_at, end))
            for move, end in zip(told, ends, strict=True)
            if not move.spot.is_out
        ]
    return stays


@dataclass(frozen=True)
class OffsetFrom:
    """What is added to every reading from an instant on, in degrees."""

    offset_c: float
    from_at: datetime
    seq: int


def plan_offsets(told: Iterable[OffsetFrom]) -> list[OffsetFrom]:
    """Offsets in the order of time; of those told for the same instant the last told counts."""
    by_time: dict[datetime, OffsetFrom] = {}
    for one in sorted(told, key=lambda one: (one.from_at, one.seq)):
        by_time[one.from_at] = one
    return list(by_time.values())


def offset_at(offsets: Sequence[OffsetFrom], at: datetime) -> float:
    """What is added to a reading of an instant: nothing before the first comparison."""
    return next((one.offset_c for one in reversed(offsets) if one.from_at <= at), 0.0)


def fault_of_store(celsius: float, given: float) -> str:
    """Why no store can have had this temperature, or nothing."""
    return fault_of_temperature(celsius, given, (COLDEST_C, WARMEST_C), "a store")


def fault_of_humidity(percent: float) -> str:
    return humidity_fault(percent, DAMPEST_PCT)


MOST_ASKED = timedelta(days=32)


class TooLong(Unusable):
    title = "This asks for too long a time at once"
    todo = "Ask for at most 32 days, several times over."


def span_of(from_at: datetime, until_at: datetime) -> Span:
    """A time that may be asked for at once. Raises `BackToFront` and `TooLong`."""
    check_span(from_at, until_at)
    if until_at - from_at > MOST_ASKED:
        raise TooLong(f"It is {(until_at - from_at).days} days.", field="until_at")
    return Span(from_at, until_at)


def check_span(from_at: datetime, until_at: datetime) -> None:
    if until_at < from_at:
        raise BackToFront("A stretch ends after it begins.", field="until_at")
