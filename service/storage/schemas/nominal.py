"""Bodies and answers of what a store is said to have."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from pydantic import Field

from service.lib.schemas import Answer, Body, Instant


class NominalCreate(Body):
    """What its dial is set to, or what its host says it has; it counts where nothing measured, from then on."""

    temp_c: float | None = Field(allow_inf_nan=False, description="°C; null: nothing is said of it any more")
    done_at: Instant | None = Field(default=None, description="since when; now if left out")


class NominalRead(Answer):
    """What a store was said to have from a moment on."""

    temp_c: float | None
    from_at: datetime
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID
