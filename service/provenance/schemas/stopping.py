"""Bodies and answers of stops on wood."""

from __future__ import annotations

from datetime import date
from typing import Annotated
from uuid import UUID

from pydantic import Field, model_validator

from service.bundles.schemas import MissingRead
from service.lib.schemas import Answer, Body, Line
from service.members.rules import PartyKind
from service.provenance.rules.stops import MOST_WINTERS, Why
from service.provenance.rules.telling import Tie
from service.provenance.schemas.tracing import UnknownTaker
from service.trees.schemas import StopCandidate, StopCreate, StopRead

Winters = Annotated[int, Field(ge=0, le=MOST_WINTERS)]


class StopOpen(StopCreate):
    """A new stop, where it was found, and how far it reaches at once."""

    tree_id: UUID | None = None
    bundle_id: UUID | None = None
    also_tree_ids: list[UUID] = Field(default=[], max_length=100)
    earlier_winters: Winters | None = Field(
        default=None,
        description="how many winters before this one; left out: the club's look-back for health, all for names and rights",
    )

    @model_validator(mode="after")
    def _one_place(self) -> StopOpen:
        if (self.tree_id is None) == (self.bundle_id is None):
            raise ValueError("a stop begins at a tree or at a bundle: name one of the two")
        return self


class StopBind(Body):
    """Further trees and bundles to bind by a stop, with all that came of them."""

    tree_ids: list[UUID] = Field(default=[], max_length=100)
    bundle_ids: list[UUID] = Field(default=[], max_length=5000)
    why: Why = Why.PROPOSED
    earlier_winters: Winters | None = None

    @model_validator(mode="after")
    def _something(self) -> StopBind:
        if not (self.tree_ids or self.bundle_ids):
            raise ValueError("name at least one tree or bundle")
        return self


class StopRelease(Body):
    """Bundles that a stop bound in error, and how that was shown; the rest stays bound."""

    bundle_ids: list[UUID] = Field(min_length=1, max_length=200)
    reason: Annotated[Line, Field(min_length=1, description="how it was shown, and by whom")]


class BoundRead(Answer):
    """How much a stop binds."""

    bundles: int
    sticks_on_hand: int
    plants: int
    trees: int
    since: date | None = Field(default=None, description="wood cut before this day is proposed, not bound")


class ProposedBundle(Answer):
    """A bundle to consider for the same stop, and why."""

    bundle_id: UUID
    code: str | None
    name: str
    on_hand: int
    why: Why
    words: str


class ProposalsRead(Answer):
    """What a person should consider for the same stop; none of it is bound until somebody says so."""

    trees: list[StopCandidate]
    bundles: list[ProposedBundle]


class TieRead(Answer):
    tie: Tie
    things: int
    sticks: int


class ToTellRead(Answer):
    """A party to be told, and why."""

    party_id: UUID
    kind: PartyKind
    name: str
    forgotten: bool
    why: str
    silent: bool = Field(description="has sticks in hand of which nothing was heard since")
    ties: list[TieRead]


class StopOnWoodRead(Answer):
    """A stop with all it binds, whom to tell, and what else to consider."""

    stop: StopRead
    bound: BoundRead
    to_tell: list[ToTellRead]
    unknown_takers: list[UnknownTaker]
    proposals: ProposalsRead
    missing: list[MissingRead] = []
