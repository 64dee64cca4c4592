"""Bodies and answers of the limits that a store has of its own."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated
from uuid import UUID

from pydantic import Field

from service.lib.schemas import Answer, Body
from service.storage.schemas.temps import LimitRead

Celsius = Annotated[float, Field(allow_inf_nan=False, description="°C; null: the standing one")]
Hours = Annotated[float, Field(allow_inf_nan=False, description="null: the standing ones")]


class OwnLimitsSet(Body):
    """All limits of a store at once. What is left out or null holds as it stands for every store."""

    heat_c: Celsius | None = None
    heat_hours: Hours | None = Field(
        default=None, description="at that heat, within a week; null: the standing ones"
    )
    high_c: Celsius | None = None
    high_hours: Hours | None = Field(
        default=None, description="at that heat, on end; null: the standing ones"
    )
    freezing_c: Celsius | None = None
    freezing_minutes: int | None = Field(
        default=None, description="at that frost, on end; null: the standing hour"
    )
    cold_c: Celsius | None = Field(
        default=None, description="colder is told in the weekly letter, and rings nobody; °C"
    )
    warm_c: Celsius | None = Field(
        default=None,
        description="warmer is told in the weekly letter, and rings nobody; null: the most each kind is kept at",
    )
    warm_hours: Hours | None = Field(
        default=None, description="above that, within a week; null: the standing ten"
    )


class LimitsRead(Answer):
    """The limits of a store, each by its name; null where a frost is not known."""

    heat_c: float | None
    heat_hours: float | None
    high_c: float | None
    high_hours: float | None
    freezing_c: float | None
    freezing_minutes: int | None
    cold_c: float | None
    warm_c: float | None
    warm_hours: float | None


class StoreLimitsRead(Answer):
    """What a store has of its own, what stands without it, and what holds; the ETag is its version."""

    store_id: UUID
    own: LimitsRead
    standing: LimitsRead
    holds: LimitsRead
    told: list[LimitRead] = Field(description="what holds, in words")
    by_kind: list[str] = Field(
        default=[], description="of `cold_c` and `warm_c`, those that stand by kind: several hold at once"
    )
    standing_told: list[LimitRead] = Field(description="what stands without the store's own, in words")
    set_at: datetime | None
    set_by_party_id: UUID | None
    set_for_party_id: UUID | None
    version: int = Field(description="how often they were set")
