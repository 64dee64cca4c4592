"""Tables to take away: CSV after RFC 4180 in pieces, and workbooks written row by row, neither ever whole in memory.

A text that begins like a formula would be worked out by a spreadsheet program on somebody else's machine: in CSV an
apostrophe is put before it, in a workbook it is written as text.
"""

from __future__ import annotations

import csv
import io
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any, BinaryIO

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")
LONGEST_CELL = 32_767  # signs a cell of a workbook can hold
ROWS_OF_A_SHEET = 1_048_575  # below the headings
_PIECE = 64_000
CUT_OFF = " … (cut off here; the CSV has all of it)"


def defused(value: Any) -> Any:
    """A text that begins like a formula, made plain text; anything else as it is."""
    if isinstance(value, str) and value.startswith(FORMULA_SIGNS):
        return "'" + value
    return value


def csv_pieces(rows: Iterable[Sequence[Any]], *, mark: bool = False) -> Iterator[bytes]:
    """CSV in UTF-8, in pieces. `mark`: with the mark by which spreadsheet programs know UTF-8."""
    held = io.StringIO(newline="")
    writer = csv.writer(held, lineterminator="\r\n")
    if mark:
        held.write("\ufeff")
    for row in rows:
        writer.writerow([_plain(value) for value in row])
        if held.tell() >= _PIECE:
            yield held.getvalue().encode()
            held.seek(0)
            held.truncate()
    if held.tell():
        yield held.getvalue().encode()


def _plain(value: Any) -> Any:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime | date):
        return value.isoformat()
    return defused(value)


_OPTIONS = {
    "constant_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False,
    "default_date_format": "yyyy-mm-dd",
}  # fmt: skip
Sheet = tuple[str, Sequence[str], Iterable[Sequence[Any]]]


def write_workbook(path: Path, sheets: Iterable[Sheet]) -> None:
    """A workbook with a sheet for each table; one with more rows than a sheet holds goes on in a further one."""
    from xlsxwriter import Workbook

    with tempfile.TemporaryDirectory(dir=path.parent, prefix=".pieces-") as pieces, path.open("wb") as file:
        sink = _Sink(file)
        _write_book(Workbook(sink, {**_OPTIONS, "tmpdir": pieces}), sheets)
        sink.end()


class _Sink:
    """A file whose disk may be full: what is refused is kept in mind until the end.

    The library leaves its archive open on an error, which then fails a second time, out of anybody's reach.
    """

    def __init__(self, file: BinaryIO) -> None:
        self._file, self._place = file, 0
        self._refused: OSError | None = None

    def write(self, piece: bytes) -> int:
        self._try(lambda: self._file.write(piece))
        self._place += len(piece)
        return len(piece)

    def tell(self) -> int:
        return self._place

    def seek(self, place: int, whence: int = 0) -> int:
        if not self._try(lambda: self._file.seek(place, whence)):
            self._place = place
        else:
            self._place = self._file.tell()
        return self._place

    def flush(self) -> None:
        self._try(self._file.flush)

    def end(self) -> None:
        """Raises what the disk said."""
        self.flush()
        if self._refused is not None:
            raise self._refused

    def _try(self, deed: Callable[[], object]) -> bool:
        if self._refused is None:
            try:
                deed()
            except OSError as error:
                self._refused = error
        return self._refused is None


def _write_book(book: Any, sheets: Iterable[Sheet]) -> None:
    bold = book.add_format({"bold": True})
    names: set[str] = set()
    try:
        for name, header, rows in sheets:
            _write_sheets(book, names, name, header, rows, bold)
        if not names:
            book.add_worksheet("nothing")
    finally:
        book.close()


def _write_sheets(
    book: Any, names: set[str], name: str, header: Sequence[str], rows: Iterable[Sequence[Any]], bold: Any
) -> None:
    sheet, place = _begin(book, names, name, header, bold), 0
    for row in rows:
        if place == ROWS_OF_A_SHEET:
            sheet, place = _begin(book, names, name, header, bold), 0
        place += 1
        for column, value in enumerate(row):
            _put(sheet, place, column, value)


def _begin(book: Any, names: set[str], name: str, header: Sequence[str], bold: Any) -> Any:
    told, again = name[:31], 1
    while told.lower() in names:
        again += 1
        told = f"{name[:25]} ({again})"
    names.add(told.lower())
    sheet = book.add_worksheet(told)
    sheet.freeze_panes(1, 0)
    for column, words in enumerate(header):
        sheet.write_string(0, column, words, bold)
    return sheet


def _put(sheet: Any, row: int, column: int, value: Any) -> None:
    if value is None or value == "":
        return
    if isinstance(value, bool):
        sheet.write_string(row, column, "yes" if value else "no")
    elif isinstance(value, float) or (isinstance(value, int) and abs(value) < 2**53):
        sheet.write_number(row, column, value)
    elif isinstance(value, date) and not isinstance(value, datetime) and value.year >= 1900:
        sheet.write_datetime(row, column, datetime(value.year, value.month, value.day))  # noqa: DTZ001 - a sheet knows no zone
    else:
        words = value.isoformat() if isinstance(value, datetime | date) else str(value)
        sheet.write_string(row, column, _fitting(words))


def _fitting(words: str) -> str:
    return words if len(words) <= LONGEST_CELL else words[: LONGEST_CELL - len(CUT_OFF)] + CUT_OFF
