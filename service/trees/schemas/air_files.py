"""Bodies and answers of files with days of air."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated
from uuid import UUID

from pydantic import Field

from service.lib.schemas import Answer, Body, FaultyRow, Line
from service.lib.sent_files import FileState
from service.lib.temperatures import WhereDiffering

Column = Annotated[Line, Field(max_length=200)]


class AirFormSet(Body):
    """Which column of a file is what; remembered for the next file of this site."""

    day: Column = ""
    clock: Column = ""
    lowest: Column = ""
    highest: Column = ""
    temp: Column = ""
    unit: Annotated[Line, Field(max_length=1)] = ""
    order: Annotated[Line, Field(max_length=3)] = ""
    zone: Annotated[Line, Field(max_length=60)] = ""
    only_column: Column = ""
    only_value: Column = ""


class AirFileTake(Body):
    """Take a file's days, whole or not at all; answers to what it asks."""

    leave_faulty: bool = False
    stuck: bool = False
    sure: bool = False
    where_differing: WhereDiffering = WhereDiffering.REFUSE


class AirFileSummary(Answer):
    """A file with days of air, and what became of it."""

    id: UUID
    site_id: UUID
    name: str
    measured: str
    state: FileState
    added: int
    same: int
    replaced: int
    passed_over: int
    first_on: date | None
    last_on: date | None
    told: list[str] = []
    sent_at: datetime
    by_party_id: UUID
    for_party_id: UUID


class AirPreview(Answer):
    """What would be taken from a file: nothing of it is in the record yet."""

    rows: int
    days: int
    by_hour: int = 0  # of these days, measured by the hour
    is_kept: bool = True  # whether there is anything in it to keep
    new: int
    same: int
    differing: list[FaultyRow]
    differing_count: int
    without_value: int
    of_others: int
    faulty: list[FaultyRow]
    faulty_count: int
    first_on: date | None
    last_on: date | None
    lowest_c: float | None
    highest_c: float | None
    notes: list[str]
    unlikely: list[str]
    doubt: str


class AirFileRead(AirFileSummary):
    """A file with its columns, the form it is read by, and a preview of what it holds."""

    columns: list[str] = []
    first_rows: list[list[str]] = []
    form: AirFormSet | None = None
    is_guess: bool = False
    preview: AirPreview | None = None
    problem: str = ""
    problem_field: str = ""
    later: list[str] = []  # taken files that may have brought some of its days again
