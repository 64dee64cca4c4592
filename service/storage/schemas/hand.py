"""Bodies and answers of thermometers read by hand, and of fruit in a store."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Annotated
from uuid import UUID

from pydantic import BeforeValidator, Field, model_validator

from service.lib.database import new_id
from service.lib.schemas import Answer, Body, Day, Instant, Line
from service.lib.temperatures import as_typed
from service.storage.rules import FruitAmount, TempUnit
from service.storage.schemas.loggers import Why
from service.storage.schemas.stores import Code, Note

Degrees = Annotated[
    Decimal, BeforeValidator(as_typed), Field(max_digits=6, decimal_places=2, allow_inf_nan=False)
]


class DialReadingCreate(Body):
    """A thermometer read by hand, in the store its door tag names or by the store's id."""

    id: UUID = Field(default_factory=new_id)
    store_id: UUID | None = None
    code: Code | None = None
    place_id: UUID | None = None
    now: Degrees | None = None
    lowest: Degrees | None = Field(default=None, description="the lowest since it was reset")
    highest: Degrees | None = Field(default=None, description="the highest since it was reset")
    unit: TempUnit = TempUnit.C
    reset_done: bool = Field(default=False, description="whether its memory was reset after reading")
    read_at: Instant | None = Field(default=None, description="when it was read; now if left out")
    sure: bool = Field(default=False, description="an unlikely number is what it shows")
    note: Note = ""

    @model_validator(mode="after")
    def _one_store(self) -> DialReadingCreate:
        if (self.store_id is None) == (self.code is None):
            raise ValueError("give the store or the code on its door, one of them only")
        return self


class TakenBack(Body):
    """Why something that was written is taken back."""

    why: Why


class DialReadingRead(Answer):
    """A thermometer as it was read; `celsius` is the same in °C."""

    id: UUID
    store_id: UUID
    place_id: UUID | None
    unit: TempUnit
    now: Decimal | None
    lowest: Decimal | None
    highest: Decimal | None
    now_c: float | None
    lowest_c: float | None
    highest_c: float | None
    reset_done: bool
    read_at: datetime
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID
    note: str
    taken_back_at: datetime | None = None
    taken_back_why: str = ""


class FruitCreate(Body):
    """Ripening fruit in a store since a day, and until one where it is out again."""

    id: UUID = Field(default_factory=new_id)
    store_id: UUID
    what: Annotated[Line, Field(max_length=200)] = ""
    amount: FruitAmount = Field(
        default=FruitAmount.RIPE,
        description="some: fruit in a ventilated store; ripe: ripe fruit in the same closed fridge",
    )
    from_on: Day
    until_on: Day | None = None


class FruitEnd(Body):
    """The day fruit was taken out."""

    until_on: Day


class FruitRead(Answer):
    """Ripening fruit in a store, from one day to another; without an end it is still there."""

    id: UUID
    store_id: UUID
    what: str
    amount: FruitAmount
    from_on: date
    until_on: date | None
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID
