"""Bodies and answers of counting a shelf or a box."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from pydantic import Field, model_validator

from service.lib.database import new_id
from service.lib.schemas import Answer, Body
from service.storage.rules import Found
from service.storage.schemas.stores import Code


class ShelfCountCreate(Body):
    """Which place or which box is gone through."""

    id: UUID = Field(default_factory=new_id)
    place_id: UUID | None = None
    box_id: UUID | None = None

    @model_validator(mode="after")
    def _one_spot(self) -> ShelfCountCreate:
        if (self.place_id is None) == (self.box_id is None):
            raise ValueError("say a place or a box, one of them only")
        return self


class ShelfScanCreate(Body):
    """A tag that lies there."""

    code: Code


class ShelfScanned(Answer):
    """What a scan found; `again` where the same bundle was scanned before, `lies` where the record has it."""

    bundle_id: UUID
    code: str
    finding: Found
    again: bool
    lies: str


class SeenSymbol(Body):
    """A symbol in a picture: what it says, and its corners as shares of the picture's width and height, clockwise."""

    text: str = Field(max_length=2000)
    corners: list[tuple[float, float]] = Field(min_length=4, max_length=4)


class ShelfPhotoCreate(Body):
    """What was read in a picture of what lies there, and the picture as it is kept."""

    id: UUID = Field(default_factory=new_id)
    picture: str = Field(pattern="^[0-9a-f]{64}$")
    width: int = Field(ge=1)
    height: int = Field(ge=1)
    seen: list[SeenSymbol] = Field(max_length=1000)


class SeenTag(Answer):
    """A tag in a picture: a bundle with how it was found, or words for what else it is."""

    number: int
    code: str
    corners: list[tuple[float, float]]
    bundle_id: UUID | None
    finding: Found | None
    words: str


class ShelfPhotoRead(Answer):
    """A picture of what lies there, with the tags that were read in it, numbered from the top left."""

    id: UUID
    count_id: UUID
    picture: str
    address: str
    width: int
    height: int
    read_at: datetime
    seen: list[SeenTag]


class CountedBundle(Answer):
    """A bundle in a count."""

    bundle_id: UUID
    code: str | None
    parent_code: str | None
    variety: str
    kind: str
    on_hand: int
    open_stops: int


class ShelfCountRead(Answer):
    """A count as it stands: what was scanned and should lie there, what should not, and what was not scanned yet."""

    id: UUID
    place_id: UUID | None
    box_id: UUID | None
    spot: str
    store_id: UUID | None
    begun_at: datetime
    ended_at: datetime | None
    by_party_id: UUID
    for_party_id: UUID
    present: list[CountedBundle]
    not_expected: list[CountedBundle]
    missing: list[CountedBundle]


class ShelfCountSummary(Answer):
    """A count in a list."""

    id: UUID
    spot: str
    begun_at: datetime
    ended_at: datetime | None
