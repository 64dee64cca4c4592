"""Bodies and answers of sites, trees, looks at trees, and stops."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated
from uuid import UUID

from pydantic import Field, StringConstraints, model_validator

from service.catalogue.schemas import WrittenName
from service.lib.database import new_id
from service.lib.schemas import Answer, Body, Day, Line, Name, Words
from service.trees.rules import CheckKind, CheckResult, Identity, MayCut, NameChange, StopReason, StopState

MOST_AT_ONCE = 200
Where = Annotated[Line, StringConstraints(max_length=200)]
Agent = Annotated[
    Line,
    StringConstraints(max_length=200),
    Field(description="A disease or pest: its slug or name in the catalogue, its code, or own words."),
]
AgentCode = Annotated[
    Line,
    StringConstraints(max_length=10),
    Field(description="EPPO code, where the agent is not in the catalogue."),
]
Note = Annotated[Words, StringConstraints(max_length=1000)]
Picture = Annotated[
    str,
    StringConstraints(pattern="^[0-9a-f]{64}$"),
    Field(description="SHA-256 of a picture that was sent before."),
]
Year = Annotated[int, Field(ge=1000, le=2200)]


class Change(Body):
    """An edit: what is left out stays as it is."""

    @model_validator(mode="after")
    def _no_null(self) -> Change:
        empty = sorted(
            name for name in self.model_fields_set - self.may_be_empty() if getattr(self, name) is None
        )
        if empty:
            raise ValueError(f"null is no value for: {', '.join(empty)}; leave it out to keep what stands")
        return self

    @classmethod
    def may_be_empty(cls) -> frozenset[str]:
        return frozenset()

    def told(self) -> dict[str, object]:
        """What was sent, by field."""
        return {name: getattr(self, name) for name in self.model_fields_set}


# -- sites ---------------------------------------------------------------------------------------------------------


class SiteCreate(Body):
    """A place where trees stand; `region` is all that a stranger may see of it."""

    id: UUID = Field(default_factory=new_id)
    name: Name
    region: Where = ""
    directions: Words = ""
    gate: Line = Field(default="", description="Who opens the gate; told to who works with trees alone.")
    latitude: Annotated[float, Field(ge=-90, le=90)] | None = None
    longitude: Annotated[float, Field(ge=-180, le=180)] | None = None
    area_id: UUID = Field(description="The plant-health area it lies in.")
    area_checked_on: Day | None = Field(
        default=None, description="When somebody asked the authority which area it lies in."
    )
    note: Words = ""

    @model_validator(mode="after")
    def _whole_point(self) -> SiteCreate:
        if (self.latitude is None) != (self.longitude is None):
            raise ValueError("a point has a latitude and a longitude")
        return self


class SiteUpdate(Change):
    """What changed of a site."""

    name: Name | None = None
    region: Where | None = None
    directions: Words | None = None
    gate: Line | None = None
    latitude: Annotated[float, Field(ge=-90, le=90)] | None = None
    longitude: Annotated[float, Field(ge=-180, le=180)] | None = None
    area_id: UUID | None = None
    area_checked_on: Day | None = None
    note: Words | None = None

    @classmethod
    def may_be_empty(cls) -> frozenset[str]:
        return frozenset({"latitude", "longitude", "area_checked_on"})


class SiteRead(Answer):
    """A site. Directions, gate and the exact place are empty for who does not work with trees."""

    id: UUID
    name: str
    region: str
    directions: str = ""
    gate: str = ""
    latitude: float | None = None
    longitude: float | None = None
    area_id: UUID
    area_name: str
    area_checked_on: date | None
    note: str = ""
    trees: int = Field(default=0, description="Trees in the record that stand there.")
    warnings: list[str] = Field(
        default=[],
        description="What cannot be reckoned by where it lies, and what to do; for who works with trees.",
    )
    version: int


# -- trees ---------------------------------------------------------------------------------------------------------


class TreeVarietyCreate(Body):
    """A further variety on the tree, and on which branch."""

    cultivar_id: UUID
    branch: Where = ""
    since: Day | None = None


class TreeVarietyRead(Answer):
    cultivar_id: UUID
    name: str
    branch: str
    since: date | None


class TreeCreate(Body):
    """A tree to cut from. Provisional: a new tree met on the way, with its name as told and whose it is."""

    id: UUID = Field(default_factory=new_id)
    site_id: UUID
    where_on_site: Where = ""
    taxon_id: UUID | None = Field(
        default=None, description="Its kind; may be left out where the variety is told."
    )
    cultivar_id: UUID | None = None
    name_as_told: Line = ""
    identity: Identity | None = Field(
        default=None, description="How sure its name is; as told, unless said otherwise."
    )
    owner_id: UUID | None = Field(
        default=None, description="Who looks after it; whoever enters it, unless said otherwise."
    )
    may_cut: MayCut = MayCut.ASK
    most_sticks: Annotated[int, Field(ge=0, le=10_000)] | None = Field(
        default=None, description="Per season, as the owner said."
    )
    planted_year: Year | None = None
    rootstock_id: UUID | None = None
    interstem_id: UUID | None = None
    stands_on: Line = Field(default="", description="In words, where no stock of the list fits.")
    no_propagation_contract: bool = False
    rights_note: Note = ""
    provisional: bool = False
    varieties: Annotated[list[TreeVarietyCreate], Field(max_length=60)] = []
    note: Words = ""


class TreeUpdate(Change):
    """What changed of a tree; `varieties` replaces the whole list of further ones."""

    site_id: UUID | None = None
    where_on_site: Where | None = None
    taxon_id: UUID | None = None
    cultivar_id: UUID | None = None
    name_as_told: Line | None = None
    identity: Identity | None = None
    owner_id: UUID | None = None
    may_cut: MayCut | None = None
    most_sticks: Annotated[int, Field(ge=0, le=10_000)] | None = None
    planted_year: Year | None = None
    rootstock_id: UUID | None = None
    interstem_id: UUID | None = None
    stands_on: Line | None = None
    no_propagation_contract: bool | None = None
    rights_note: Note | None = None
    provisional: bool | None = None
    felled_on: Day | None = None
    varieties: Annotated[list[TreeVarietyCreate], Field(max_length=60)] | None = None
    note: Words | None = None

    @classmethod
    def may_be_empty(cls) -> frozenset[str]:
        return frozenset(
            {"cultivar_id", "most_sticks", "planted_year", "rootstock_id", "interstem_id", "felled_on"}
        )


class TreeFinish(Change):
    """What was left out when a tree was met on the way. What stays out stays as it was told."""

    site_id: UUID | None = None
    where_on_site: Where | None = None
    taxon_id: UUID | None = None
    cultivar_id: UUID | None = None
    name_as_told: Line | None = None
    identity: Identity | None = None
    owner_id: UUID | None = None
    may_cut: MayCut | None = None
    most_sticks: Annotated[int, Field(ge=0, le=10_000)] | None = None
    planted_year: Year | None = None
    rootstock_id: UUID | None = None
    interstem_id: UUID | None = None
    stands_on: Line | None = None
    no_propagation_contract: bool | None = None
    rights_note: Note | None = None
    note: Words | None = None
    reason: Line = Field(default="", description="How its name is known, and by whom.")


class NameTold(Body):
    """Another name, since when it is known, and how."""

    cultivar_id: UUID | None = None
    taxon_id: UUID | None = Field(default=None, description="Its kind, where no variety is told.")
    name_as_told: Line = ""
    on_day: Day | None = Field(
        default=None, description="When it was found out, or when it was topworked; today, unless told."
    )
    reason: Annotated[Line, Field(min_length=1, description="How it is known, and by whom.")]

    @model_validator(mode="after")
    def _named(self) -> NameTold:
        if self.cultivar_id is None and not self.name_as_told and self.taxon_id is None:
            raise ValueError("tell the variety, or what is known of its name")
        return self


class TreeNameSet(NameTold):
    """Another name for a tree: because the old one was wrong, or because it was topworked since."""

    what: NameChange = Field(
        description="wrong: all that took its name from this tree is put right; topworked: later cuts differ"
    )
    identity: Identity | None = Field(
        default=None, description="How sure the new name is; as told, unless said otherwise."
    )
    keep_old: bool = Field(
        default=False, description="Topworked in part: the old variety stays on some branches."
    )

    @model_validator(mode="after")
    def _kept(self) -> TreeNameSet:
        if self.keep_old and self.what is NameChange.WRONG:
            raise ValueError("a name that was wrong stays on no branch")
        return self


class TreeNameChangeRead(Answer):
    """One change of a tree's name."""

    kind: NameChange
    from_words: str
    words: str
    on_day: date
    reason: str
    follows_tree_id: UUID | None
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID


class LastCheckRead(Answer):
    """The newest look that saw the tree."""

    result: CheckResult
    seen_on: date


class OpenStopRead(Answer):
    """A stop that binds the tree now, and what lifts it."""

    id: UUID
    reason: StopReason
    state: StopState
    agent: str
    agent_code: str
    placed_at: datetime
    words: str
    lifted_by: str


class TreeSummary(Answer):
    """A tree in a list."""

    id: UUID
    number: int
    code: str | None
    site_id: UUID
    site_name: str
    region: str
    area_id: UUID
    where_on_site: str = ""
    taxon_id: UUID
    kind: str
    cultivar_id: UUID | None
    page_name: str = Field(description="The variety's short name, or what was told of it.")
    name_as_told: str
    identity: Identity
    owner_id: UUID
    owner_name: str
    may_cut: MayCut
    most_sticks: int | None
    planted_year: int | None
    provisional: bool
    felled_on: date | None
    open_stops: int
    last_leaf_check: LastCheckRead | None
    last_fruit_check: LastCheckRead | None
    version: int


class TreeRead(TreeSummary):
    """A tree with all that is known of it."""

    name: WrittenName | None = Field(
        default=None, description="The variety's name as ICNCP writes it; null without a variety."
    )
    rootstock_id: UUID | None = None
    rootstock: str = ""
    interstem_id: UUID | None = None
    interstem: str = ""
    stands_on: str = ""
    no_propagation_contract: bool
    rights_note: str = ""
    varieties: list[TreeVarietyRead] = []
    stops: list[OpenStopRead] = []
    note: str = ""
    created_at: datetime


# -- looks ---------------------------------------------------------------------------------------------------------


class LookCreate(Body):
    """A look at one tree: in leaf healthy, symptom or not_seen; in fruit true, wrong or not_seen."""

    id: UUID = Field(default_factory=new_id)
    kind: CheckKind
    result: CheckResult
    seen_on: Day | None = Field(default=None, description="Today in the club's zone, unless said otherwise.")
    agent: Agent = ""
    note: Words = ""
    picture: Picture | None = None


class TreeCheckCreate(LookCreate):
    """A look at one of many trees."""

    tree_id: UUID


class StopProposal(Answer):
    """A stop that a person should consider now: a look by itself stops nothing."""

    reason: StopReason
    state: StopState = StopState.SUSPECTED
    agent: str = ""
    agent_code: str = ""
    why: str
    todo: str


class TreeCheckRead(Answer):
    """A look at a tree, and the stop it asks for."""

    id: UUID
    tree_id: UUID
    kind: CheckKind
    result: CheckResult
    seen_on: date
    agent: str
    note: str
    picture: str | None
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID
    taken_back_at: datetime | None = Field(
        default=None, description="Written down by mistake, and taken back then: it says nothing of the tree."
    )
    taken_back_by_party_id: UUID | None = None
    proposes_stop: bool = False
    proposal: StopProposal | None = None
    warnings: list[str] = []
