"""Answers of a store's temperatures."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from pydantic import Field

from service.lib.schemas import Answer
from service.storage.rules import AlarmKind


class DayTempsRead(Answer):
    """The lowest and highest of one day in the club's zone; null where nothing was measured."""

    day: date
    low_c: float | None
    high_c: float | None
    by_hand: bool = Field(description="read from a dial alone")
    outside: bool = Field(description="beyond the band of good storage")


class CostRead(Answer):
    """Days of keeping that a spell cost wood of a group that lay there all the while, as reckoned."""

    group: str
    days: float
    more: bool = Field(description="at least so many")


class AlarmRead(Answer):
    """An excursion that rings: freezing or heat, told once however it goes up and down meanwhile."""

    kind: AlarmKind
    began_at: datetime
    rang_at: datetime
    ended_at: datetime | None
    extreme_c: float
    hours: float
    rings: bool = Field(description="whether somebody should hear of it at once")
    costs: list[CostRead] = []
    cost_words: str = ""


class StoreTempsRead(Answer):
    """A store's temperatures over some weeks, with what its wood bears and how that is known."""

    store_id: UUID
    days: list[DayTempsRead]
    low_c: float
    high_c: float
    freezing_c: float | None
    agree: bool = Field(description="whether one temperature is good for all wood that lies here")
    mark: str
    source: str
    alarms: list[AlarmRead]
    words: str


class CameAndWent(Answer):
    """How much came into a store and went out of it; a box counts as one."""

    bundles_came: int
    bundles_went: int
    boxes_came: int
    boxes_went: int
