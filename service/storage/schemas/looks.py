"""Bodies and answers of looks at bundles."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from pydantic import Field, model_validator

from service.lib.database import new_id
from service.lib.schemas import Answer, Instant, Words
from service.storage.rules import Buds, Call
from service.storage.rules.packing import NOT_TOLD
from service.storage.schemas.packing import PackedTold
from service.storage.schemas.stores import Code


class BundleCheckCreate(PackedTold):
    """A look at a bundle, by its id or its tag's code, and how it is packed from then on. What was not looked at is left out."""

    id: UUID = Field(default_factory=new_id)
    bundle_id: UUID | None = None
    code: Code | None = None
    buds: Buds | None = None
    wrinkled: bool | None = None
    mould: bool | None = None
    green_under_scratch: bool | None = None
    bag_grams: float | None = Field(
        default=None, gt=0, le=100_000, description="weight of the bag with its wood, in grams"
    )
    seen_at: Instant | None = Field(default=None, description="when it was seen; now if left out")
    packed_at: Instant | None = Field(
        default=None, description="since when it is packed so; when it was seen if left out"
    )
    note: Words = ""

    @model_validator(mode="after")
    def _one_thing(self) -> BundleCheckCreate:
        if (self.bundle_id is None) == (self.code is None):
            raise ValueError("Give the bundle or its code, one of them only.")
        if self.packed_at is not None and self.packed() == NOT_TOLD:
            raise ValueError("Say how it is packed since then.")
        return self


class FindingRead(Answer):
    """One thing a look says, and how it is known."""

    call: Call
    words: str
    mark: str


class NeighbourRead(Answer):
    """A bundle in the same box as one where mould was found."""

    bundle_id: UUID
    code: str | None
    name: str
    box_name: str


class BundleCheckRead(Answer):
    """A look at a bundle and what it says. Where mould was found, what lies in the same box is named."""

    id: UUID
    bundle_id: UUID
    buds: Buds | None
    wrinkled: bool | None
    mould: bool | None
    green_under_scratch: bool | None
    bag_grams: float | None
    seen_at: datetime
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID
    note: str
    findings: list[FindingRead] = []
    look_at: list[NeighbourRead] = []
