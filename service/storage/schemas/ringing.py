"""Answers of what rang in stores."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from pydantic import Field

from service.lib.schemas import Answer
from service.storage.rules import AlarmKind


class RingRead(Answer):
    """Freezing or heat in a store, as one event for as long as it lasts."""

    id: UUID
    store_id: UUID
    store_name: str
    kind: AlarmKind
    by_hand: bool = Field(description="read from a dial alone")
    began_at: datetime
    rang_at: datetime
    last_at: datetime = Field(description="until when it is known to have lasted")
    ended_at: datetime | None
    extreme_c: float
    limit_c: float | None = Field(
        description="the limit it rang by, as it held then; null where that is not known"
    )
    hours: float
    recorded_at: datetime
    told_at: datetime | None = Field(
        description="when host and stewards were told at once; null: the weekly letter tells it"
    )
    withdrawn_at: datetime | None = Field(description="when the readings behind it were taken back")
