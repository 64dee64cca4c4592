"""Answers of scans, timelines and traces."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from uuid import UUID

from pydantic import Field

from service.lib.schemas import Answer
from service.provenance.rules.lineage import Direction, Thing
from service.provenance.rules.offers import Act, Level
from service.provenance.rules.timeline import EventKind
from service.storage.schemas.keeping import KeepingShare
from service.tags.rules.words import TagKind, TagState


class OfferRead(Answer):
    """One thing that can be done with what was scanned, or why it cannot be done now."""

    act: Act
    words: str
    allowed: bool
    why_not: str = ""


class ScanKeeping(Answer):
    """How a scanned bundle keeps as of today: it warns and sorts; only a look or a stop takes wood off a list."""

    says: list[str] = Field(description="sentences in the order in which they are to be told")
    as_of: datetime = Field(description="when its way was last reckoned")
    share: KeepingShare | None = Field(
        description="read off at noon of the club’s day; null: too little known"
    )
    keeps_until: date | None = Field(
        description="when three quarters of the start are left; told with both ends"
    )
    keeps_from: date | None
    keeps_to: date | None
    limits: str = Field(
        default="", description="what takes most of it, by now and later; empty: nothing is reckoned"
    )
    rests_on: list[str] = Field(default=[], description="each input with how it is known; for members alone")


class ScanAnswer(Answer):
    """What a scanned tag says to whoever asks: the first sentence, then everything they may know.

    `card` is the same for everybody; `more` is for members, with people only for those who handle them; `offers` are
    for volunteers. A stranger gets neither `thing_id` nor `more`.
    """

    code: str
    kind: TagKind | None
    state: TagState
    replaced_by: str | None = Field(
        default=None, description="the tag in use, where this one was lost or spoiled"
    )
    level: Level
    answer: str
    card: dict[str, Any] = {}
    not_seen: str = Field(
        default="",
        description="as of now: its tree was not seen in leaf for a year, or never; empty where it was, or where the tree is not ours",
    )
    keeping: ScanKeeping | None = Field(
        default=None, description="of a bundle that is there and not stopped, where its way was ever reckoned"
    )
    thing_id: UUID | None = None
    more: dict[str, Any] = {}
    offers: list[OfferRead] = []


# -- timelines and traces ------------------------------------------------------------------------------------------


class EventRead(Answer):
    """One thing that happened to a bundle."""

    kind: EventKind
    words: str
    done_at: datetime
    recorded_at: datetime
    late: bool = Field(description="written down over an hour after it was done")
    by: str = ""
    on_behalf_of: str = ""
    thing_id: UUID | None = None
    act: str = Field(
        default="", description="finer than the kind: the ledger's word, `in` or `out`, the stop's state"
    )
    sticks: int = Field(default=0, description="by how many the sticks on hand changed")

    @property
    def at(self) -> datetime:
        return self.done_at

    @property
    def stopped(self) -> bool:
        return self.kind is EventKind.STOP


class TimelineRead(Answer):
    """A bundle's life in the order in which things were done."""

    bundle_id: UUID
    code: str | None
    events: list[EventRead]


class ThingRead(Answer):
    kind: Thing
    id: UUID


class TraceNode(Answer):
    """One thing of a lineage."""

    kind: Thing
    id: UUID
    words: str
    code: str | None
    name: str = Field(description="the variety, where it is the thing's own")
    at: datetime
    on_hand: int | None = Field(description="sticks, for a bundle")
    state: str
    stopped: bool
    party_id: UUID | None
    party: str | None = Field(description="who has it, for those who handle people's wood")


class TraceEdge(Answer):
    """One step, from the earlier thing to the later one."""

    from_id: UUID
    to_id: UUID
    how: str


class TraceSummary(Answer):
    trees: int
    collections: int
    bundles: int
    grafts: int
    plants: int
    sticks_on_hand: int
    stopped: int


class BesideBundle(Answer):
    """A bundle that is no child of the wood but lay in one box with it."""

    bundle_id: UUID
    code: str | None
    beside_id: UUID
    from_at: datetime
    until_at: datetime | None


class SameRound(Answer):
    """A cutting of another tree on the same round, with the same tools."""

    collection_id: UUID
    number: int
    tree_id: UUID
    tree_number: int
    done_at: datetime
    after: bool = Field(description="whether it was cut after the wood in question")
    disinfected: bool | None


class UnknownTaker(Answer):
    """Sticks, or a plant, that went to people nobody wrote down."""

    bundle_id: UUID | None
    code: str | None
    sticks: int
    how: str = Field(description="table or outside")
    told: str
    done_at: datetime
    plant_id: UUID | None = Field(default=None, description="where it was a grafted plant, not sticks")


class HeldBy(Answer):
    """Who had a bundle or a plant of the wood in hand, now or once."""

    bundle_id: UUID | None
    plant_id: UUID | None = None
    party_id: UUID
    party: str | None
    now: bool


class TraceAround(Answer):
    """What is near the wood without coming of it."""

    beside: list[BesideBundle]
    same_round: list[SameRound]
    unknown_takers: list[UnknownTaker]
    held_by: list[HeldBy]


class TraceRead(Answer):
    """All that a thing came from, or all that came of it."""

    start: ThingRead
    direction: Direction
    summary: TraceSummary
    nodes: list[TraceNode]
    edges: list[TraceEdge]
    around: TraceAround | None = None
