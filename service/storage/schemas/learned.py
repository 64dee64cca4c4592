"""Answers on what takes say of how wood ages."""

from __future__ import annotations

from datetime import datetime

from pydantic import Field

from service.lib.schemas import Answer


class MethodLearned(Answer):
    """How well a method takes in a group of species, apart from how far the wood had aged."""

    method: str
    grafts: int
    taken: int
    base: float = Field(description="of fresh wood, 0 to 1")


class GroupLearned(Answer):
    """How fast wood of a group ages here: th, above 1 faster than is usual; where half, a tenth and nine tenths lie below."""

    species_group: str
    grafts: int = Field(description="unions it rests on")
    taken: int
    before_mu: float = Field(description="mean of ln th before these takes")
    before_sigma: float
    mu: float
    sigma: float
    median: float
    low: float
    high: float
    is_told_apart: bool = Field(
        description="false: only fresh or only aged wood was grafted, so ageing and base take cannot be told apart"
    )
    methods: list[MethodLearned]


class AgeingRead(Answer):
    """What all takes together said at one time. A version is never changed."""

    version: int
    made_at: datetime
    digest: str = Field(description="of all that went in")
    numbers_digest: str = Field(description="of the numbers of the models")
    grafts: int
    taken: int
    start_mu: float = Field(description="mean of ln th that a group without takes starts from")
    left_out: dict[str, int] = Field(description="unions that do not count, by why")
    groups: list[GroupLearned]
