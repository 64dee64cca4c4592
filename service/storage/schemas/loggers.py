"""Bodies and answers of loggers and their readings."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Annotated
from uuid import UUID

from pydantic import Field, model_validator

from service.lib.database import new_id
from service.lib.schemas import Answer, Body, Instant, Line, Words
from service.storage.rules import LARGEST_OFFSET_C, Sensor, TempUnit, WhereDiffering
from service.storage.schemas.stores import Change, Note, ShortName

MOST_READINGS = 10_000
# As a logger writes it: a decimal number, kept digit by digit.
Number = Annotated[Decimal, Field(max_digits=12, decimal_places=6, allow_inf_nan=False)]
Why = Annotated[Line, Field(min_length=3, max_length=500)]


class Spot(Body):
    """Where a logger hangs: at most one of these."""

    store_id: UUID | None = Field(default=None, description="anywhere in this store")
    place_id: UUID | None = None
    box_id: UUID | None = None

    def spots(self) -> int:
        return sum(each is not None for each in (self.store_id, self.place_id, self.box_id))


class LoggerCreate(Spot):
    """A logger; it may be hung in its place at once."""

    id: UUID = Field(default_factory=new_id)
    name: ShortName
    serial: Annotated[Line, Field(max_length=100)] = ""
    note: Words = ""
    sensor: Sensor = Field(
        default=Sensor.AIR,
        description="whether it measures the air of the store or inside a pack; inside, it counts for the one bundle that lies "
        "with it in a box, or without a box in the store, and for none where several do",
    )
    from_at: Instant | None = Field(default=None, description="since when it hangs there; now if left out")

    @model_validator(mode="after")
    def _one_spot(self) -> LoggerCreate:
        if self.spots() > 1:
            raise ValueError("say a box, a place or a store, one of them only")
        return self


class LoggerUpdate(Change):
    """What changed of a logger; what is left out stays."""

    name: ShortName | None = None
    serial: Annotated[Line, Field(max_length=100)] | None = None
    note: Words | None = None
    retired: bool | None = Field(
        default=None, description="one that is no longer used takes no more readings"
    )


class LoggerMoveCreate(Spot):
    """A logger hung somewhere else, or taken out. Told again for the same instant, it puts the first right."""

    id: UUID = Field(default_factory=new_id)
    out: bool = False
    sensor: Sensor = Sensor.AIR
    from_at: Instant | None = Field(default=None, description="since when; now if left out")
    note: Note = ""

    @model_validator(mode="after")
    def _one_spot(self) -> LoggerMoveCreate:
        if self.spots() + self.out != 1:
            raise ValueError("say a box, a place or a store; or that it was taken out")
        return self


class LoggerOffsetCreate(Body):
    """What a comparison found: so many degrees are added to every reading from then on, until the next comparison."""

    id: UUID = Field(default_factory=new_id)
    offset_c: float = Field(
        ge=-LARGEST_OFFSET_C,
        le=LARGEST_OFFSET_C,
        allow_inf_nan=False,
        description="in °C; a logger that shows 0.4 in melting ice needs -0.4",
    )
    from_at: Instant
    how: Annotated[Words, Field(max_length=500)] = ""


class LoggerStayRead(Answer):
    """From when until when a logger hung somewhere; without an end it still does."""

    logger_id: UUID
    sensor: Sensor
    box_id: UUID | None = None
    box_name: str = ""
    place_id: UUID | None = None
    place_name: str = ""
    store_id: UUID | None = None
    store_name: str = ""
    from_at: datetime
    until_at: datetime | None


class LoggerOffsetRead(Answer):
    """What is added to a logger's readings from an instant on."""

    id: UUID
    offset_c: float
    from_at: datetime
    how: str


class LeftOutCreate(Body):
    """A stretch of readings, both ends within it, that shall count for nothing: kept, and not used."""

    id: UUID = Field(default_factory=new_id)
    from_at: Instant
    until_at: Instant
    why: Why


class LeftOutRead(Answer):
    """A stretch that counts for nothing, until it is taken in again."""

    id: UUID
    logger_id: UUID
    from_at: datetime
    until_at: datetime
    why: str
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID
    ended_at: datetime | None = None


class LoggerSummary(Answer):
    """A logger, where it hangs, and how far its readings reach."""

    id: UUID
    name: str
    serial: str
    note: str
    retired_at: datetime | None
    hangs: LoggerStayRead | None = None
    readings: int = 0
    last_at: datetime | None = None
    version: int


class QuietRead(Answer):
    """A time in which a logger wrote nothing; without an end it is silent still, and used to send by itself."""

    logger_id: UUID
    logger_name: str
    from_at: datetime
    until_at: datetime | None


class LoggerRead(LoggerSummary):
    """A logger with all that is known of it."""

    stays: list[LoggerStayRead] = []
    offsets: list[LoggerOffsetRead] = []
    left_out: list[LeftOutRead] = []


# -- readings ----------------------------------------------------------------------------------------------------------


class ReadingCreate(Body):
    """One reading: an instant with its zone (kept to the second), a temperature, a humidity in percent where there is one."""

    at: Instant
    temp: Number
    humidity: Number | None = None


class ReadingBatch(Body):
    """Readings of one logger, in any order. Those that stand already are left as they are, so a batch may come twice."""

    unit: TempUnit = TempUnit.C
    where_differing: WhereDiffering = Field(
        default=WhereDiffering.REFUSE,
        description="where another value stands for the same instant: refuse the batch, keep what stands, or replace it",
    )
    readings: list[ReadingCreate] = Field(min_length=1, max_length=MOST_READINGS)


class ReadingsTaken(Answer):
    """What became of a batch: how many were new, how many stood already, how many took another's place or gave way."""

    added: int
    same: int
    replaced: int = 0
    passed_over: int = 0
    doubts: list[str] = Field(
        default=[],
        description="What is odd about them beside what stands: taken all the same, for a person to look at.",
    )


class ReadingRead(Answer):
    """A reading as it came, digit by digit."""

    at: datetime
    temp: Decimal
    unit: TempUnit
    humidity: Decimal | None


class HourRead(Answer):
    """The mean of the readings of an hour (UTC), offset and stretches left out taken into account."""

    at: datetime
    temp_c: float
    humidity: float | None


class LoggerHours(Answer):
    """The hours one logger measured while it hung in a store."""

    logger_id: UUID
    name: str
    sensor: Sensor
    hours: list[HourRead]
