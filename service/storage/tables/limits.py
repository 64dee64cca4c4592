"""Limits of heat, frost and cold that a store has of its own."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from sqlmodel import Field, SQLModel

from service.lib.database import instant, refers_to


class OwnLimits(SQLModel, table=True):
    """The limits of one store as somebody set them, all at once; empty: the standing one. Rows are only ever added, the last holds."""

    __tablename__ = "own_limits"
    seq: int | None = Field(default=None, primary_key=True)
    store_id: UUID = refers_to("store.id", index=True)
    heat_c: float | None = None
    heat_hours: float | None = None  # within a week
    high_c: float | None = None
    high_hours: float | None = None  # on end
    freezing_c: float | None = None
    freezing_minutes: int | None = None
    cold_c: float | None = None  # colder is told, and rings nobody
    warm_c: float | None = None  # warmer is told, and rings nobody
    warm_hours: float | None = None  # within a week
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")


class NominalTemp(SQLModel, table=True):
    """What a store is said to have from a moment on, °C; empty: no more. Rows are only ever added, the last told counts."""

    __tablename__ = "nominal_temp"
    seq: int | None = Field(default=None, primary_key=True)
    store_id: UUID = refers_to("store.id", index=True)
    temp_c: float | None = None
    from_at: datetime = instant()
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
