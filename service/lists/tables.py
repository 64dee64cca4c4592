"""Lists that were sent, and what each of them brought."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import JSON, Index
from sqlmodel import Field, SQLModel

from service.lib.database import instant, new_id, refers_to, word


class ListFile(SQLModel, table=True):
    """A list: its bytes while it waits, how it is read, and what became of it."""

    __tablename__ = "list_file"
    id: UUID = Field(default_factory=new_id, primary_key=True)
    sort: str = word()  # trees, people, wood, grafts
    name: str = Field(default="", max_length=200)
    sha256: str = Field(max_length=64, index=True)
    content: bytes | None = None  # deflated; gone once it is taken or dropped
    form: dict[str, Any] | None = Field(
        default=None, sa_type=JSON(none_as_null=True)
    )  # sheet, columns, rests
    answers: dict[str, str] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    state: str = word()  # waiting, taken, taken_back, dropped
    header: list[str] | None = Field(default=None, sa_type=JSON(none_as_null=True))  # its headings
    rows: int = 0
    brought: int = 0
    left_out: int = 0
    told: list[str] | None = Field(default=None, sa_type=JSON(none_as_null=True))  # what was met, in words
    sent_at: datetime = instant(index=True)
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
    settled_at: datetime | None = instant(default=None)
    settled_by_party_id: UUID | None = refers_to("party.id", default=None, nullable=True)
    taken_back_at: datetime | None = instant(default=None)
    taken_back_by_party_id: UUID | None = refers_to("party.id", default=None, nullable=True)
    taken_back_reason: str = Field(default="", max_length=1000)
    version: int = 1


class ListThing(SQLModel, table=True):
    """A thing that a list brought, and the row that told it."""

    __tablename__ = "list_thing"
    __table_args__ = (Index("ix_list_thing_thing", "thing_id"),)
    list_id: UUID = refers_to("list_file.id", primary_key=True)
    kind: str = word(
        primary_key=True
    )  # what it is: area, party, site, tree, place, box, collection, bundle, graft, plant
    thing_id: UUID = Field(primary_key=True)
    line: int  # of the file, as a spreadsheet program counts
