"""Bodies and answers about bundles and their sticks."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated
from uuid import UUID

from pydantic import Field

from service.bundles.rules import MOST_STICKS, MoveKind
from service.lib.database import new_id
from service.lib.schemas import Answer, Body, Instant, Line, Words

Sticks = Annotated[int, Field(ge=1, le=MOST_STICKS, description="sticks")]
LengthMm = Annotated[int, Field(ge=10, le=3000, description="length of a stick [mm]")]
DiameterMm = Annotated[float, Field(ge=1, le=100, description="thickness of a stick [mm]")]


class BundleStart(Body):
    """A bundle of freshly cut or received wood."""

    id: UUID = Field(default_factory=new_id)
    collection_id: UUID
    sticks: Sticks
    code: str | None = None
    length_mm: LengthMm | None = None
    diameter_mm: DiameterMm | None = None
    holder_id: UUID | None = None
    done_at: Instant | None = None
    unfinished: bool = False
    note: Words = ""


class BundleUpdate(Body):
    """What may be mended about a bundle without moving a stick."""

    length_mm: LengthMm | None = None
    diameter_mm: DiameterMm | None = None
    unfinished: bool | None = None
    note: Words | None = None


class BundleRead(Answer):
    """A bundle and its counters."""

    id: UUID
    code: str | None
    collection_id: UUID
    parent_id: UUID | None
    holder_id: UUID | None
    is_flag: bool
    sticks_at_start: int
    on_hand: int
    free: int
    came_in: int
    passed_on: int
    grafted: int
    discarded: int
    promised: int
    claimed: int
    stopped: bool
    length_mm: int | None
    diameter_mm: float | None
    unfinished: bool
    made_at: datetime
    note: str
    version: int


class BundleSummary(Answer):
    """A bundle as one line of a list."""

    id: UUID
    code: str | None
    kind: str
    page_name: str
    wood: str
    cut_on: date
    tree_number: int | None
    tree_seen_in_leaf_on: date | None = Field(
        default=None, description="when its tree was last seen in leaf; null for wood from outside too"
    )
    on_hand: int
    free: int
    stopped: bool
    unfinished: bool
    holder_id: UUID | None
    holder_name: str | None
    is_flag: bool
    made_at: datetime


class Deed(Body):
    """What every act on sticks may say: which id it has, when it was done, why."""

    id: UUID = Field(default_factory=new_id)
    done_at: Instant | None = None
    reason: Line = ""


class SplitCreate(Deed):
    """Some sticks go into a bundle of their own."""

    bundle_id: UUID
    sticks: Sticks
    child_id: UUID = Field(default_factory=new_id)


class DiscardCreate(Deed):
    """Sticks are thrown away."""

    bundle_id: UUID
    sticks: Sticks


class GiveOutsideCreate(Deed):
    """Sticks leave the record: to somebody outside the club, without a bundle of their own."""

    bundle_id: UUID
    sticks: Sticks
    to_whom: Line = ""
    area_id: UUID | None = Field(
        default=None,
        description="the plant-health area it goes to; needed where the club knows more than one",
    )


class CutToLengthCreate(Deed):
    """Long sticks become several: so many were cut, and so many lie there after."""

    bundle_id: UUID
    sticks_before: Sticks
    sticks_after: Sticks
    length_mm: LengthMm | None = None


class RecountCreate(Deed):
    """Somebody counted; the record follows the count."""

    bundle_id: UUID
    counted: Annotated[int, Field(ge=0, le=MOST_STICKS)]


class StickMoveRead(Answer):
    """One line of the ledger."""

    seq: int
    id: UUID
    bundle_id: UUID
    kind: MoveKind
    sticks: int
    other_bundle_id: UUID | None
    party_id: UUID | None
    form: str
    done_at: datetime
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID
    reason: str


class BalanceRead(Answer):
    """The sticks of a collection and all its descendants."""

    collected: int
    gained: int
    corrections: int
    on_hand: int
    grafted: int
    discarded: int
    given_outside: int
    not_reported: int
    holds: bool


class AuditRead(Answer):
    """Whether every counter equals the ledger, and every collection balances."""

    bundles: int
    moves: int
    wrong_counters: list[str]
    wrong_stops: list[str]
    wrong_balances: list[str]

    @property
    def clean(self) -> bool:
        return not (self.wrong_counters or self.wrong_stops or self.wrong_balances)


class MissingRead(Answer):
    """Sticks of a bundle that were counted as missing since a stop binds it."""

    bundle_id: UUID
    code: str | None
    sticks: int
