"""What a printed sheet is made of: columns, groups of rows, and boxes to write or tick in by pencil."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from zoneinfo import ZoneInfo

from service.lib.clock import day_words
from service.lib.codes import group_code

ROWS_A_SLIP = 8  # as many as the form it is entered on; four slips still fit a page
PENCIL = "Pencil first: enter it later with its own date."
# A telephone number in any usual form, or a mail address: neither belongs on a sheet that blows about.
_CONTACT = re.compile(r"(?<!\w)\+?\(?\d[\d\s()/.\-]{4,}\d|\S+@\S+")


@dataclass(frozen=True)
class Column:
    """A heading, and how wide the column is: narrow, date, middle or wide."""

    heading: str
    width: str = "middle"


@dataclass(frozen=True)
class Ticks:
    """Small boxes to tick, each with its word."""

    words: tuple[str, ...]


@dataclass(frozen=True)
class Big:
    """What is read at arm's length, with smaller words under it."""

    words: str
    under: tuple[str, ...] = ()
    warns: tuple[str, ...] = ()


Cell = str | Ticks | Big | None  # None is a box to write in


@dataclass(frozen=True)
class Group:
    """Rows under a heading of their own."""

    heading: str
    rows: Sequence[tuple[Cell, ...]]
    under: str = ""


@dataclass(frozen=True)
class Sheet:
    """One sheet of paper, or as many as its rows need."""

    title: str
    says: str
    columns: tuple[Column, ...]
    groups: list[Group]
    top: tuple[
        tuple[str, str], ...
    ] = ()  # what stands above the rows: (label, words), blank words are a line to write on
    spare: int = 0  # empty rows at the end, for what nobody thought of
    empty: str = "Nothing stands here yet."
    back: tuple[str, str] = ("/paper", "All sheets")
    entered: tuple[str, str] | None = None  # where what was pencilled is entered
    empty_row: tuple[Cell, ...] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "empty_row", (None,) * len(self.columns))

    @property
    def rows(self) -> int:
        return sum(len(group.rows) for group in self.groups)


def without_contacts(words: str) -> str:
    """Words without the numbers and mail addresses in them; they stay in the record."""
    return _CONTACT.sub("(in the record)", words)


def short_day(day: date | datetime | None, zone: str = "UTC") -> str:
    if isinstance(day, datetime):
        day = day.astimezone(ZoneInfo(zone)).date()
    return day_words(day) if day else ""


def code_words(code: str | None) -> str:
    """A code that a narrow column does not break between its groups."""
    return group_code(code).replace(" ", "\N{NO-BREAK SPACE}") if code else ""
