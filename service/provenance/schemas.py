"""Bodies and answers of provenance: scans, timelines, traces, stops over all stages, recalls."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any
from uuid import UUID

from pydantic import Field, model_validator

from service.bundles.schemas import MissingRead
from service.collection.schemas import CollectionRead
from service.lib.database import new_id
from service.lib.schemas import Answer, Body, Line, Words
from service.members.rules import PartyKind
from service.provenance.rules.lineage import Direction, Thing
from service.provenance.rules.offers import Act, Level
from service.provenance.rules.stops import MOST_WINTERS, Why
from service.provenance.rules.telling import Tie
from service.provenance.rules.timeline import EventKind
from service.tags.rules.words import TagKind, TagState
from service.trees.rules import NameChange
from service.trees.schemas import StopCandidate, StopCreate, StopRead, TreeRead

Winters = Annotated[int, Field(ge=0, le=MOST_WINTERS)]


class OfferRead(Answer):
    """One thing that can be done with what was scanned, or why it cannot be done now."""

    act: Act
    words: str
    allowed: bool
    why_not: str = ""


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


# -- stops -----------------------------------------------------------------------------------------------------------


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


# -- corrections -------------------------------------------------------------------------------------------------------


class Renamed(Answer):
    """A name put right, and how much followed it."""

    from_words: str
    words: str
    on_day: date
    cuts: int
    bundles: int = Field(description="their tags still say the old name; a scan says both")
    plants: int
    trees: int = Field(description="grown of its wood, or bearing it on a branch")


class TreeRenamed(Renamed):
    """A tree under its new name, and how much followed it."""

    tree: TreeRead
    what: NameChange


class CutRenamed(Renamed):
    """A cut or a receipt under its right name, and how much followed it."""

    collection: CollectionRead


class TreeFinished(Answer):
    """A tree that was met on the way, finished; and how much that took its name from it has the new one."""

    tree: TreeRead
    from_words: str
    words: str
    cuts: int = 0
    bundles: int = Field(default=0, description="their tags still say the name as told; a scan says both")
    plants: int = 0
    trees: int = 0


# -- recalls -----------------------------------------------------------------------------------------------------------


class RecallCreate(Body):
    """Start the recall of a stop."""

    id: UUID = Field(default_factory=new_id)
    stop_id: UUID
    note: Words = ""


class ToldCreate(Body):
    """A party was told, and how."""

    party_id: UUID
    how: Annotated[Line, Field(min_length=1, max_length=60)]


class RecallPartyRead(Answer):
    """One party of a recall. The contact is shown to those who may run recalls, a sealed one too."""

    party_id: UUID
    kind: PartyKind
    name: str
    forgotten: bool
    why: str
    silent: bool
    contact: str
    told_at: datetime | None
    how: str
    told_by_party_id: UUID | None


class RecallSummary(Answer):
    id: UUID
    stop_id: UUID
    made_at: datetime
    by_party_id: UUID
    note: str
    parties: int
    not_told: int


class RecallRead(RecallSummary):
    """A recall: who is to be told, who was, whom nobody can reach, and who was found since it began."""

    people: list[RecallPartyRead]
    unknown_takers: list[UnknownTaker]
    found_since: list[ToTellRead]


class ForgottenRead(Answer):
    """That a person is forgotten; their wood stays in the record."""

    party_id: UUID
    contact_until: date | None = Field(
        description="until when a recall could still reach them, where they agreed"
    )
