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
from service.tags.rules.blanks import MOST_BLANKS, GivenUp
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
    made_at: datetime = Field(
        description="of a blank: when it was printed, and once it is bound, when it was bound"
    )
    ended_at: datetime | None = Field(default=None, description="when it was said to be lost or spoiled")


class TagReplaced(Answer):
    """The tag that was lost and the new one for the same thing."""

    lost: str
    tag: TagRead


class TagBinding(Body):
    """What a blank tag was hung on."""

    kind: TagKind
    thing_id: UUID
    placement: Placement = Placement.BAG


class BundlePart(Body):
    """One bundle of a cut: how many of its sticks are tied together under one tag."""

    id: UUID = Field(default_factory=new_id)
    sticks: Sticks
    code: Line = Field(
        default="",
        description="the blank tag that was tied to it, as scanned or typed; left out: it gets a new code",
    )
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


class OnSheet(Body):
    """Where on which sheet labels are printed."""

    id: UUID = Field(default_factory=new_id)
    sheet: Line = Field(default="a4-3x7", description="name of a sheet")
    first_label: int = Field(
        default=1, ge=1, le=200, description="first free label of the first sheet, counted row by row"
    )
    nudge_x_mm: Nudge = 0.0
    nudge_y_mm: Nudge = 0.0


class BlankBatchCreate(OnSheet):
    """Blank tags to print ahead, each with a new code of its own."""

    blanks: int = Field(ge=1, le=MOST_BLANKS, description="how many")


class BlankBatchRead(Answer):
    """One batch of blank tags and what became of them: printed = bound + spoiled + lost + left.

    The sheet is drawn again under `/api/label-sheets/{id}/pdf`, the same to the byte.
    """

    id: UUID
    sheet: str
    made_at: datetime
    printed: int
    bound: int
    spoiled: int
    lost: int
    left: int


class BlanksGivenUp(Body):
    """Blank tags that will never be tied to anything: torn, smeared, or not found again."""

    codes: list[Line] = Field(min_length=1, max_length=MOST_CODES, description="codes as scanned or typed")
    state: GivenUp = GivenUp.SPOILED


class LabelSheetCreate(OnSheet):
    """Labels to print: which tags, on which sheet, from which label on."""

    codes: list[Line] = Field(
        min_length=1, max_length=MOST_CODES, description="codes of tags in the order of printing"
    )
    copies: int = Field(default=1, ge=1, le=50, description="labels printed of each tag, side by side")

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
    tail_mm: float = Field(
        default=0.0, description="of a flag: its blank right end, which is wrapped around a stick"
    )
    labels: int
    is_own: bool = Field(default=False, description="measured by somebody of the club")
    is_retired: bool = False
    last_nudge_x_mm: float = Field(default=0.0, description="how far the last printing on it was moved")
    last_nudge_y_mm: float = 0.0


PageMm = Annotated[float, Field(gt=0, le=2000, allow_inf_nan=False)]
EdgeMm = Annotated[float, Field(ge=0, le=2000, allow_inf_nan=False)]


class SheetSizeCreate(Body):
    """A sheet or roll of labels as it was measured, in millimetres from the top left corner of the page."""

    id: UUID = Field(default_factory=new_id)
    title: Name = Field(max_length=100, description="what people know it by, such as the words on its packet")
    page_w_mm: PageMm
    page_h_mm: PageMm
    columns: int = Field(default=1, ge=1, le=20)
    rows: int = Field(default=1, ge=1, le=40)
    label_w_mm: PageMm
    label_h_mm: PageMm
    top_mm: EdgeMm = 0.0
    left_mm: EdgeMm = 0.0
    gap_x_mm: EdgeMm = 0.0
    gap_y_mm: EdgeMm = 0.0
    tail_mm: EdgeMm = Field(
        default=0.0, description="of a flag: its blank right end, which is wrapped around a stick"
    )


class PublicAddressCreate(Body):
    """The host name that tags are to carry."""

    host: Name = Field(description="bare host name, at most 28 signs, such as tags.example.org")


class PublicAddressRead(Answer):
    """A host name for tags; labels carry the one confirmed last, and all of them stay accepted."""

    id: UUID
    host: str
    confirmed_at: datetime | None = None
    is_current: bool = False
