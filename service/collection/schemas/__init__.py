"""Bodies and answers of cuts, receipts, rounds, and what is to finish."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated
from uuid import UUID

from pydantic import Field, StringConstraints, model_validator

from service.catalogue.rules import WoodUse
from service.catalogue.schemas import WrittenName
from service.collection.rules import CollectionKind, Wood
from service.lib.database import new_id
from service.lib.schemas import Answer, Body, Day, Instant, Line, Words
from service.trees.schemas import NameTold

MOST_AT_ONCE = 200
Stage = Annotated[
    Line, StringConstraints(min_length=1, max_length=10),
    Field(description="Growth stage of the leaf bud: a code of the kind's list, or tight, swelling, green."),
]  # fmt: skip
Sticks = Annotated[int, Field(ge=1, le=10_000)]
Short = Annotated[Line, StringConstraints(max_length=200)]
DoneAt = Annotated[Instant | None, Field(description="When it was done; now, unless said otherwise.")]


class CuttingWarning(Answer):
    """Something a person should know; nothing was refused for it."""

    word: str
    text: str


class CollectionCreate(Body):
    """A cut. Only the tree and the sticks must be told at the tree; the rest can wait under 'to finish'."""

    id: UUID = Field(default_factory=new_id)
    tree_id: UUID
    sticks: Sticks
    wood: Wood = Wood.DORMANT
    cultivar_id: UUID | None = Field(
        default=None, description="On a tree of several varieties: which. Its main one, unless told."
    )
    done_at: DoneAt = None
    stage: Stage | None = None
    leaves_down: bool | None = Field(
        default=None, description="Dormant wood: whether the tree had dropped its leaves."
    )
    leaves_off: bool | None = Field(
        default=None, description="Summer budwood: leaves taken off, stubs of their stalks kept."
    )
    disinfected: bool | None = Field(
        default=None, description="Whether the tools were disinfected before this tree."
    )
    round_id: UUID | None = Field(
        default=None, description="The cutting round; the day's own of that site, unless told."
    )
    owner_agreed: Line = Field(default="", description="How the owner agreed, where they are to be asked.")
    already_cut: bool = Field(
        default=False,
        description="The tree is stopped, but the wood is cut: it is recorded and stopped at once. Before the stop: not needed.",
    )
    note: Words = ""


class ReceiptCreate(Body):
    """Wood from outside: from whom, their reference, health paper, and the tree as told."""

    id: UUID = Field(default_factory=new_id)
    taxon_id: UUID | None = Field(
        default=None, description="Its kind; may be left out where the variety is told."
    )
    cultivar_id: UUID | None = None
    name_as_told: Line = ""
    sticks: Sticks
    wood: Wood = Wood.DORMANT
    from_party_id: UUID | None = None
    from_whom: Line = ""
    their_reference: Short = ""
    health_paper: Line = Field(default="", description="Which paper came with it, or 'none'.")
    area_id: UUID | None = Field(
        default=None, description="The plant-health area it grew in; the giver's, unless told."
    )
    tree_as_told: Line = ""
    cut_on: Day | None = Field(default=None, description="The day it was cut, as told.")
    done_at: Annotated[Instant | None, Field(description="When it came; now, unless said otherwise.")] = None
    stage: Stage | None = None
    note: Words = ""


class CollectionUpdate(Body):
    """What was left out, or was wrong. `nothing_more` takes it off the list though something stays unknown."""

    stage: Stage | None = None
    leaves_down: bool | None = None
    leaves_off: bool | None = None
    disinfected: bool | None = None
    owner_agreed: Line | None = None
    cultivar_id: UUID | None = None
    name_as_told: Line | None = None
    from_party_id: UUID | None = None
    from_whom: Line | None = None
    their_reference: Short | None = None
    health_paper: Line | None = None
    area_id: UUID | None = None
    tree_as_told: Line | None = None
    cut_on: Day | None = None
    note: Words | None = None
    nothing_more: bool = False

    @model_validator(mode="after")
    def _no_null(self) -> CollectionUpdate:
        keep = {"stage", "leaves_down", "leaves_off", "disinfected", "cultivar_id", "from_party_id"}
        empty = sorted(name for name in self.model_fields_set - keep if getattr(self, name) is None)
        if empty:
            raise ValueError(f"null is no value for: {', '.join(empty)}; leave it out to keep what stands")
        return self

    def told(self) -> dict[str, object]:
        """What was sent, by field."""
        return {name: getattr(self, name) for name in self.model_fields_set - {"nothing_more"}}


class TimeSet(Body):
    """When a cut was really made, or wood really came; and why the record was wrong."""

    done_at: Instant
    reason: Annotated[Line, Field(min_length=1)]


class CutNameSet(NameTold):
    """What wood really is that was written down under another name; and how that is known."""


class CutTreeSet(Body):
    """The tree that wood was really cut from, which of its varieties, and how that is known."""

    tree_id: UUID
    cultivar_id: UUID | None = Field(
        default=None, description="On a tree of several varieties: which. Its main one, unless told."
    )
    reason: Annotated[Line, Field(min_length=1)]


class CollectionSummary(Answer):
    """A cut or a receipt in a list."""

    id: UUID
    number: int
    kind: CollectionKind
    wood: Wood
    tree_id: UUID | None
    tree_number: int | None
    tree_code: str | None = None
    site_name: str = ""
    round_id: UUID | None
    taxon_id: UUID
    kind_name: str
    cultivar_id: UUID | None
    page_name: str = Field(description="The variety's short name, or what was told of it.")
    sticks: int = Field(
        description="As counted when it was cut or came; the ledger tells what became of them."
    )
    stage: str | None
    from_party_id: UUID | None
    from_whom: str = Field(description="The giver's name, for a receipt.")
    cut_on: date
    cut_on_guessed: bool = Field(
        description="True where nobody told the day: then it is the day the wood came."
    )
    done_at: datetime
    unfinished: bool
    version: int


class CollectionRead(CollectionSummary):
    """A cut or a receipt with all that was told, what is missing, and what to know."""

    name: WrittenName | None = None
    name_as_told: str
    area_id: UUID | None
    leaves_down: bool | None
    leaves_off: bool | None
    disinfected: bool | None
    owner_agreed: str
    their_reference: str
    health_paper: str
    tree_as_told: str
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID
    note: str
    tree_seen_in_leaf_on: date | None = Field(
        default=None, description="When its tree was last seen in leaf; null for wood from outside too."
    )
    wood_use: WoodUse | None = Field(
        default=None, description="What the stage means for the wood; null without a stage."
    )
    missing: list[str] = Field(default=[], description="What nobody has told yet.")
    warnings: list[CuttingWarning] = []


class ToFinish(Answer):
    """A cut or a receipt that waits for what was left out."""

    id: UUID
    number: int
    kind: CollectionKind
    words: str
    missing: list[str]
    missing_words: list[str]
    cut_on: date
    version: int


class RoundCreate(Body):
    """Trees cut one after another with the same tools; made by itself at the first cut of a day on a site."""

    id: UUID = Field(default_factory=new_id)
    site_id: UUID
    started_at: DoneAt = None
    tools: Line = ""
    disinfected: Line = Field(
        default="", description="With what, how long and when the tools were disinfected."
    )


class RoundUpdate(Body):
    """What is known of the tools of a round."""

    tools: Line | None = None
    disinfected: Line | None = None

    @model_validator(mode="after")
    def _no_null(self) -> RoundUpdate:
        if any(getattr(self, name) is None for name in self.model_fields_set):
            raise ValueError("null is no value here; leave it out to keep what stands")
        return self


class RoundSummary(Answer):
    """A cutting round in a list."""

    id: UUID
    site_id: UUID
    site_name: str
    started_at: datetime
    tools: str
    disinfected: str
    by_party_id: UUID
    by_name: str
    cuts: int
    version: int


class RoundRead(RoundSummary):
    """A cutting round with its cuts in the order they were made."""

    collections: list[CollectionSummary] = []
