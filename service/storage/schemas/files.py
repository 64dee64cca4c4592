"""Bodies and answers of loggers' files."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import Annotated
from uuid import UUID

from pydantic import Field, StringConstraints

from service.lib.database import new_id
from service.lib.schemas import Answer, Body, FaultyRow, Line
from service.storage.rules import FileState, TempUnit, WhereDiffering

Column = Annotated[Line, Field(max_length=200)]


class DateOrder(StrEnum):
    YMD = "ymd"
    DMY = "dmy"
    MDY = "mdy"


class IfStuck(StrEnum):
    """What to do with stretches in which nothing ever moves, or that say again what was said before."""

    RIGHT = "right"
    LEAVE_OUT = "leave_out"


class FileSend(Body):
    """A logger's file as text, with the name it has."""

    id: UUID = Field(default_factory=new_id)
    name: Annotated[Line, Field(max_length=200)] = ""
    text: Annotated[str, StringConstraints(strip_whitespace=False, min_length=1, max_length=20_000_000)]


class FileFormSet(Body):
    """Which column of a logger's files is what; remembered for its next file."""

    time: Annotated[Line, Field(min_length=1, max_length=200)] = Field(
        description="the column with the time, and the date unless that has a column of its own"
    )
    temp: Annotated[Line, Field(min_length=1, max_length=200)]
    date: Column = ""
    humidity: Column = ""
    unit: TempUnit = TempUnit.C
    zone: Annotated[Line, Field(max_length=60)] = Field(
        description="a place like Europe/London, an offset like +01:00, or 'in the file' where every time brings its own"
    )
    order: DateOrder = DateOrder.YMD
    only_column: Column = Field(
        default="", description="where a file holds several loggers: the column that names them"
    )
    only_value: Column = ""


class FileFormRead(Answer):
    """How a file is read: as it was told, or guessed and to be looked at. What is not known is empty."""

    time: str = ""
    temp: str = ""
    date: str = ""
    humidity: str = ""
    unit: str = ""
    zone: str = ""
    order: str = ""
    only_column: str = ""
    only_value: str = ""


class FileTake(Body):
    """Take a file's readings, whole or not at all; answers to what it asks."""

    leave_faulty: bool = Field(default=False, description="leave out the rows that cannot be used")
    stuck: IfStuck | None = Field(
        default=None, description="stretches that never move: right, or kept and left out"
    )
    copied: IfStuck | None = Field(
        default=None,
        description="stretches that say again what was said a day or a week before: right, or kept and left out",
    )
    where_differing: WhereDiffering = WhereDiffering.REFUSE
    sure: bool = Field(default=False, description="that the unit is right, where the mean is no store's")


class Stretch(Answer):
    """A stretch of time, and what is odd about it."""

    from_at: datetime
    until_at: datetime
    what: str = ""


class FileSummary(Answer):
    """A file that was sent, and what became of it."""

    id: UUID
    logger_id: UUID
    name: str
    state: FileState
    readings: int
    added: int
    same: int
    replaced: int
    passed_over: int
    first_at: datetime | None
    last_at: datetime | None
    told: list[str] = []
    sent_at: datetime
    by_party_id: UUID
    for_party_id: UUID
    settled_at: datetime | None = None
    taken_back_at: datetime | None = None


class FilePreview(Answer):
    """What would be taken from a file: nothing of it is in the record yet."""

    rows: int
    readings: int
    new: int
    same: int
    differing: list[FaultyRow] = []
    differing_count: int = 0
    without_value: int = 0
    of_others: int = 0
    faulty: list[FaultyRow] = []
    faulty_count: int = 0
    first_at: datetime | None = None
    last_at: datetime | None = None
    lowest_c: float | None = None
    highest_c: float | None = None
    mean_c: float | None = None
    step_minutes: float = 0
    gaps: list[Stretch] = []
    stuck: list[Stretch] = []
    copied: list[Stretch] = []
    notes: list[str] = []
    doubt: str = Field(default="", description="why the unit may be the other one")


class FileRead(FileSummary):
    """A file with its columns, the form it is read by, and a preview of what it holds."""

    columns: list[str] = []
    first_rows: list[list[str]] = []
    form: FileFormRead | None = None
    is_guess: bool = Field(default=False, description="whether nobody told yet how it is read")
    several: list[str] = []
    several_column: str = ""
    preview: FilePreview | None = None
    problem: str = Field(default="", description="why it cannot be read, if it cannot")
