"""Bodies and answers of tags, label sheets and public addresses."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated
from uuid import UUID

from pydantic import Field, model_validator

from service.bundles.schemas import BundleRead, DiameterMm, LengthMm, Sticks
from service.collection.schemas import CollectionCreate, CollectionRead, ReceiptCreate
from service.lib.database import new_id
from service.lib.schemas import Answer, Body, Line, Name, Words
from service.tags.rules.sheets import NUDGE_LIMIT_MM
from service.tags.rules.words import Placement, TagKind, TagState

MOST_CODES = 1000
MOST_LABELS = 2000
MOST_TAGS = 200
Nudge = Annotated[
    float, Field(ge=-NUDGE_LIMIT_MM, le=NUDGE_LIMIT_MM, multiple_of=0.5, description="in steps of 0.5 mm")
]


class TagCreate(Body):
    """A tag for something that has none, or a second one for a bundle: one on the bag, one on the wood."""

    kind: TagKind
    thing_id: UUID
    placement: Placement = Placement.BAG


class TagRead(Answer):
    """A tag and what it is bound to. A lost tag still resolves and names the one that replaced it."""

    code: str
    kind: TagKind | None
    thing_id: UUID | None
    state: TagState
    placement: Placement
    replaced_by: str | None = None
    printed_at: datetime | None = None
    made_at: datetime


class TagReplaced(Answer):
    """The tag that was lost and the new one for the same thing."""

    lost: str
    tag: TagRead


class BundlePart(Body):
    """One bundle of a cut: how many of its sticks are tied together under one tag."""

    id: UUID = Field(default_factory=new_id)
    sticks: Sticks
    length_mm: LengthMm | None = None
    diameter_mm: DiameterMm | None = None
    unfinished: bool = False
    note: Words = ""


Parts = Annotated[
    list[BundlePart],
    Field(
        max_length=50,
        description="Its bundles; their sticks add up to those of the cut. Left out: one bundle of all.",
    ),
]


class LabelledCutCreate(Body):
    """A cut and the bundles it was tied into, each of which gets its tag."""

    cut: CollectionCreate
    bundles: Parts = []


class LabelledReceiptCreate(Body):
    """Wood from outside and the bundles it was tied into, each of which gets its tag."""

    receipt: ReceiptCreate
    bundles: Parts = []


class LabelledCollection(Answer):
    """A cut or a receipt as recorded, and its bundles with their codes."""

    collection: CollectionRead
    bundles: list[BundleRead]


class WaitingLabel(Answer):
    """A tag whose label was never printed, with the first words of the label."""

    code: str
    kind: TagKind
    thing_id: UUID
    placement: Placement
    heading: str
    name: str
    made_at: datetime


class LabelSheetCreate(Body):
    """Labels to print: which tags, on which sheet, from which label on."""

    id: UUID = Field(default_factory=new_id)
    codes: list[Line] = Field(
        min_length=1, max_length=MOST_CODES, description="codes of tags in the order of printing"
    )
    sheet: Line = Field(default="a4-3x7", description="name of a sheet")
    first_label: int = Field(
        default=1, ge=1, le=200, description="first free label of the first sheet, counted row by row"
    )
    copies: int = Field(default=1, ge=1, le=50, description="labels printed of each tag, side by side")
    nudge_x_mm: Nudge = 0.0
    nudge_y_mm: Nudge = 0.0

    @model_validator(mode="after")
    def _not_too_many(self) -> LabelSheetCreate:
        if len(self.codes) * self.copies > MOST_LABELS:
            raise ValueError(f"at most {MOST_LABELS} labels at once")
        return self


class LabelSheetRead(Answer):
    """One printing of labels. The PDF can be had again, the same to the byte."""

    id: UUID
    sheet: str
    host: str
    labels: int
    pages: int
    first_label: int
    copies: int
    nudge_x_mm: float
    nudge_y_mm: float
    made_at: datetime


class SheetSize(Answer):
    """A sheet of labels that can be printed on; sizes in millimetres."""

    name: str
    title: str
    page_w_mm: float
    page_h_mm: float
    columns: int
    rows: int
    label_w_mm: float
    label_h_mm: float
    top_mm: float
    left_mm: float
    gap_x_mm: float
    gap_y_mm: float
    labels: int


class PublicAddressCreate(Body):
    """The host name that tags are to carry."""

    host: Name = Field(description="bare host name, at most 28 signs, such as tags.example.org")


class PublicAddressRead(Answer):
    """A host name for tags; labels carry the one confirmed last, and all of them stay accepted."""

    id: UUID
    host: str
    confirmed_at: datetime | None = None
    is_current: bool = False
