"""One cutting of wood from one tree at one time, or wood received from outside."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from sqlalchemy import CheckConstraint, Index, text
from sqlmodel import Field, SQLModel

from service.lib.database import instant, new_id, refers_to, word


class CuttingRound(SQLModel, table=True):
    """Trees cut one after another with the same tools by the same people."""

    __tablename__ = "cutting_round"
    id: UUID = Field(default_factory=new_id, primary_key=True)
    site_id: UUID = refers_to("site.id", index=True)
    started_at: datetime = instant(index=True)
    tools: str = Field(default="", max_length=300)
    disinfected: str = Field(default="", max_length=300)
    by_party_id: UUID = refers_to("party.id")  # who cut: whose tools they were
    version: int = 1


class Collection(SQLModel, table=True):
    """One cutting from one tree at one time; or a receipt of wood from outside."""

    __table_args__ = (
        CheckConstraint(
            "(kind = 'cut' and tree_id is not null) or (kind = 'receipt' and tree_id is null)", name="kind"
        ),
        # Few of many wait for what was left out; the start page of everybody who cuts reads them.
        Index("ix_collection_to_finish", "number", sqlite_where=text("unfinished IS 1"), postgresql_where=text("unfinished IS true")),
    )  # fmt: skip
    id: UUID = Field(default_factory=new_id, primary_key=True)
    number: int = Field(unique=True)
    kind: str = word()
    wood: str = word(default="dormant")
    tree_id: UUID | None = refers_to("source_tree.id", default=None, nullable=True, index=True)
    round_id: UUID | None = refers_to("cutting_round.id", default=None, nullable=True, index=True)
    taxon_id: UUID = refers_to("taxon.id")
    cultivar_id: UUID | None = refers_to("cultivar.id", default=None, nullable=True, index=True)
    name_as_told: str = Field(default="", max_length=300)
    sticks: int = 0  # as counted when cut or received; the ledger tells what became of them
    area_id: UUID | None = refers_to("area.id", default=None, nullable=True)  # where the wood grew
    stage: str | None = Field(
        default=None, max_length=10
    )  # growth stage of the leaf bud, a code of the kind's list
    leaves_down: bool | None = None  # whether the tree had dropped its leaves
    leaves_off: bool | None = None  # summer budwood: leaves taken off, stubs of their stalks kept
    disinfected: bool | None = None
    owner_agreed: str = Field(
        default="", max_length=300
    )  # how the tree's owner said yes, where they are to be asked
    from_party_id: UUID | None = refers_to("party.id", default=None, nullable=True, index=True)
    from_whom: str = Field(default="", max_length=300)
    their_reference: str = Field(default="", max_length=200)
    health_paper: str = Field(default="", max_length=300)
    tree_as_told: str = Field(default="", max_length=300)
    cut_on: date  # day of cutting in the club's zone; for a receipt, as told
    cut_on_guessed: bool = False  # nobody told the day, so it is the day the wood came
    done_at: datetime = instant(index=True)
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
    unfinished: bool = False
    note: str = Field(default="", max_length=2000)
    version: int = 1


class NameCorrection(SQLModel, table=True):
    """The name of a cut or a receipt put right: what the tags say, and what it is. Rows are only ever added."""

    __tablename__ = "name_correction"
    seq: int | None = Field(default=None, primary_key=True)
    collection_id: UUID = refers_to("collection.id", index=True)
    tree_id: UUID | None = refers_to(
        "source_tree.id", default=None, nullable=True
    )  # where the name was corrected; none at a receipt
    from_taxon_id: UUID = refers_to("taxon.id")
    from_cultivar_id: UUID | None = refers_to("cultivar.id", default=None, nullable=True)
    from_name_as_told: str = Field(default="", max_length=300)
    from_words: str = Field(default="", max_length=320)  # as tags say that were printed before
    words: str = Field(default="", max_length=320)
    on_day: date
    reason: str = Field(default="", max_length=1000)
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")


class TreeCorrection(SQLModel, table=True):
    """A cut that came from another tree than was written down. Rows are only ever added."""

    __tablename__ = "tree_correction"
    seq: int | None = Field(default=None, primary_key=True)
    collection_id: UUID = refers_to("collection.id", index=True)
    from_tree_id: UUID = refers_to("source_tree.id", index=True)
    tree_id: UUID = refers_to("source_tree.id")
    from_stage: str | None = Field(default=None, max_length=10)  # where the other kind has no such stage
    from_owner_agreed: str = Field(default="", max_length=300)  # the other owner's word does not count
    reason: str = Field(default="", max_length=1000)
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")


class TimeCorrection(SQLModel, table=True):
    """When a cut was made or wood came, put right. Rows are only ever added."""

    __tablename__ = "time_correction"
    seq: int | None = Field(default=None, primary_key=True)
    collection_id: UUID = refers_to("collection.id", index=True)
    from_done_at: datetime = instant()
    done_at: datetime = instant()
    reason: str = Field(default="", max_length=1000)
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
