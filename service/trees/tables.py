"""Sites, source trees, looks at trees, and stops."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import JSON, CheckConstraint, Index
from sqlmodel import Field, SQLModel

from service.lib.database import instant, new_id, refers_to, word


class Site(SQLModel, table=True):
    """Where trees stand, with the plant-health area it lies in and when that was checked."""

    id: UUID = Field(default_factory=new_id, primary_key=True)
    name: str = Field(max_length=300, unique=True)
    region: str = Field(default="", max_length=200)  # coarse: all that a stranger may see
    directions: str = Field(default="", max_length=2000)
    gate: str = Field(default="", max_length=300)  # who opens it
    latitude: float | None = None
    longitude: float | None = None
    area_id: UUID = refers_to("area.id", index=True)
    area_checked_on: date | None = None
    note: str = Field(default="", max_length=2000)
    version: int = 1


class SourceTree(SQLModel, table=True):
    """A tree wood is cut from."""

    __tablename__ = "source_tree"
    __table_args__ = (CheckConstraint("open_stops >= 0", name="open_stops"),)
    id: UUID = Field(default_factory=new_id, primary_key=True)
    number: int = Field(unique=True)
    code: str | None = Field(default=None, max_length=8, unique=True)
    site_id: UUID = refers_to("site.id", index=True)
    where_on_site: str = Field(default="", max_length=200)
    taxon_id: UUID = refers_to("taxon.id")
    cultivar_id: UUID | None = refers_to("cultivar.id", default=None, nullable=True, index=True)
    name_as_told: str = Field(default="", max_length=300)
    identity: str = word(default="as_told")
    name_since: date | None = None  # since when it bears this variety, where it was topworked
    owner_id: UUID = refers_to("party.id", index=True)
    may_cut: str = word(default="ask")
    most_sticks: int | None = None  # per season, as the owner said
    planted_year: int | None = None
    rootstock_id: UUID | None = refers_to("rootstock.id", default=None, nullable=True)
    interstem_id: UUID | None = refers_to("rootstock.id", default=None, nullable=True)
    stands_on: str = Field(default="", max_length=300)  # in words, where no stock of the list fits
    no_propagation_contract: bool = False
    rights_note: str = Field(default="", max_length=1000)
    provisional: bool = False
    felled_on: date | None = None
    open_stops: int = 0
    note: str = Field(default="", max_length=2000)
    created_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    version: int = 1


class TreeVariety(SQLModel, table=True):
    """A further variety a tree carries, beside its main one."""

    __tablename__ = "tree_variety"
    tree_id: UUID = refers_to("source_tree.id", primary_key=True)
    cultivar_id: UUID = refers_to("cultivar.id", primary_key=True)
    branch: str = Field(default="", max_length=200)
    since: date | None = None


class TreeCheck(SQLModel, table=True):
    """A look at a tree in leaf or in fruit."""

    __tablename__ = "tree_check"
    __table_args__ = (Index("ix_tree_check_tree_kind_seen", "tree_id", "kind", "seen_on"),)
    id: UUID = Field(default_factory=new_id, primary_key=True)
    tree_id: UUID = refers_to("source_tree.id")
    kind: str = word()
    result: str = word()
    seen_on: date
    agent: str = Field(default="", max_length=200)
    note: str = Field(default="", max_length=2000)
    picture: str | None = Field(default=None, max_length=64)  # SHA-256 of the kept picture
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
    taken_back_at: datetime | None = instant(
        default=None
    )  # written down by mistake: it says nothing of the tree
    taken_back_by_party_id: UUID | None = refers_to("party.id", default=None, nullable=True)


class Stop(SQLModel, table=True):
    """One case of wood that may not be used until released."""

    id: UUID = Field(default_factory=new_id, primary_key=True)
    reason: str = word()
    state: str = word()
    agent: str = Field(default="", max_length=200)
    agent_code: str = Field(default="", max_length=10)  # EPPO
    note: str = Field(default="", max_length=2000)
    opened_at: datetime = instant(index=True)
    cleared_at: datetime | None = instant(default=None)
    by_party_id: UUID = refers_to("party.id")
    version: int = 1


class StopStep(SQLModel, table=True):
    """What was said of a stop, when and by whom: suspected, confirmed, cleared."""

    __tablename__ = "stop_step"
    id: UUID = Field(default_factory=new_id, primary_key=True)
    stop_id: UUID = refers_to("stop.id", index=True)
    state: str = word()
    note: str = Field(default="", max_length=2000)
    at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")


class TreeStop(SQLModel, table=True):
    """A tree bound by a stop."""

    __tablename__ = "tree_stop"
    stop_id: UUID = refers_to("stop.id", primary_key=True)
    tree_id: UUID = refers_to("source_tree.id", primary_key=True, index=True)
    is_origin: bool = False
    placed_at: datetime = instant()
    lifted_at: datetime | None = instant(default=None)


class StopRelease(SQLModel, table=True):
    """A thing that a stop let go, and from when until when it had been bound. Rows are only ever added."""

    __tablename__ = "stop_release"
    __table_args__ = (Index("ix_stop_release_thing", "thing_id", "stop_id"),)
    seq: int | None = Field(default=None, primary_key=True)
    stop_id: UUID = refers_to("stop.id", index=True)
    kind: str = word()  # bundle, plant, tree
    thing_id: UUID
    placed_at: datetime = instant()
    released_at: datetime = instant()
    alone: bool = False  # let go by itself, while the stop went on
    reason: str = Field(default="", max_length=1000)
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")


class TreeNameChange(SQLModel, table=True):
    """Another name of a tree: the old one was wrong, or the tree was topworked. Rows are only ever added."""

    __tablename__ = "tree_name_change"
    seq: int | None = Field(default=None, primary_key=True)
    tree_id: UUID = refers_to("source_tree.id", index=True)
    kind: str = word()  # wrong, topworked
    from_taxon_id: UUID = refers_to("taxon.id")
    from_cultivar_id: UUID | None = refers_to("cultivar.id", default=None, nullable=True)
    from_name_as_told: str = Field(default="", max_length=300)
    from_words: str = Field(default="", max_length=320)
    from_since: date | None = None
    taxon_id: UUID = refers_to("taxon.id")
    cultivar_id: UUID | None = refers_to("cultivar.id", default=None, nullable=True)
    name_as_told: str = Field(default="", max_length=300)
    words: str = Field(default="", max_length=320)
    on_day: date  # when it was found, or when the tree was topworked
    reason: str = Field(default="", max_length=1000)
    follows_tree_id: UUID | None = refers_to(
        "source_tree.id", default=None, nullable=True
    )  # its wood made this tree
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")


class AirRecord(SQLModel, table=True):
    """Days of air temperature told at once for a site: where they were measured, and by whom they were entered."""

    __tablename__ = "air_record"
    id: UUID = Field(default_factory=new_id, primary_key=True)
    site_id: UUID = refers_to("site.id", index=True)
    measured: str = Field(max_length=500)  # the station or thermometer, and where its record comes from
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")


class AirDay(SQLModel, table=True):
    """The lowest and the highest air temperature of one day at a site, in the club's own days."""

    __tablename__ = "air_day"
    __table_args__ = (CheckConstraint("lowest_c <= highest_c", name="lowest_below_highest"),)
    site_id: UUID = refers_to("site.id", primary_key=True)
    day: date = Field(primary_key=True)
    lowest_c: float
    highest_c: float
    record_id: UUID = refers_to("air_record.id", index=True)
    hours: bytes | None = None  # its twenty-four means, where they were measured and say what the day says


class AirReadings(SQLModel, table=True):
    """What one file read of a site's air on one day (UTC), in a block of bytes; days come out of all files together."""

    __tablename__ = "air_readings"
    __table_args__ = (Index("ix_air_readings_site_id_day", "site_id", "day"),)
    file_id: UUID = refers_to("air_file.id", primary_key=True)
    day: int = Field(primary_key=True)  # days since the beginning of 1970
    site_id: UUID = refers_to("site.id")
    block: bytes


class AirFile(SQLModel, table=True):
    """A file with days of air of a site: its text while it waits, then what was taken from it."""

    __tablename__ = "air_file"
    id: UUID = Field(default_factory=new_id, primary_key=True)  # of the record it becomes, too
    site_id: UUID = refers_to("site.id", index=True)
    name: str = Field(default="", max_length=200)
    measured: str = Field(max_length=500)
    sha256: str = Field(max_length=64)
    content: bytes | None = None  # deflated; gone once it is taken or dropped
    form: dict[str, Any] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    state: str = word()  # waiting, taken, taken_back, dropped
    added: int = 0
    same: int = 0
    replaced: int = 0
    passed_over: int = 0
    first_on: date | None = None
    last_on: date | None = None
    told: list[str] | None = Field(default=None, sa_type=JSON(none_as_null=True))  # what was met, in words
    sent_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
    settled_at: datetime | None = instant(default=None)
    settled_by_party_id: UUID | None = refers_to("party.id", default=None, nullable=True)
    taken_back_at: datetime | None = instant(default=None)
    taken_back_by_party_id: UUID | None = refers_to("party.id", default=None, nullable=True)


class OwnerWord(SQLModel, table=True):
    """What the owner said of a tree: whether it may be cut, how much, and in which words. Rows are only ever added."""

    __tablename__ = "owner_word"
    seq: int | None = Field(default=None, primary_key=True)
    tree_id: UUID = refers_to("source_tree.id", index=True)
    may_cut: str = word()
    most_sticks: int | None = None
    words: str = Field(default="", max_length=500)
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
