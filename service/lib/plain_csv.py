"""A plain table out of the bytes of a file: which signs, which separator, where the heading is. Nothing is guessed about meaning."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections import Counter
from dataclasses import dataclass

from service.lib.errors import TooLarge, Unusable, WrongKind

MOST_ROWS = 250_000
SEPARATORS = (",", ";", "\t", "|")
_SAMPLE = 400  # rows that are looked at to find the separator and the heading
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF32_LE, "utf-32"), (codecs.BOM_UTF32_BE, "utf-32"), (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)  # fmt: skip
_NUMBER = re.compile(r"\s*[-+]?\d+([.,]\d+)?\s*(°?\s*[CF]|%|%RH)?\s*", re.IGNORECASE)
_DIGITS = re.compile(r"\d")
_DATED = re.compile(r"\s*\d{1,4}[-./]\d{1,2}[-./]\d{1,4}\b.*|\s*\d{1,2}:\d{2}\b.*")


class NotATable(Unusable):
    title = "No table was found in this file"
    todo = "Export the readings as CSV: one reading a line, columns split by commas, semicolons or tabs."


class ASpreadsheet(WrongKind):
    title = "This is a spreadsheet, not a CSV file"
    todo = "Open it and save the sheet with the readings as CSV, or export CSV from the logger's program."


class TooManyLines(TooLarge):
    title = "The file has too many rows"
    todo = "Split it: export a shorter time, a month or a season each, and send the parts one after the other, each with its heading."


@dataclass(frozen=True)
class PlainTable:
    """Rows of cells with the line each stands on; `heading` names the columns, by number where the file does not."""

    heading: tuple[str, ...]
    lines: list[int]
    rows: list[list[str]]
    odd: list[int]  # lines with another number of cells than the heading
    separator: str

    def column(self, name: str) -> int:
        return self.heading.index(name)


def read_table(raw: bytes) -> PlainTable:
    """The table of a file. Raises `NotATable`, `ASpreadsheet` and `TooManyLines`."""
    text = _decoded(raw)
    separator = _separator_of(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    rows: list[list[str]] = []
    lines: list[int] = []
    try:
        for row in reader:
            if row and (row[0] or any(row)):  # a blank line is none
                rows.append(row)
                lines.append(reader.line_num)
                if len(rows) > MOST_ROWS + _SAMPLE:
                    break
    except csv.Error as error:
        raise NotATable(f"Line {reader.line_num} cannot be read: {error}.", line=reader.line_num) from error
    rows = _without_empty_end(rows)
    width = _usual_width(rows)
    begin, heading = _heading(rows, width)
    if len(rows) - begin > MOST_ROWS:
        raise TooManyLines(f"A file may have {MOST_ROWS:,} rows; this one has more.", most=MOST_ROWS)
    rows, lines = rows[begin:], lines[begin:]
    if {len(row) for row in rows} == {width}:
        return PlainTable(heading, lines, rows, [], separator)
    fits = [len(row) == width or (len(row) == width + 1 and not row[-1].strip()) for row in rows]
    odd = [line for line, fitting in zip(lines, fits, strict=True) if not fitting]
    kept = [row[:width] for row, fitting in zip(rows, fits, strict=True) if fitting]
    lines = [line for line, fitting in zip(lines, fits, strict=True) if fitting]
    return PlainTable(heading, lines, kept, odd, separator)


def may_be_too_long(raw: bytes) -> bool:
    """Whether it has so many ends of lines that its rows are to be counted; a look at the bytes alone."""
    return max(raw.count(b"\n"), raw.count(b"\r")) > MOST_ROWS


def check_rows(raw: bytes) -> None:
    """Raises `TooManyLines`; of what is no table nothing is said here."""
    try:
        read_table(raw)
    except (NotATable, ASpreadsheet):
        return


def _without_empty_end(rows: list[list[str]]) -> list[list[str]]:
    """A separator at the end of every line makes a cell that is none."""
    wide = [row for row in rows if len(row) > 2]
    if wide and not any(row[-1].strip() for row in wide):
        return [row[:-1] if len(row) > 2 else row for row in rows]
    return rows


def _decoded(raw: bytes) -> str:
    if not raw.strip():
        raise NotATable("The file is empty.")
    if raw[:4] == b"PK\x03\x04" or raw[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        raise ASpreadsheet("It begins as spreadsheets do.")
    for mark, name in _MARKS:
        if raw.startswith(mark):
            return _read_as(raw, name)
    if raw.count(b"\0"):
        even, odd = raw[:400:2].count(0), raw[1:400:2].count(0)
        return _read_as(raw, "utf-16-le" if odd > even else "utf-16-be")
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        return _read_as(raw, "cp1252")  # what older programs write; only ° and letters differ


def _read_as(raw: bytes, name: str) -> str:
    try:
        text = raw.decode(name)
    except UnicodeDecodeError as error:
        raise NotATable("Its bytes are no text.") from error
    if "\0" in text:
        raise NotATable("Its bytes are no text.")
    return text


def _separator_of(text: str) -> str:
    """The one that cuts most lines into the same number of cells, more than one."""
    sample = text[:200_000].splitlines()[:_SAMPLE]

    def score(separator: str) -> tuple[int, int]:
        widths = Counter(len(row) for row in csv.reader(sample, delimiter=separator) if len(row) > 1)
        width, times = max(widths.items(), key=lambda pair: (pair[1], pair[0]), default=(0, 0))
        return times, width

    try:
        best = max(SEPARATORS, key=score)
    except csv.Error as error:
        raise NotATable(f"It cannot be read as a table: {error}.") from error
    if score(best) == (0, 0):
        raise NotATable("Its lines have one column only.")
    return best


def _usual_width(rows: list[list[str]]) -> int:
    widths = Counter(len(row) for row in rows if len(row) > 1)
    if not widths:
        raise NotATable("Its lines have one column only.")
    return max(widths.items(), key=lambda pair: (pair[1], pair[0]))[0]


def _heading(rows: list[list[str]], width: int) -> tuple[int, tuple[str, ...]]:
    """Where the rows begin, and what the columns are called: the last line before them that has as many words."""
    first = next(
        (
            place
            for place, row in enumerate(rows)
            if len(row) in (width, width + 1)
            and any(map(_NUMBER.fullmatch, row))
            and any(_DIGITS.search(cell) and not _NUMBER.fullmatch(cell) for cell in row)
        ),
        None,
    )
    if first is None:
        raise NotATable("No line of it has both a time and a number.")
    while (
        first and len(rows[first - 1]) in (width, width + 1) and any(map(_DATED.fullmatch, rows[first - 1]))
    ):
        first -= 1  # a row in which nothing was measured
    named = rows[first - 1] if first else []
    is_heading = (
        len(named) in (width, width + 1)
        and sum(bool(cell.strip()) for cell in named) >= width - 1
        and not any(map(_NUMBER.fullmatch, named))
    )
    names = [cell.strip() for cell in named[:width]] if is_heading else [""] * width
    seen: Counter[str] = Counter()
    heading = []
    for place, name in enumerate(names):
        told = name or f"column {place + 1}"
        seen[told] += 1
        heading.append(told if seen[told] == 1 else f"{told} ({seen[told]})")
    return first, tuple(heading)
