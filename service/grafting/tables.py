"""Grafts, the wood in them, the plants they became, and looks at whether they took."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from sqlalchemy import CheckConstraint
from sqlmodel import Field, SQLModel

from service.lib.database import instant, new_id, refers_to, word


class Graft(SQLModel, table=True):
    """Unions made at one time of the same wood on the same sort of stock by the same method."""

    __table_args__ = (CheckConstraint("grafts > 0", name="grafts"),)
    id: UUID = Field(default_factory=new_id, primary_key=True)
    number: int = Field(unique=True)
    method: str = Field(default="", max_length=60)  # slug of the grafting method
    grafts: int  # how many unions
    rootstock_id: UUID | None = refers_to("rootstock.id", default=None, nullable=True)
    stock_tree_id: UUID | None = refers_to("source_tree.id", default=None, nullable=True, index=True)
    stock_as_told: str = Field(default="", max_length=300)
    site_id: UUID | None = refers_to("site.id", default=None, nullable=True)
    verdict: str = word(default="unknown")  # of joining this wood and this stock, as known that day
    verdict_on: date | None = None  # when the method's verdict on the take is due
    done_at: datetime = instant(index=True)
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id", index=True)
    note: str = Field(default="", max_length=2000)
    taken_back_at: datetime | None = instant(default=None)  # recorded by mistake
    version: int = 1


class GraftTakenBack(SQLModel, table=True):
    """A graft that was recorded by mistake: why, and who took it back."""

    __tablename__ = "graft_taken_back"
    graft_id: UUID = refers_to("graft.id", primary_key=True)
    reason: str = Field(max_length=1000)
    at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")


class GraftWood(SQLModel, table=True):
    """One wood in a graft: the scion, or the interstem between it and the stock."""

    __tablename__ = "graft_wood"
    graft_id: UUID = refers_to("graft.id", primary_key=True)
    bundle_id: UUID = refers_to("bundle.id", primary_key=True, index=True)
    part: str = word(default="scion", primary_key=True)  # scion, interstem
    sticks: int
    scions: int | None = None
    taken_back: bool = False  # with its graft: no wood came to anything by this row


class Plant(SQLModel, table=True):
    """A grafted plant with its own tag; it may become next year's source tree."""

    id: UUID = Field(default_factory=new_id, primary_key=True)
    number: int = Field(unique=True)
    code: str | None = Field(default=None, max_length=8, unique=True)
    graft_id: UUID = refers_to("graft.id", index=True)  # the graft that made it
    holder_id: UUID | None = refers_to("party.id", default=None, nullable=True, index=True)
    source_tree_id: UUID | None = refers_to("source_tree.id", default=None, nullable=True, index=True)
    state: str = word(default="waiting")  # waiting, took, failed, gone, void
    note: str = Field(default="", max_length=2000)
    made_at: datetime = instant()
    version: int = 1


class GraftOnPlant(SQLModel, table=True):
    """A graft made on a plant that was grafted before: the plant carries one variety more."""

    __tablename__ = "graft_on_plant"
    graft_id: UUID = refers_to("graft.id", primary_key=True)
    plant_id: UUID = refers_to("plant.id", index=True)


class TakeCheck(SQLModel, table=True):
    """A look at whether a graft took."""

    __tablename__ = "take_check"
    id: UUID = Field(default_factory=new_id, primary_key=True)
    graft_id: UUID = refers_to("graft.id", index=True)
    plant_id: UUID | None = refers_to("plant.id", default=None, nullable=True)
    alive: int  # how many of the grafts looked at live
    looked_at: int
    doubtful: int = 0
    other_cause: int = 0  # of the dead: lost to something that says nothing of the wood
    cause: str | None = word(
        default=None, nullable=True
    )  # stock_died, broken_off, wrong_way_up, eaten, something_else
    is_verdict: bool = False
    seen_on: date
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
    note: str = Field(default="", max_length=2000)


class PlantStop(SQLModel, table=True):
    """A grafted plant bound by a stop."""

    __tablename__ = "plant_stop"
    stop_id: UUID = refers_to("stop.id", primary_key=True)
    plant_id: UUID = refers_to("plant.id", primary_key=True, index=True)
    placed_at: datetime = instant()
    lifted_at: datetime | None = instant(default=None)


class PlantMove(SQLModel, table=True):
    """A plant changed hands, or died. Rows are only ever added."""

    __tablename__ = "plant_move"
    seq: int | None = Field(default=None, primary_key=True)  # recorded order
    id: UUID = Field(default_factory=new_id, unique=True)
    plant_id: UUID = refers_to("plant.id", index=True)
    kind: str = word()  # handed_over, given_outside, returned, died
    from_party_id: UUID | None = refers_to(
        "party.id", default=None, nullable=True, index=True
    )  # none: the club
    party_id: UUID | None = refers_to("party.id", default=None, nullable=True, index=True)  # who has it now
    to_whom: str = Field(default="", max_length=300)  # outside the record, as told
    done_at: datetime = instant()
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
    reason: str = Field(default="", max_length=1000)
