"""How wood is packed, as people tell it."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from sqlalchemy import CheckConstraint, Index
from sqlmodel import Field, SQLModel

from service.lib.database import instant, new_id, refers_to, word


class BundlePacking(SQLModel, table=True):
    """How a bundle is packed from an hour on; what is empty stays as it was told before. Rows are only ever added."""

    __tablename__ = "bundle_packing"
    __table_args__ = (
        Index("ix_bundle_packing_bundle_done", "bundle_id", "done_at"),
        CheckConstraint(
            "packing is not null or waxed is not null or disinfected is not null", name="tells_something"
        ),
    )
    seq: int | None = Field(default=None, primary_key=True)
    id: UUID = Field(default_factory=new_id, unique=True)
    bundle_id: UUID = refers_to("bundle.id")
    packing: str | None = word(default=None)
    waxed: bool | None = None  # the ends of its sticks
    disinfected: bool | None = None  # its surface, before it was packed
    done_at: datetime = instant()
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
    note: str = Field(default="", max_length=1000)
