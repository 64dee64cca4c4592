"""Bodies and answers of stores, boxes, and what is put away."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated
from uuid import UUID

from pydantic import Field, model_validator

from service.lib.database import new_id
from service.lib.schemas import Answer, Body, Instant, Line, Name, Words
from service.storage.rules import Closeness, StoreKind
from service.storage.schemas.packing import PackedTold

MOST_AT_ONCE = 200
StoreName = Annotated[Name, Field(max_length=200)]
ShortName = Annotated[Name, Field(max_length=100)]
Note = Annotated[Words, Field(max_length=1000)]
Code = Annotated[Line, Field(max_length=200, description="a tag's code, typed or scanned, host and all")]


# -- stores, places, boxes -----------------------------------------------------------------------------------------


class Change(Body):
    """An edit: what is left out stays as it is."""

    @model_validator(mode="after")
    def _no_null(self) -> Change:
        empty = sorted(
            name for name in self.model_fields_set - {"fruit_inside"} if getattr(self, name) is None
        )
        if empty:
            raise ValueError(f"null is no value for: {', '.join(empty)}; leave it out to keep what stands")
        return self

    def told(self) -> dict[str, object]:
        """What was sent, by field."""
        return {name: getattr(self, name) for name in self.model_fields_set}


class StoreCreate(Body):
    """A fridge, cold room or cellar, and the person it stands with."""

    id: UUID = Field(default_factory=new_id)
    name: StoreName
    kind: StoreKind = StoreKind.FRIDGE
    host_id: UUID
    whereabouts: Annotated[Words, Field(max_length=500)] = ""
    fruit_inside: bool | None = Field(
        default=None, description="whether ripening fruit is kept in it; null: not known"
    )
    places: list[ShortName] = Field(
        default_factory=list, max_length=50, description="names of shelves and corners"
    )
    note: Words = ""
    with_tag: bool = Field(default=True, description="make a tag for it")


class StoreUpdate(Change):
    """What changed of a store; what is left out stays."""

    name: StoreName | None = None
    kind: StoreKind | None = None
    host_id: UUID | None = None
    whereabouts: Annotated[Words, Field(max_length=500)] | None = None
    fruit_inside: bool | None = None
    note: Words | None = None
    closed: bool | None = Field(default=None, description="a closed store takes nothing more")


class PlaceRead(Answer):
    """A shelf or corner of a store; the one without a name is anywhere in it."""

    id: UUID
    store_id: UUID
    name: str


class PlaceCreate(Body):
    """A further shelf or corner of a store."""

    id: UUID = Field(default_factory=new_id)
    store_id: UUID
    name: ShortName


class StoreRead(Answer):
    """A store with its places."""

    id: UUID
    code: str | None
    name: str
    kind: StoreKind
    host_id: UUID
    whereabouts: str
    fruit_inside: bool | None
    closed_at: datetime | None
    note: str
    places: list[PlaceRead] = []
    cautions: list[str] = []
    version: int


class BoxCreate(Body):
    """A box that moves whole, with all that lies in it; it may be put on its place at once."""

    id: UUID = Field(default_factory=new_id)
    name: ShortName
    note: Words = ""
    place_id: UUID | None = None
    store_id: UUID | None = None
    with_tag: bool = Field(default=True, description="make a tag for it")

    @model_validator(mode="after")
    def _one_place(self) -> BoxCreate:
        if self.place_id is not None and self.store_id is not None:
            raise ValueError("say a place or a store, not both")
        return self


class BoxUpdate(Change):
    """What changed of a box; what is left out stays."""

    name: ShortName | None = None
    note: Words | None = None


class BoxRead(Answer):
    """A box, and where it stands now."""

    id: UUID
    code: str | None
    name: str
    note: str
    store_id: UUID | None = None
    store_name: str = ""
    place_id: UUID | None = None
    place_name: str = ""
    version: int


# -- putting away ----------------------------------------------------------------------------------------------------


class PutAwayCreate(PackedTold):
    """One thing put somewhere, or taken out: a bundle or a box, by its id or by a tag's code; of a box the packing is told of all in it."""

    id: UUID = Field(default_factory=new_id)
    bundle_id: UUID | None = None
    box_id: UUID | None = None
    code: Code | None = None
    into_box_id: UUID | None = None
    place_id: UUID | None = None
    store_id: UUID | None = Field(default=None, description="anywhere in this store")
    into_code: Code | None = Field(default=None, description="the tag of a box or of a store")
    out: bool = Field(default=False, description="taken out; a box keeps what lies in it")
    to_isolate: bool = Field(default=False, description="a health steward moves stopped wood aside")
    done_at: Instant | None = Field(default=None, description="when it was done; now if left out")
    note: Note = ""

    @model_validator(mode="after")
    def _one_of_each(self) -> PutAwayCreate:
        things = (self.bundle_id, self.box_id, self.code)
        targets = (self.into_box_id, self.place_id, self.store_id, self.into_code)
        if sum(thing is not None for thing in things) != 1:
            raise ValueError("give one thing to put away: a bundle, a box or a code")
        if sum(target is not None for target in targets) + self.out != 1:
            raise ValueError(
                "say one place to put it: a box, a place, a store or a code; or that it is taken out"
            )
        return self


class PutAwayRead(Answer):
    """What was put where; `moved` counts the bundles that went along, in a box or alone."""

    id: UUID
    bundle_id: UUID | None
    box_id: UUID | None
    into_box_id: UUID | None
    place_id: UUID | None
    store_id: UUID | None = None
    moved: int = 1
    done_at: datetime
    recorded_at: datetime
    warnings: list[str] = []


class Whereabouts(Answer):
    """Where a bundle lies: its box, the place, the store. What is not known, or left behind, is empty."""

    bundle_id: UUID
    box_id: UUID | None = None
    box_name: str = ""
    place_id: UUID | None = None
    place_name: str = ""
    store_id: UUID | None = None
    store_name: str = ""
    host_id: UUID | None = None
    since: datetime


class WhereaboutsRead(Answer):
    """Where a bundle lies, or lay at a given moment; null: in no store and no box."""

    bundle_id: UUID
    at: datetime | None
    whereabouts: Whereabouts | None


class StayRead(Answer):
    """From when until when a bundle lay there; without an end it still does."""

    box_id: UUID | None
    box_name: str
    place_id: UUID | None
    place_name: str
    store_id: UUID | None
    store_name: str
    from_at: datetime
    until_at: datetime | None


class BesideRead(Answer):
    """Another bundle that lay in the same box, on the same place or in the same store, and when."""

    bundle_id: UUID
    code: str | None
    closeness: Closeness
    from_at: datetime
    until_at: datetime | None


class ContentRead(Answer):
    """A bundle that lies in a store, on a place or in a box."""

    bundle_id: UUID
    code: str | None
    parent_code: str | None
    kind: str
    variety: str
    collection_number: int
    cut_on: date
    on_hand: int
    open_stops: int
    box_id: UUID | None
    box_name: str
    place_id: UUID | None
    place_name: str
    since: datetime


class BoxContents(Answer):
    """A box on a place, with what lies in it."""

    id: UUID
    code: str | None
    name: str
    bundles: list[ContentRead] = []


class PlaceContents(Answer):
    """A place with its boxes and the bundles that lie loose on it."""

    id: UUID
    name: str
    boxes: list[BoxContents] = []
    bundles: list[ContentRead] = []


class StorePage(Answer):
    """All that stands and lies in one store."""

    store: StoreRead
    places: list[PlaceContents]
    bundles: int
    sticks: int
    stopped: int
