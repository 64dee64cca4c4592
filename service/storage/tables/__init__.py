"""Stores, places, boxes that move whole, what lay where, looks at bundles, and readings of loggers."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import JSON, BigInteger, CheckConstraint, Index, UniqueConstraint
from sqlmodel import Field, SQLModel

from service.lib.database import instant, new_id, refers_to, word
from service.storage.tables.counting import ShelfCount, ShelfFinding, ShelfPhoto
from service.storage.tables.learned import AgeingLearned, AgeingVersion, ForecastKept, NumbersUsed
from service.storage.tables.limits import NominalTemp, OwnLimits
from service.storage.tables.packing import BundlePacking


class Store(SQLModel, table=True):
    """A fridge, cold room or cellar, and with whom it stands."""

    id: UUID = Field(default_factory=new_id, primary_key=True)
    code: str | None = Field(default=None, max_length=8, unique=True)
    name: str = Field(max_length=200, unique=True)
    kind: str = word(default="fridge")
    host_id: UUID = refers_to("party.id", index=True)
    whereabouts: str = Field(default="", max_length=500)
    fruit_inside: bool | None = None
    closed_at: datetime | None = instant(default=None)
    note: str = Field(default="", max_length=2000)
    version: int = 1


class Place(SQLModel, table=True):
    """A shelf or corner of a store."""

    __table_args__ = (UniqueConstraint("store_id", "name"),)
    id: UUID = Field(default_factory=new_id, primary_key=True)
    store_id: UUID = refers_to("store.id")
    name: str = Field(max_length=100)


class Box(SQLModel, table=True):
    """A box that moves whole, with all that lies in it."""

    id: UUID = Field(default_factory=new_id, primary_key=True)
    code: str | None = Field(default=None, max_length=8, unique=True)
    name: str = Field(max_length=100, unique=True)
    note: str = Field(default="", max_length=2000)
    version: int = 1


class PutAway(SQLModel, table=True):
    """One act of putting a bundle or a box somewhere, or taking it out. Rows are only ever added."""

    __tablename__ = "put_away"
    __table_args__ = (CheckConstraint("(bundle_id is null) <> (box_id is null)", name="one_thing"),)
    seq: int | None = Field(default=None, primary_key=True)
    id: UUID = Field(default_factory=new_id, unique=True)
    bundle_id: UUID | None = refers_to("bundle.id", default=None, nullable=True, index=True)
    box_id: UUID | None = refers_to("box.id", default=None, nullable=True, index=True)
    into_box_id: UUID | None = refers_to("box.id", default=None, nullable=True)
    place_id: UUID | None = refers_to("place.id", default=None, nullable=True)  # neither: taken out
    done_at: datetime = instant()
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
    note: str = Field(default="", max_length=1000)


class Stay(SQLModel, table=True):
    """From when until when a bundle or box lay somewhere: rebuilt from what was put away."""

    __table_args__ = (
        Index("ix_stay_bundle_from", "bundle_id", "from_at"),
        Index("ix_stay_box_from", "box_id", "from_at"),
        Index("ix_stay_into_box_from", "into_box_id", "from_at"),
        Index("ix_stay_place_from", "place_id", "from_at"),
    )
    id: int | None = Field(default=None, primary_key=True)
    bundle_id: UUID | None = refers_to("bundle.id", default=None, nullable=True)
    box_id: UUID | None = refers_to("box.id", default=None, nullable=True)
    into_box_id: UUID | None = refers_to("box.id", default=None, nullable=True)
    place_id: UUID | None = refers_to("place.id", default=None, nullable=True)
    from_at: datetime = instant()
    until_at: datetime | None = instant(default=None)


class BundleCheck(SQLModel, table=True):
    """A look at a bundle in store or at the bench."""

    __tablename__ = "bundle_check"
    __table_args__ = (Index("ix_bundle_check_bundle_seen", "bundle_id", "seen_at"),)
    id: UUID = Field(default_factory=new_id, primary_key=True)
    bundle_id: UUID = refers_to("bundle.id")
    buds: str = word(default="")  # tight, swelling, green
    wrinkled: bool | None = None
    mould: bool | None = None
    green_under_scratch: bool | None = None
    bag_grams: float | None = None
    seen_at: datetime = instant()
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
    note: str = Field(default="", max_length=2000)


class BagWeighing(SQLModel, table=True):
    """A bag with its wood on a scale. Rows are only ever added, or crossed out."""

    __tablename__ = "bag_weighing"
    __table_args__ = (
        Index("ix_bag_weighing_bundle_weighed", "bundle_id", "weighed_at"),
        CheckConstraint("tenths > 0", name="weighs_something"),
    )
    id: UUID = Field(default_factory=new_id, primary_key=True)
    bundle_id: UUID = refers_to("bundle.id")
    tenths: int  # of a gram, bag and wood
    empty_tenths: int | None = None  # of the bag alone
    moment: str = word()  # weighed; before or after sticks were taken out
    weighed_at: datetime = instant()
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
    note: str = Field(default="", max_length=1000)
    taken_back_at: datetime | None = instant(default=None)
    taken_back_by_party_id: UUID | None = refers_to("party.id", default=None, nullable=True)
    taken_back_why: str = Field(default="", max_length=500)


# -- readings ------------------------------------------------------------------------------------------------------


class Logger(SQLModel, table=True):
    """An instrument that writes down temperatures by itself."""

    id: UUID = Field(default_factory=new_id, primary_key=True)
    name: str = Field(max_length=100, unique=True)
    serial: str = Field(default="", max_length=100)
    file_form: dict[str, Any] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    note: str = Field(default="", max_length=2000)
    retired_at: datetime | None = instant(default=None)
    version: int = 1


class LoggerMove(SQLModel, table=True):
    """A logger hung in a box or on a place, or taken out. Rows are only ever added."""

    __tablename__ = "logger_move"
    seq: int | None = Field(default=None, primary_key=True)
    id: UUID = Field(default_factory=new_id, unique=True)
    logger_id: UUID = refers_to("logger.id", index=True)
    box_id: UUID | None = refers_to("box.id", default=None, nullable=True)
    place_id: UUID | None = refers_to("place.id", default=None, nullable=True)
    sensor: str = word()  # air or pack
    from_at: datetime = instant()
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
    note: str = Field(default="", max_length=1000)


class LoggerOffset(SQLModel, table=True):
    """What a comparison found must be added to a logger's readings from then on. Rows are only ever added."""

    __tablename__ = "logger_offset"
    seq: int | None = Field(default=None, primary_key=True)
    id: UUID = Field(default_factory=new_id, unique=True)
    logger_id: UUID = refers_to("logger.id", index=True)
    offset_c: float
    from_at: datetime = instant()
    how: str = Field(default="", max_length=500)
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")


class ReadingDay(SQLModel, table=True):
    """All readings of one logger on one day (UTC), in a block of bytes."""

    __tablename__ = "reading_day"
    logger_id: UUID = refers_to("logger.id", primary_key=True)
    day: date = Field(primary_key=True)
    readings: int
    last_second: int = Field(sa_type=BigInteger)  # of the last of them, since the beginning of 1970, UTC
    data: bytes
    version: int = 1


class ReadingFile(SQLModel, table=True):
    """A logger's file: its bytes while it waits, then what was taken from it."""

    __tablename__ = "reading_file"
    seq: int | None = Field(default=None, primary_key=True)  # the source of its readings
    id: UUID = Field(default_factory=new_id, unique=True)
    logger_id: UUID = refers_to("logger.id", index=True)
    name: str = Field(default="", max_length=200)
    sha256: str = Field(max_length=64)
    content: bytes | None = None  # deflated; gone once it is taken or dropped
    form: dict[str, Any] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    state: str = word()  # waiting, taken, taken_back, dropped
    readings: int = 0
    added: int = 0
    same: int = 0
    replaced: int = 0
    passed_over: int = 0
    first_at: datetime | None = instant(default=None)
    last_at: datetime | None = instant(default=None)
    told: list[str] | None = Field(default=None, sa_type=JSON(none_as_null=True))  # what was met, in words
    sent_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
    settled_at: datetime | None = instant(default=None)
    settled_by_party_id: UUID | None = refers_to("party.id", default=None, nullable=True)
    taken_back_at: datetime | None = instant(default=None)
    taken_back_by_party_id: UUID | None = refers_to("party.id", default=None, nullable=True)


class LeftOut(SQLModel, table=True):
    """A stretch of a logger's readings that is kept but counts for nothing, until it is taken in again."""

    __tablename__ = "left_out"
    id: UUID = Field(default_factory=new_id, primary_key=True)
    logger_id: UUID = refers_to("logger.id", index=True)
    from_at: datetime = instant()
    until_at: datetime = instant()
    why: str = Field(max_length=500)
    file_id: UUID | None = refers_to("reading_file.id", default=None, nullable=True)  # the file it came with
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
    ended_at: datetime | None = instant(default=None)
    ended_by_party_id: UUID | None = refers_to("party.id", default=None, nullable=True)


# -- read by hand --------------------------------------------------------------------------------------------------


class DialReading(SQLModel, table=True):
    """What a thermometer in a store showed: now, and the lowest and highest since it was reset."""

    __tablename__ = "dial_reading"
    __table_args__ = (Index("ix_dial_reading_store_read", "store_id", "read_at"),)
    id: UUID = Field(default_factory=new_id, primary_key=True)
    store_id: UUID = refers_to("store.id")
    place_id: UUID | None = refers_to("place.id", default=None, nullable=True)
    unit: str = word(length=1)  # C or F; the numbers are in hundredths of it
    now: int | None = None
    lowest: int | None = None
    highest: int | None = None
    reset_done: bool = False
    read_at: datetime = instant()
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
    note: str = Field(default="", max_length=1000)
    taken_back_at: datetime | None = instant(default=None)
    taken_back_by_party_id: UUID | None = refers_to("party.id", default=None, nullable=True)
    taken_back_why: str = Field(default="", max_length=500)


class StoreRing(SQLModel, table=True):
    """Freezing or heat in a store, one row for as long as it lasts: told at once, or with the next weekly letter."""

    __tablename__ = "store_ring"
    __table_args__ = (Index("ix_store_ring_store_began", "store_id", "began_at"),)
    id: UUID = Field(default_factory=new_id, primary_key=True)
    store_id: UUID = refers_to("store.id")
    kind: str = word()  # freezing, heat
    by_hand: bool = False  # read from a dial alone
    began_at: datetime = instant()
    rang_at: datetime = instant()  # when it had lasted long enough
    last_at: datetime = instant()  # until when it is known to have lasted
    ended_at: datetime | None = instant(default=None)
    extreme_c: float
    limit_c: float | None = None  # that it rang by: of frost, or of heat (its high one is not kept)
    hours: float = 0
    recorded_at: datetime = instant(index=True)
    told_at: datetime | None = instant(default=None)  # at once; else the weekly letter tells it
    withdrawn_at: datetime | None = instant(default=None)  # the readings behind it were taken back


class StoreDay(SQLModel, table=True):
    """The hours of a store on one day (UTC) that its wood ages by, in a block of bytes, with how each is known."""

    __tablename__ = "store_day"
    store_id: UUID = refers_to("store.id", primary_key=True)
    day: date = Field(primary_key=True)
    measured: int  # of its 24 hours
    data: bytes


class StoreRecord(SQLModel, table=True):
    """How often the hours of a store were put together, so that of two who do it at the same time one begins anew."""

    __tablename__ = "store_record"
    store_id: UUID = refers_to("store.id", primary_key=True)
    version: int = 0
    renewed_at: datetime = instant()


class BundleKeeping(SQLModel, table=True):
    """How a bundle is reckoned to keep, as of an hour: dates and shares, never days left. Renewed by a job."""

    __tablename__ = "keeping"
    __table_args__ = (
        Index("ix_keeping_store_sort", "store_id", "sort_on", "sort_rank", "sort_end", "bundle_id"),
        Index("ix_keeping_sort", "sort_on", "sort_rank", "sort_end", "bundle_id"),
    )
    bundle_id: UUID = refers_to("bundle.id", primary_key=True)
    store_id: UUID | None = refers_to(
        "store.id", default=None, nullable=True
    )  # none once its wood is used up
    sort_on: date  # the day of a look that found something, else until when it keeps as reckoned or usually; what has neither comes last
    sort_rank: int = 9  # then how bad what that look found is, 0 the worst, 9 nothing
    sort_end: date = Field(default=date.max)  # then until when it keeps
    as_of: datetime = instant()
    share_step: int | None = None  # its share, rounded: where that changes, the forecast is kept
    told: dict[str, Any] = Field(sa_type=JSON(none_as_null=True))


class FruitSpell(SQLModel, table=True):
    """Ripening fruit in a store, from one day to another."""

    __tablename__ = "fruit_spell"
    id: UUID = Field(default_factory=new_id, primary_key=True)
    store_id: UUID = refers_to("store.id", index=True)
    what: str = Field(default="", max_length=200)
    amount: str = word()  # some, in a ventilated store; ripe, in a closed one
    from_on: date
    until_on: date | None = None
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
    ended_at: datetime | None = instant(default=None)
    ended_by_party_id: UUID | None = refers_to("party.id", default=None, nullable=True)


__all__ = [
    "AgeingLearned",
    "AgeingVersion",
    "BagWeighing",
    "Box",
    "BundleCheck",
    "BundleKeeping",
    "BundlePacking",
    "DialReading",
    "ForecastKept",
    "FruitSpell",
    "LeftOut",
    "Logger",
    "LoggerMove",
    "LoggerOffset",
    "NominalTemp",
    "NumbersUsed",
    "OwnLimits",
    "Place",
    "PutAway",
    "ReadingDay",
    "ReadingFile",
    "ShelfCount",
    "ShelfFinding",
    "ShelfPhoto",
    "Stay",
    "Store",
    "StoreDay",
    "StoreRecord",
    "StoreRing",
]
