"""Bodies and answers of bags on a scale."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Annotated
from uuid import UUID

from pydantic import BeforeValidator, Field, model_validator

from service.lib.database import new_id
from service.lib.schemas import Answer, Body, Instant
from service.lib.temperatures import as_typed
from service.storage.rules import Moment
from service.storage.schemas.looks import FindingRead
from service.storage.schemas.stores import Code, Note

Grams = Annotated[
    Decimal,
    BeforeValidator(as_typed),
    Field(gt=0, le=100_000, max_digits=7, decimal_places=1, allow_inf_nan=False),
]


class WeighingCreate(Body):
    """A bag with its wood on a scale, by the bundle's id or its tag's code."""

    id: UUID = Field(default_factory=new_id)
    bundle_id: UUID | None = None
    code: Code | None = None
    grams: Grams = Field(description="the bag with its wood")
    empty_grams: Grams | None = Field(default=None, description="the bag alone, once, where it was weighed")
    moment: Moment = Field(
        default=Moment.WEIGHED,
        description="before and after: around sticks being taken out or put in; their difference is no loss",
    )
    weighed_at: Instant | None = Field(default=None, description="when it was weighed; now if left out")
    sure: bool = Field(default=False, description="an unlikely weight is what the scale shows")
    note: Note = ""

    @model_validator(mode="after")
    def _one_thing(self) -> WeighingCreate:
        if (self.bundle_id is None) == (self.code is None):
            raise ValueError("give the bundle or its code, one of them only")
        return self


class WeighingRead(Answer):
    """A weight of a bag, from a scale or from a look; those from looks cannot be taken back here."""

    id: UUID
    bundle_id: UUID
    grams: Decimal
    empty_grams: Decimal | None
    moment: Moment
    from_look: bool = False
    weighed_at: datetime
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID
    note: str
    taken_back_at: datetime | None = None
    taken_back_why: str = ""


class LossRead(Answer):
    """What a bundle's wood lost of its fresh mass since it was first weighed; masses in grams."""

    from_at: datetime
    until_at: datetime
    lost_grams: float
    plus_minus_grams: float
    lost_pct: float
    at_least: bool = Field(description="the empty bag was not weighed: the share is a lower limit")
    removed_grams: float
    compared: int
    unclear: int = Field(description="stretches in which wood came or went unweighed; they count for nothing")
    words: str
    finding: FindingRead


class WeighingsRead(Answer):
    """A bundle's weighings, the latest first, and the loss they tell; null where no two can be compared."""

    bundle_id: UUID
    weighings: list[WeighingRead]
    loss: LossRead | None


class WeighingMade(WeighingRead):
    """A weighing just written down, with the loss it tells."""

    loss: LossRead | None = None
