"""Bodies and answers of how wood is packed."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated
from uuid import UUID

from pydantic import Field, model_validator

from service.lib.database import new_id
from service.lib.schemas import Answer, Body, Instant, Line, Words
from service.science.packings import Packing
from service.storage.rules.packing import PACKINGS, Packed

_EACH = "; ".join(f"{one.value}: {words}" for one, words in PACKINGS.items())


class PackedTold(Body):
    """How wood is packed from then on; what is left out stays as it was told before."""

    packing: Packing | None = Field(default=None, description=f"as it is packed from then on. {_EACH}")
    waxed: bool | None = Field(default=None, description="whether the ends of its sticks are waxed")
    disinfected: bool | None = Field(
        default=None, description="whether its surface was disinfected before it was packed"
    )

    def packed(self) -> Packed:
        return Packed(self.packing, self.waxed, self.disinfected)


class PackingCreate(PackedTold):
    """How a bundle is packed, by its id or its tag's code; the code of a box tells it of all that lies in it then."""

    id: UUID = Field(default_factory=new_id)
    bundle_id: UUID | None = None
    code: (
        Annotated[Line, Field(max_length=200, description="a tag's code, typed or scanned, host and all")]
        | None
    ) = None
    done_at: Instant | None = Field(default=None, description="since when it is packed so; now if left out")
    note: Annotated[Words, Field(max_length=1000)] = ""

    @model_validator(mode="after")
    def _one_thing(self) -> PackingCreate:
        if (self.bundle_id is None) == (self.code is None):
            raise ValueError("give the bundle or its code, one of them only")
        return self


class PackingRead(Answer):
    """How a bundle is packed from an hour on, as somebody told it."""

    id: UUID
    bundle_id: UUID
    packing: Packing | None
    waxed: bool | None
    disinfected: bool | None
    words: str
    done_at: datetime
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID
    note: str


class PackingsRead(Answer):
    """How a bundle is packed now, what it was split from counted in, and all that was told of it, the latest first."""

    bundle_id: UUID
    words: str = Field(description="empty: nobody told, and barely damp paper in sealed plastic is assumed")
    told: list[PackingRead]
