"""Tags, printed batches of labels, and the public addresses they carry."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import JSON, CheckConstraint, Index, text
from sqlmodel import Field, SQLModel

from service.lib.database import instant, new_id, refers_to, word

_IN_USE = text("state = 'bound'")


class PublicAddress(SQLModel, table=True):
    """A host name that tags carry. Old ones stay accepted for ever."""

    __tablename__ = "public_address"
    id: UUID = Field(default_factory=new_id, primary_key=True)
    host: str = Field(max_length=28, unique=True)  # in capitals, as printed
    confirmed_at: datetime | None = instant(default=None)
    by_party_id: UUID = refers_to("party.id")


class OwnSheet(SQLModel, table=True):
    """A sheet or roll of labels that somebody of the club measured. It is never changed, so what was printed on it can be drawn again."""

    __tablename__ = "own_sheet"
    name: str = Field(primary_key=True, max_length=40)
    title: str = Field(max_length=100)
    page_w_mm: float
    page_h_mm: float
    columns: int
    rows: int
    label_w_mm: float
    label_h_mm: float
    top_mm: float
    left_mm: float
    gap_x_mm: float
    gap_y_mm: float
    tail_mm: float
    made_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    retired_at: datetime | None = instant(default=None)


class LabelBatch(SQLModel, table=True):
    """One printing of labels, with the address they carry."""

    __tablename__ = "label_batch"
    id: UUID = Field(default_factory=new_id, primary_key=True)
    address_id: UUID = refers_to("public_address.id")
    sheet: str = Field(max_length=40)
    labels: int
    pages: int
    first_label: int = 1
    copies: int = 1
    is_blank: bool = False  # printed ahead, bound to nothing yet
    nudge_x_mm: float = 0.0
    nudge_y_mm: float = 0.0
    club: str = Field(default="", max_length=24)  # its short name as printed
    printed_on: date  # day in the club's zone
    made_at: datetime = instant(index=True)
    by_party_id: UUID = refers_to("party.id")


class PrintedLabel(SQLModel, table=True):
    """What one label of a batch said, so that the same sheet can be drawn again to the byte."""

    __tablename__ = "printed_label"
    batch_id: UUID = refers_to("label_batch.id", primary_key=True)
    place: int = Field(primary_key=True)  # order on the sheet, from 0
    code: str = refers_to("tag.code", index=True)
    placement: str = word(default="bag")
    words: dict[str, Any] = Field(sa_type=JSON)


class Tag(SQLModel, table=True):
    """A printed code bound for good to one thing; a lost one is replaced, never reused."""

    __table_args__ = (
        CheckConstraint("kind in ('', 'bundle', 'tree', 'box', 'store', 'plant')", name="kind"),
        CheckConstraint("state <> 'blank' or thing_id is null", name="blank"),
        CheckConstraint("state <> 'bound' or thing_id is not null", name="bound"),
        CheckConstraint("placement in ('bag', 'wood')", name="placement"),
        Index("ix_tag_printed_at_made_at", "printed_at", "made_at"),
        Index(
            "uq_tag_thing_placement",
            "thing_id",
            "placement",
            unique=True,
            sqlite_where=_IN_USE,
            postgresql_where=_IN_USE,
        ),
    )
    code: str = Field(primary_key=True, max_length=8)
    kind: str = word(default="")
    thing_id: UUID | None = Field(default=None, index=True)  # of the table the kind names
    state: str = word(default="bound")  # blank, bound, lost, spoiled
    placement: str = word(default="bag")  # bag, wood
    replaced_by: str | None = refers_to("tag.code", default=None, nullable=True)
    batch_id: UUID | None = refers_to("label_batch.id", default=None, nullable=True)
    printed_at: datetime | None = instant(default=None)
    made_at: datetime = (
        instant()
    )  # when it was made for its thing; a blank, when it was printed, then when it was bound
    by_party_id: UUID = refers_to("party.id")
    ended_at: datetime | None = instant(default=None)  # when it was said to be lost or spoiled
    ended_by_id: UUID | None = refers_to("party.id", default=None, nullable=True)
