"""Run as a program of its own: a workbook comes in, the cells of one sheet go out, whatever the workbook tries to do.

Reads the bytes from standard input; writes one line about the sheets, then a line for each row that is not blank. A
formula gives the value its program worked out last; one that has none is told as such. Imports nothing of the service.
"""

import contextlib
import io
import json
import re
import sys
import zipfile
from datetime import date, datetime, time, timedelta
from itertools import repeat

MEMORY = 1_500_000_000
SECONDS = 300  # a quarter of a million rows of a dozen cells take a minute or two
MOST_UNPACKED = 400_000_000
MOST_PARTS = 2_000
LONGEST_ROW = 20_000_000
BROKEN, TOO_LARGE, OTHER_KIND, TOO_MANY_ROWS, NO_SHEET, NOTHING = 3, 4, 5, 6, 7, 8
ERRORS = frozenset("#N/A #REF! #VALUE! #DIV/0! #NAME? #NUM! #NULL! #SPILL! #CALC!".split())
SHEET = re.compile(r"xl/worksheets/[^/]+\.xml")
FORMULA, MERGED = re.compile(rb"<f[ >/]"), re.compile(rb"<mergeCell ")


def _limit_self() -> None:
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))


def _check_pack(raw: bytes) -> None:
    """Refuse what is no workbook, and what would burst: a part never yields more than its directory says."""
    with zipfile.ZipFile(io.BytesIO(raw)) as pack:
        parts = pack.infolist()
        names = {part.filename for part in parts}
        if "xl/workbook.xml" not in names:
            raise SystemExit(OTHER_KIND)
        if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > MOST_UNPACKED:
            raise SystemExit(TOO_LARGE)


def _holds(raw: bytes, path: str, pattern: "re.Pattern[bytes]") -> bool:
    with zipfile.ZipFile(io.BytesIO(raw)) as pack, pack.open(path.lstrip("/")) as part:
        before = b""
        while piece := part.read(1 << 20):
            if pattern.search(before + piece):
                return True
            before = piece[-32:]
    return False


def _check_rows(raw: bytes, path: str, most_rows: int) -> None:
    """Refuse a sheet of too many rows by its text, before a cell is read. What it says of its size counts blank rows too."""
    rows, left = 0, b""
    with zipfile.ZipFile(io.BytesIO(raw)) as pack, pack.open(path.lstrip("/")) as part:
        while piece := part.read(1 << 22):
            *whole, left = (left + piece).split(b"</row>")
            rows += sum(1 for row in whole if b"<v>" in row or b"<is>" in row)
            if rows > most_rows + 1:  # one is the heading
                raise SystemExit(TOO_MANY_ROWS)
            if len(left) > LONGEST_ROW:
                return  # no row as any program writes it: counted when it is read


def _only_sheet(raw: bytes) -> str:
    """The part of the only sheet; empty where there are several."""
    with zipfile.ZipFile(io.BytesIO(raw)) as pack:
        found = [name for name in pack.namelist() if SHEET.fullmatch(name)]
    return found[0] if len(found) == 1 else ""


def _told(value: object, formula: object) -> object:
    """A value as JSON has it; days, times and what has no value under a name."""
    if value is None and isinstance(formula, str) and formula.startswith("="):
        return {"x": formula[:200]}
    if isinstance(value, datetime):
        whole = value.time() == time()
        return {"d": value.date().isoformat()} if whole else {"at": value.replace(microsecond=0).isoformat()}
    if isinstance(value, date):
        return {"d": value.isoformat()}
    if isinstance(value, time | timedelta):
        return str(value)
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return int(value)
    if isinstance(value, str):
        return {"x": value} if value in ERRORS else value
    return value


def _is_blank(cells: "list[object]") -> bool:
    return all(cell is None or (isinstance(cell, str) and not cell.strip()) for cell in cells)


def read(raw: bytes, wanted: str, most_rows: int, out: "io.BufferedIOBase") -> None:
    from openpyxl import load_workbook

    only = _only_sheet(raw)
    if only:  # before its words are read, which takes as long as its rows
        _check_rows(raw, only, most_rows)
    book = load_workbook(io.BytesIO(raw), read_only=True, data_only=True, keep_links=False)
    sheets = {sheet.title: sheet for sheet in book.worksheets}
    if not sheets:
        raise SystemExit(NOTHING)
    if wanted and wanted not in sheets:
        raise SystemExit(NO_SHEET)
    sheet = sheets[wanted] if wanted else next(iter(sheets.values()))
    path = sheet._worksheet_path  # noqa: SLF001 - nothing else tells in which part a sheet lies
    if not only:
        _check_rows(raw, path, most_rows)
    formulas = repeat(repeat(None))
    if _holds(raw, path, FORMULA):
        shown = load_workbook(io.BytesIO(raw), read_only=True, data_only=False, keep_links=False)[sheet.title]
        shown.reset_dimensions()
        formulas = shown.iter_rows(values_only=True)
    notes = ["merged"] if _holds(raw, path, MERGED) else []
    head = {"sheet": sheet.title, "sheets": list(sheets), "notes": notes}
    out.write(json.dumps(head).encode() + b"\n")
    sheet.reset_dimensions()
    rows = 0
    for number, (values, told) in enumerate(zip(sheet.iter_rows(values_only=True), formulas), 1):  # noqa: B905
        cells = [_told(value, formula) for value, formula in zip(values, told)]  # noqa: B905
        if _is_blank(cells):
            continue
        rows += 1
        if rows > most_rows + 1:  # one is the heading
            raise SystemExit(TOO_MANY_ROWS)
        out.write(json.dumps([number, cells], separators=(",", ":")).encode() + b"\n")


def main() -> None:
    import warnings

    warnings.simplefilter("ignore")
    _limit_self()
    raw = sys.stdin.buffer.read()
    out = io.BytesIO()
    try:
        _check_pack(raw)
        read(raw, sys.argv[1], int(sys.argv[2]), out)
    except MemoryError:
        raise SystemExit(TOO_LARGE) from None
    except Exception:  # noqa: BLE001 - whatever a broken workbook raises, it is a broken workbook
        raise SystemExit(BROKEN) from None
    sys.stdout.buffer.write(out.getbuffer())


if __name__ == "__main__":
    main()
