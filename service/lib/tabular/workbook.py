"""Workbooks (XLSX): a stranger's file is opened in a process of its own, with its memory and its time limited."""

from __future__ import annotations

import subprocess
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import orjson

from service.lib.errors import Problem
from service.lib.tabular.cells import Row, cell_from
from service.lib.tabular.problems import (
    BrokenSheet,
    EmptySheet,
    LockedSheet,
    NoSheetOfThatName,
    NotASheet,
    TooManyRows,
)
from service.lib.tabular.sheet_program import (
    MOST_UNPACKED,
    NO_SHEET,
    NOTHING,
    OTHER_KIND,
    SECONDS,
    TOO_LARGE,
    TOO_MANY_ROWS,
)

_PROGRAM = Path(__file__).with_name("sheet_program.py")
_one_at_a_time = threading.Lock()
_OLD = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # the container of old Office files, and of locked new ones
_LOCKED = "EncryptedPackage".encode("utf-16-le")


@dataclass(frozen=True)
class Workbook:
    """One sheet of a workbook, and the names of all."""

    sheet: str
    sheets: tuple[str, ...]
    notes: tuple[str, ...]
    rows: Iterator[Row]


def is_workbook(raw: bytes) -> bool:
    """Whether these bytes claim to be a workbook. Raises `LockedSheet` and `NotASheet` for older and locked ones."""
    if raw.startswith(_OLD):
        if _LOCKED in raw:
            raise LockedSheet("Only who knows the password can read it.")
        raise NotASheet("This is a file of an old Office program.")
    return raw.startswith(b"PK")


def read_workbook(raw: bytes, sheet: str = "", *, most_rows: int) -> Workbook:
    """Read one sheet, the first unless another is named. Blocks while another workbook is read."""
    with _one_at_a_time:
        told = _run(raw, sheet, most_rows)
    head, _, rest = told.partition(b"\n")
    found = orjson.loads(head)
    return Workbook(found["sheet"], tuple(found["sheets"]), tuple(found["notes"]), _rows(rest))


def _rows(lines: bytes) -> Iterator[Row]:
    for line in lines.splitlines():
        number, cells = orjson.loads(line)
        yield number, [cell_from(cell) if type(cell) is dict else cell for cell in cells]


def _run(raw: bytes, sheet: str, most_rows: int) -> bytes:
    try:
        done = subprocess.run(  # noqa: S603
            [sys.executable, "-I", str(_PROGRAM), sheet, str(most_rows)],
            input=raw,
            capture_output=True,
            timeout=SECONDS + 10,
            check=False,
        )
    except subprocess.TimeoutExpired as error:
        raise BrokenSheet("It took too long to read.") from error
    problem = _problem(done.returncode, sheet, most_rows)
    if problem is not None:
        raise problem
    return done.stdout


def _problem(ended: int, sheet: str, most_rows: int) -> Problem | None:
    if ended == TOO_LARGE:
        return BrokenSheet(f"Unpacked, it would have more than {MOST_UNPACKED // 1_000_000} MB.")
    if ended == OTHER_KIND:
        return NotASheet("This is a packed file, but not an XLSX workbook.")
    if ended == TOO_MANY_ROWS:
        return TooManyRows(f"A file may have {most_rows:,} rows.", limit=most_rows)
    if ended == NO_SHEET:
        return NoSheetOfThatName(f"None is called “{sheet[:60]}”.", field="sheet")
    if ended == NOTHING:
        return EmptySheet("The workbook has no sheet with cells.")
    return BrokenSheet("It is no whole XLSX workbook.") if ended else None
