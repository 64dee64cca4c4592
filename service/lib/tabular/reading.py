"""A table out of a file: which row holds the headings, what each column is called, and the rows below."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, islice

from service.lib.errors import TooLarge
from service.lib.tabular import text, workbook
from service.lib.tabular.cells import Cell, Row, is_blank, plain_text
from service.lib.tabular.problems import EmptySheet, NoSheetOfThatName, TooManyColumns, TooManyRows

LARGEST = 20_000_000  # bytes as sent
MOST_ROWS = 250_000
MOST_COLUMNS = 200
_LOOKED_AT = 15  # rows in which the headings are looked for
_LONGEST_HEADING = 100


@dataclass(frozen=True)
class Choice:
    """How a file is to be read, where a person knows better; blank or nought: as it is guessed."""

    encoding: str = ""
    delimiter: str = ""
    sheet: str = ""
    header_row: int = 0


@dataclass(frozen=True)
class How:
    """How a file was read, to be shown and to be chosen otherwise."""

    form: str  # csv, xlsx
    encoding: str
    delimiter: str
    sheet: str
    sheets: tuple[str, ...]
    header_row: int
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """Headings, each once; and the rows below them, read as they are asked for."""

    header: tuple[str, ...]
    rows: Iterator[Row]
    how: How


def read_table(raw: bytes, choice: Choice | None = None) -> Table:
    """Read a file. Limits hold before anything is parsed; too many rows show while they are read."""
    choice = choice or Choice()
    if not raw.strip():
        raise EmptySheet("The file is empty.")
    if len(raw) > LARGEST:
        raise TooLarge(f"A list may have {LARGEST // 1_000_000} MB.", limit_bytes=LARGEST)
    if workbook.is_workbook(raw):
        book = workbook.read_workbook(raw, choice.sheet, most_rows=MOST_ROWS)
        how = How("xlsx", "", "", book.sheet, book.sheets, 0, book.notes)
        return _table(book.rows, how, choice.header_row)
    if choice.sheet:
        raise NoSheetOfThatName("A CSV file has no sheets.", field="sheet")
    told, encoding = text.decode(raw, choice.encoding)
    if not told.strip():
        raise EmptySheet("The file is empty.")
    delimiter = choice.delimiter or text.guess_delimiter(told)
    how = How("csv", encoding.removesuffix("-sig"), delimiter, "", (), 0, ())
    return _table(text.records(told, delimiter), how, choice.header_row)


def _table(rows: Iterator[Row], how: How, header_row: int) -> Table:
    first = list(islice(rows, _LOOKED_AT))
    if not first:
        raise EmptySheet("The file has no row with anything in it.")
    place = _heading(first, header_row)
    number, cells = first[place]
    while cells and is_blank(cells[-1:]):
        cells = cells[:-1]
    wide = max(len(cells), *(_width(row) for _, row in first[place:]))
    if wide > MOST_COLUMNS:
        raise TooManyColumns(f"{wide} columns; at most {MOST_COLUMNS} are taken.", limit=MOST_COLUMNS)
    found = How(
        how.form, how.encoding, how.delimiter, how.sheet, how.sheets, number, (*how.notes, *_remarks(cells))
    )
    return Table(_names(cells), _limited(chain(first[place + 1 :], rows)), found)


def _width(cells: Sequence[Cell]) -> int:
    return next((place for place in range(len(cells), 0, -1) if not is_blank(cells[place - 1 : place])), 0)


def _heading(first: Sequence[Row], wanted: int) -> int:
    """Which of the first rows holds the headings: the one named, else the first that is about as full as the fullest."""
    if wanted:
        return next((place for place, (number, _) in enumerate(first) if number >= wanted), 0)
    full = [sum(not is_blank([cell]) for cell in cells) for _, cells in first]
    needed = max(min(2, max(full)), max(full) * 0.6)
    return next(place for place, cells in enumerate(full) if cells >= needed)


def _remarks(cells: Sequence[Cell]) -> list[str]:
    named = Counter(_clean(cell) for cell in cells)
    return ["twice"] if any(times > 1 for name, times in named.items() if name) else []


def _clean(cell: Cell) -> str:
    return " ".join(plain_text(cell).split())[:_LONGEST_HEADING]


def _names(cells: Sequence[Cell]) -> tuple[str, ...]:
    """A name for each column: its heading, its letter where it has none; one that comes again is counted."""
    names: list[str] = []
    for place, cell in enumerate(cells):
        name = _clean(cell) or f"column {letters(place)}"
        again, told = 1, name
        while told in names:
            again += 1
            told = f"{name} ({again})"
        names.append(told)
    return tuple(names)


def letters(place: int) -> str:
    """A column's letters, as a spreadsheet program shows them: 0 is A, 26 is AA."""
    signs, place = "", place + 1
    while place:
        place, rest = divmod(place - 1, 26)
        signs = chr(65 + rest) + signs
    return signs


def _limited(rows: Iterator[Row]) -> Iterator[Row]:
    for seen, row in enumerate(rows):
        if seen >= MOST_ROWS:
            raise TooManyRows(f"A file may have {MOST_ROWS:,} rows.", limit=MOST_ROWS)
        yield row
