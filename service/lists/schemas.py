"""Bodies and answers of lists that are moved in."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated
from uuid import UUID

from pydantic import Field, StringConstraints

from service.lib.schemas import Answer, Body, Line
from service.lib.tabular import MOST_COLUMNS
from service.lists.rules import DayOrder, ListSort, ListState, RowState

Heading = Annotated[str, StringConstraints(max_length=120)]
Key = Annotated[str, StringConstraints(min_length=1, max_length=420)]
Reply = Annotated[
    str,
    StringConstraints(pattern="^(as_told|new|leave_out|dmy|mdy|[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12})?$"),
]


class ListFormSet(Body):
    """How a list is read: which sheet, which column tells what, and what holds where a row tells nothing."""

    sheet: Line = ""
    encoding: Annotated[Line, StringConstraints(max_length=20)] = Field(
        default="", description="Of a CSV file, where it was guessed wrongly."
    )
    delimiter: Annotated[str, StringConstraints(max_length=1, strip_whitespace=False)] = ""
    header_row: Annotated[int, Field(ge=0, le=1_000_000)] = Field(
        default=0, description="Which row holds the headings; 0: as it is guessed."
    )
    columns: Annotated[dict[Heading, Heading], Field(max_length=MOST_COLUMNS)] | None = Field(
        default=None,
        description="Of each thing a list can tell: the heading of its column. Guessed, unless told.",
    )
    orders: Annotated[dict[Heading, DayOrder], Field(max_length=20)] = Field(
        default={},
        description="Of a column of days such as 3/4/2025: whether the day or the month comes first.",
    )
    kind_id: UUID | None = Field(default=None, description="The kind, where a row tells none.")
    site_id: UUID | None = Field(default=None, description="The site, where a row tells none.")
    area_id: UUID | None = Field(
        default=None, description="The plant-health area of what is new, where none is told."
    )


class ListAnswersSet(Body):
    """Answers by the key of their question: an id of what is offered, `as_told`, `new`, or `leave_out`. An empty one asks again."""

    answers: Annotated[dict[Key, Reply], Field(max_length=5000)]


class ListTake(Body):
    """Take a list whole; rows that cannot be used stay out only where that is said."""

    leave_refused: bool = False


class ListTakeBack(Body):
    """A list that should not have been taken goes back whole: why."""

    reason: Annotated[Line, Field(min_length=1)]


class ListOption(Answer):
    value: str
    words: str


class ListQuestion(Answer):
    """What a list asks once for a spelling or a column."""

    key: str
    what: str = Field(description="variety, kind, area, site, person, name, giver, store, site_area or days")
    spelling: str
    rows: int
    line: int = Field(description="The first row that asks it.")
    options: list[ListOption] = []
    answer: str = ""


class ListRowTold(Answer):
    """A row that is not simply taken: what of it, in which column, and what to do."""

    line: int
    state: RowState
    column: str
    words: str
    todo: str


class ListNotice(Answer):
    """What is told once of the whole list, and the page whose form lifts it, where there is one."""

    words: str
    lift: str = ""
    lift_words: str = ""
    lift_right: str = ""


class ListColumn(Answer):
    """One thing a list of this sort can tell."""

    name: str
    words: str
    needed: bool
    hint: str
    heading: str = Field(description="The column that tells it; empty: none.")


class ListFileSummary(Answer):
    """A list and what became of it."""

    id: UUID
    sort: ListSort
    name: str
    state: ListState
    rows: int
    brought: int
    left_out: int
    told: list[str]
    sent_at: datetime
    by_party_id: UUID
    for_party_id: UUID
    settled_at: datetime | None
    taken_back_at: datetime | None = None
    taken_back_reason: str = ""
    version: int


class ListCounts(Answer):
    """What would become of the rows, and what would be made new on the way."""

    rows: int = 0
    taken: int = 0
    asked: int = 0
    refused: int = 0
    known: int = Field(
        default=0, description="Told before, in the record or in the file: they bring nothing."
    )
    areas: int = 0
    people: int = 0
    sites: int = 0


class ListFileRead(ListFileSummary):
    """A list with its columns, the first rows as they are read, what it asks, and a report of its rows."""

    form: ListFormSet | None = None
    sheets: list[str] = []
    sheet: str = ""
    encoding: str = ""
    delimiter: str = ""
    header_row: int = 0
    header: list[str] = []
    columns: list[ListColumn] = []
    preview: list[dict[str, str]] = []
    questions: list[ListQuestion] = []
    report: list[ListRowTold] = Field(
        default=[], description="The first rows that are asked about or refused."
    )
    read_as: dict[str, str] = Field(
        default={}, description="Spellings matched without asking, where the variety's own name differs."
    )
    made_new: list[str] = Field(
        default=[], description="Sites, people and areas that would be made new, by name."
    )
    unread: list[str] = Field(default=[], description="Headings of columns that tell nothing here.")
    notices: list[ListNotice] = Field(default=[], description="What is told once of the whole list.")
    counts: ListCounts = ListCounts()
    ready: bool = Field(default=False, description="It can be taken, refused rows aside.")
    problem: str = ""
    problem_todo: str = ""
