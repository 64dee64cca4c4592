"""Bodies and answers of grafts, plants and takes."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated
from uuid import UUID

from pydantic import Field, model_validator

from service.catalogue.rules import Verdict
from service.grafting.rules import GroupBy, LostTo, Part, PlantMoveKind, PlantState
from service.lib.database import new_id
from service.lib.schemas import Answer, Body, Day, Instant, Line, Words
from service.trees.rules import Identity, MayCut

MOST_AT_ONCE = 100
MOST_GRAFTS = 1000
Code = Annotated[Line, Field(max_length=200, description="a tag's code, typed or scanned, host and all")]
Count = Annotated[int, Field(ge=0, le=MOST_GRAFTS)]


class GraftWoodCreate(Body):
    """One wood of a graft, by its bundle or by the code on its tag."""

    bundle_id: UUID | None = None
    code: Code | None = None
    sticks: int = Field(
        default=1, ge=0, le=1000, description="sticks cut into; 0 for the rest of one that was counted before"
    )
    scions: Count | None = Field(default=None, description="scions or buds cut from them, where counted")
    part: Part = Part.SCION

    @model_validator(mode="after")
    def _one_bundle(self) -> GraftWoodCreate:
        if (self.bundle_id is None) == (self.code is None):
            raise ValueError("give the bundle or its code, one of them only")
        return self


class PlantCreate(Body):
    """A plant that a graft makes."""

    id: UUID = Field(default_factory=new_id)
    note: Words = ""


class GraftCreate(Body):
    """Unions made at one time of the same wood on the same sort of stock by the same method."""

    id: UUID = Field(default_factory=new_id)
    woods: list[GraftWoodCreate] = Field(min_length=1, max_length=8)
    method: Annotated[
        Line, Field(max_length=60, description="slug of a grafting method; empty where not told")
    ] = ""
    grafts: int = Field(default=1, ge=1, le=MOST_GRAFTS, description="how many unions")
    rootstock_id: UUID | None = Field(default=None, description="a rootstock of the list")
    stock_tree_id: UUID | None = Field(default=None, description="a standing source tree that is worked over")
    plant_id: UUID | None = Field(default=None, description="a plant that was grafted before")
    stock_code: Code | None = Field(default=None, description="the tag of a standing tree or of a plant")
    stock_as_told: Line = Field(default="", description="in words, where no other fits")
    plants: (
        Annotated[int, Field(ge=0, le=MOST_GRAFTS)]
        | Annotated[list[PlantCreate], Field(max_length=MOST_GRAFTS)]
    ) = Field(default=0, description="how many new plants, or each of them")
    with_tags: bool = Field(default=True, description="make a tag for each plant")
    holder_id: UUID | None = Field(
        default=None, description="who has the plants; whom it is done for if left out"
    )
    for_club: bool = Field(default=False, description="the plants are the club's own")
    site_id: UUID | None = None
    done_at: Instant | None = Field(default=None, description="when it was done; now if left out")
    note: Words = ""

    @model_validator(mode="after")
    def _one_stock(self) -> GraftCreate:
        told = (
            self.rootstock_id,
            self.stock_tree_id,
            self.plant_id,
            self.stock_code,
            self.stock_as_told or None,
        )
        if sum(stock is not None for stock in told) != 1:
            raise ValueError("say one stock: a rootstock, a tree, a plant, a code, or words")
        if self.for_club and self.holder_id is not None:
            raise ValueError("the plants are the club’s or somebody’s, not both")
        return self


class GraftUpdate(Body):
    """What changed of a graft; what is left out stays. Woods, stock and counts do not change: they are the record."""

    note: Words | None = None
    verdict_on: Day | None = Field(default=None, description="when its take shall be judged")

    @model_validator(mode="after")
    def _no_null(self) -> GraftUpdate:
        refuse_null(self)
        return self


class PlantUpdate(Body):
    """What changed of a plant; what is left out stays. Whether it took comes from looks at it."""

    note: Words | None = None
    gone: bool | None = Field(default=None, description="it is no longer there; false: it is after all")

    @model_validator(mode="after")
    def _no_null(self) -> PlantUpdate:
        refuse_null(self)
        return self


def refuse_null(body: Body) -> None:
    empty = sorted(name for name in body.model_fields_set if getattr(body, name) is None)
    if empty:
        raise ValueError(f"null is no value for: {', '.join(empty)}; leave it out to keep what stands")


class GraftUndo(Body):
    """A graft was recorded by mistake: why, as far as it is known."""

    reason: Annotated[Line, Field(min_length=1)]


class PlantMoveCreate(Body):
    """A plant changes hands, or died. Its tag may name it."""

    id: UUID = Field(default_factory=new_id)
    plant_id: UUID | None = None
    code: Code | None = Field(default=None, description="the tag of the plant")
    kind: PlantMoveKind = PlantMoveKind.HANDED_OVER
    party_id: UUID | None = Field(default=None, description="the receiver, where it is handed over")
    to_whom: Line = Field(default="", description="outside the record: to whom, as told")
    done_at: Instant | None = Field(default=None, description="when it was done; now if left out")
    reason: Line = ""

    @model_validator(mode="after")
    def _fits(self) -> PlantMoveCreate:
        if (self.plant_id is None) == (self.code is None):
            raise ValueError("give the plant or its code, one of them only")
        if (self.party_id is None) == (self.kind is PlantMoveKind.HANDED_OVER):
            raise ValueError("a receiver where a plant is handed over, else none")
        return self


class PlantMoveRead(Answer):
    """How a plant came from one hand to the next. Names only for who handles people's wood."""

    id: UUID
    plant_id: UUID
    kind: PlantMoveKind
    from_party_id: UUID | None = Field(description="none: the club")
    from_party: str | None = None
    party_id: UUID | None = Field(
        description="who has it from then on; none: the club, or nobody of the record"
    )
    party: str | None = None
    to_whom: str = ""
    words: str = ""
    done_at: datetime
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID
    reason: str


class JoinTold(Answer):
    """What is known of one join of a graft, and what it rests on."""

    wood: str
    stock: str
    verdict: Verdict
    note: str = ""
    bridge: str = ""
    source: str = ""
    mark: str = ""
    rests_on: str = ""


class GraftWoodRead(Answer):
    """One wood in a graft."""

    bundle_id: UUID
    code: str | None
    kind: str
    variety: str
    part: Part
    sticks: int
    scions: int | None


class TakeRead(Answer):
    """What stands of a graft after all looks: how many live of how many looked at."""

    alive: int
    looked_at: int
    doubtful: int
    other_cause: int = 0
    is_verdict: bool
    seen_on: date


class TakeCheckRead(Answer):
    """One look at a graft, or at one plant of it."""

    id: UUID
    graft_id: UUID
    plant_id: UUID | None
    alive: int
    looked_at: int
    doubtful: int
    other_cause: int = 0
    cause: LostTo | None = None
    is_verdict: bool
    seen_on: date
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID
    note: str


class PlantSummary(Answer):
    """A grafted plant in short."""

    id: UUID
    number: int
    code: str | None
    graft_id: UUID
    holder_id: UUID | None
    source_tree_id: UUID | None
    state: PlantState
    open_stops: int = 0
    version: int


class GraftSummary(Answer):
    """A graft in a list."""

    id: UUID
    number: int
    method: str
    method_name: str
    grafts: int
    woods: list[GraftWoodRead]
    stock: str
    rootstock_id: UUID | None
    stock_tree_id: UUID | None
    on_plant_id: UUID | None = None
    verdict: Verdict
    verdict_on: date | None
    take: TakeRead | None = None
    site_id: UUID | None
    done_at: datetime
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID
    note: str
    taken_back_at: datetime | None = Field(
        default=None, description="recorded by mistake: when it was taken back"
    )
    version: int


class GraftRead(GraftSummary):
    """A graft with its plants, its looks, and what was told when it was entered."""

    plants: list[PlantSummary] = []
    looks: list[TakeCheckRead] = []
    taken_back_reason: str = ""
    first_look_on: date | None = None
    verdict_from_on: date | None = None
    verdict_mark: str = ""
    tie: str = ""
    joins: list[JoinTold] = []
    warnings: list[str] = []
    cautions: list[str] = []


class PlantRead(PlantSummary):
    """A grafted plant with all it carries."""

    kind: str
    variety: str
    stock: str
    made_at: datetime
    note: str
    grafts: list[GraftSummary] = Field(
        default_factory=list, description="the graft that made it, then those made on it"
    )


class TakeCheckCreate(Body):
    """A look at whether grafts took: at a whole graft, or at one plant, which its tag may name."""

    id: UUID = Field(default_factory=new_id)
    graft_id: UUID | None = None
    plant_id: UUID | None = None
    code: Code | None = Field(default=None, description="the tag of a plant")
    alive: Count
    looked_at: int = Field(default=1, ge=1, le=MOST_GRAFTS)
    doubtful: Count = 0
    other_cause: Count = Field(
        default=0,
        description="of the dead: lost to something that says nothing of the wood, as `cause` tells",
    )
    cause: LostTo | None = None
    is_verdict: bool = Field(default=False, description="the verdict; else a first look")
    seen_on: Day | None = Field(default=None, description="the day it was seen; today if left out")
    note: Words = ""

    @model_validator(mode="after")
    def _one_plant(self) -> TakeCheckCreate:
        if self.plant_id is not None and self.code is not None:
            raise ValueError("give the plant or its code, not both")
        if self.graft_id is None and self.plant_id is None and self.code is None:
            raise ValueError("give a graft, a plant or a code")
        return self


class TakeChecked(TakeCheckRead):
    """A look, with what stands of the graft now, and of the plants."""

    take: TakeRead
    plants: list[PlantSummary] = []


class PlantAsTree(Body):
    """Where a grafted plant stands as a source tree, and who looks after it; what it is carries over."""

    id: UUID = Field(default_factory=new_id, description="of the new tree")
    site_id: UUID
    where_on_site: Annotated[Line, Field(max_length=200)] = ""
    owner_id: UUID | None = Field(default=None, description="the plant's holder if left out")
    may_cut: MayCut = MayCut.ASK
    most_sticks: int | None = Field(default=None, ge=1, le=10_000)
    planted_year: int | None = Field(default=None, ge=1500, le=2200)
    note: Words = ""


class PlantedTree(Answer):
    """The source tree a plant became."""

    plant_id: UUID
    tree_id: UUID
    tree_number: int
    tree_code: str | None
    identity: Identity
    stands_on: str = ""


class TakeCount(Answer):
    """Counts only: how many unions were made, judged and alive. No rate is worked out from them here."""

    by: GroupBy
    key: str
    name: str
    grafts: int = Field(description="records of grafting")
    unions: int
    judged: int = Field(description="unions looked at in a verdict")
    alive: int
    doubtful: int
    not_judged: int
