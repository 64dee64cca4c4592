"""Shelves and boxes gone through, tag by tag or by a picture of the whole."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import JSON, CheckConstraint
from sqlmodel import Field, SQLModel

from service.lib.database import instant, new_id, refers_to, word


class ShelfCount(SQLModel, table=True):
    """Somebody goes through a place or a box, tag by tag, to see what lies there."""

    __tablename__ = "shelf_count"
    __table_args__ = (CheckConstraint("(place_id is null) <> (box_id is null)", name="one_spot"),)
    id: UUID = Field(default_factory=new_id, primary_key=True)
    place_id: UUID | None = refers_to("place.id", default=None, nullable=True)
    box_id: UUID | None = refers_to("box.id", default=None, nullable=True)
    begun_at: datetime = instant(index=True)
    ended_at: datetime | None = instant(default=None)
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")


class ShelfFinding(SQLModel, table=True):
    """A bundle that was scanned in a count, or that was missing at its end."""

    __tablename__ = "shelf_finding"
    count_id: UUID = refers_to("shelf_count.id", primary_key=True)
    bundle_id: UUID = refers_to("bundle.id", primary_key=True, index=True)
    finding: str = word()  # present, not_expected, missing
    found_at: datetime = instant()


class ShelfPhoto(SQLModel, table=True):
    """A picture of what lies there, taken in a count, and the tags that were read in it."""

    __tablename__ = "shelf_photo"
    id: UUID = Field(default_factory=new_id, primary_key=True)
    count_id: UUID = refers_to("shelf_count.id", index=True)
    picture: str = Field(max_length=64)  # SHA-256 of the picture as it is kept
    width: int
    height: int
    seen: list[dict[str, Any]] = Field(sa_type=JSON)  # text, corners, bundle_id, words
    read_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
