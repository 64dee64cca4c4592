"""Cells of an old list as values: text, counts, years, days, yes and no. Nothing in a cell is ever worked out."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from datetime import date, datetime
from enum import StrEnum

from service.lib.tabular import Cell, NoValue, plain_text

_YES = frozenset("yes y true x 1 ja j oui o vrai wahr ok allowed".split())
_NO = frozenset("no n false 0 nein non faux falsch never none".split())
_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ].*)?")
_PARTS = re.compile(r"(\d{1,2})\s*([./-])\s*(\d{1,2})\s*[./-]\s*(\d{4})(?:\s.*)?")
_COUNT = re.compile(r"(\d{1,9})(?:[.,]0+)?")
_BELOW = re.compile(r"[-−–]\s*\d+(?:[.,]0+)?")
_YEAR = re.compile(r"(?:ca\.?|c\.?|about|~)?\s*(\d{4})")


class DayOrder(StrEnum):
    """How 03/04/2025 is meant in one column."""

    DAY_FIRST = "dmy"
    MONTH_FIRST = "mdy"


class CannotRead(ValueError):
    """A cell that is no such value; the message says what would be."""


def text_of(cell: Cell) -> str:
    """A cell's words on one line. Raises `CannotRead` for a formula nobody worked out, and for an error."""
    if cell is None:
        return ""
    if isinstance(cell, NoValue):
        raise CannotRead(f"shows “{cell.shows[:40]}”, which is no value: type what it means")
    words = " ".join(plain_text(cell).split())
    if not words.isprintable():
        words = "".join(sign for sign in words if unicodedata.category(sign) not in ("Cc", "Cs", "Zl", "Zp"))
    return unicodedata.normalize("NFC", words)


def note_of(cell: Cell) -> str:
    """The words of a note; what shows no value stays there as it shows, for a note is worth no row."""
    return text_of(cell.shows if isinstance(cell, NoValue) else cell)


def count_of(cell: Cell) -> int | None:
    if isinstance(cell, int) and not isinstance(cell, bool) and 0 <= cell < 10**9:
        return cell
    words = text_of(cell)
    if not words:
        return None
    if _BELOW.fullmatch(words):
        raise CannotRead(f"“{words[:40]}” is too few: a whole number, 0 or more")
    found = _COUNT.fullmatch(words)
    if found is None:
        raise CannotRead(f"“{words[:40]}” is no whole number")
    return int(found[1])


def year_of(cell: Cell) -> int | None:
    if isinstance(cell, date):
        return cell.year
    words = text_of(cell)
    if not words:
        return None
    found = _YEAR.fullmatch(words.lower()) or _PARTS.fullmatch(words) or _ISO.fullmatch(words)
    if found is None:
        raise CannotRead(f"“{words[:40]}” is no year of four figures")
    return int(found[found.re.groups] if found.re is _PARTS else found[1])


def flag_of(cell: Cell) -> bool | None:
    if isinstance(cell, bool):
        return cell
    words = text_of(cell).lower()
    if not words:
        return None
    if words in _YES or words in _NO:
        return words in _YES
    raise CannotRead(f"“{words[:40]}” is neither yes nor no")


def day_of(cell: Cell, order: DayOrder | None, *, surely: bool = False) -> date | None:
    """A day: written out as 2025-01-31; 31.1.2025 is day.month.year; 3/4/2025 as `order` says, or, `surely`, unreadable."""
    if isinstance(cell, datetime):
        return cell.date()
    if isinstance(cell, date):
        return cell
    words = text_of(cell)
    if not words:
        return None
    if found := _ISO.fullmatch(words):
        return _day(int(found[1]), int(found[2]), int(found[3]), words)
    found = _PARTS.fullmatch(words)
    if found is None:
        raise CannotRead(f"“{words[:40]}” is no day, like 2025-01-31 or 31.1.2025")
    first, second, year = int(found[1]), int(found[3]), int(found[4])
    if found[2] == "." or first > 12:
        return _day(year, second, first, words)
    if second > 12 or order is DayOrder.MONTH_FIRST:
        return _day(year, first, second, words)
    if surely and first != second:
        raise CannotRead(f"“{words[:40]}” can be two days, and such rows are left out, as you answered")
    return _day(year, second, first, words)


def _day(year: int, month: int, day: int, words: str) -> date:
    try:
        return date(year, month, day)
    except ValueError as error:
        raise CannotRead(f"“{words[:40]}” is no day of the calendar") from error


def order_of(cells: Iterable[Cell]) -> tuple[DayOrder | None, bool]:
    """What the days of a column tell of their own order, and whether it must be asked: 3/4/2025 can be two days."""
    first, second, doubtful = False, False, False
    for cell in cells:
        found = _PARTS.fullmatch(cell.strip()) if isinstance(cell, str) else None
        if found is None or found[2] == ".":
            continue
        one, two = int(found[1]), int(found[3])
        first, second = first or one > 12, second or two > 12
        doubtful = doubtful or (one <= 12 and two <= 12 and one != two)
    if first and not second:
        return DayOrder.DAY_FIRST, False
    if second and not first:
        return DayOrder.MONTH_FIRST, False
    return None, doubtful
