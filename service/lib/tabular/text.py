"""CSV as spreadsheet programs write it: which encoding, which sign between the cells, quoted line breaks.

The grammar is RFC 4180, read leniently at line ends alone; a quotation mark that is never closed is refused, for
whatever follows it would silently become one cell.
"""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterator

from service.lib.tabular.cells import Cell, Row
from service.lib.tabular.problems import BrokenSheet, NotASheet, UnreadableText

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
# How people's programs save text, the commonest first; each with the words it is offered under.
ENCODINGS = {
    "utf-8": "UTF-8",
    "cp1252": "Windows, Western Europe",
    "utf-16": "UTF-16",
    "cp1250": "Windows, Central Europe",
    "iso8859-15": "ISO 8859-15, Western Europe",
    "cp1254": "Windows, Turkey",
    "cp1257": "Windows, Baltic",
    "mac-roman": "old Macintosh",
    "cp850": "DOS, Western Europe",
}
_MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
_LONGEST_CELL = 1_000_000  # signs; more is a quotation mark gone astray
_SAMPLE_SIGNS, _SAMPLE_RECORDS = 65_536, 60
_DEFUSED = ("'=", "'+", "'-", "'@", "'\t", "'\r")
# The first bytes of what people send by mistake.
_OTHER_KINDS = (
    (b"%PDF", "a PDF"), (b"\x89PNG", "a picture"), (b"\xff\xd8\xff", "a picture"), (b"GIF8", "a picture"),
    (b"{\\rtf", "a text document"), (b"<html", "a web page"), (b"<!doctype html", "a web page"), (b"\x1f\x8b", "a packed file"),
    (b"SQLite format 3", "a database"),
)  # fmt: skip


def guess_encoding(raw: bytes) -> str:
    """The encoding that fits these bytes: what their mark says, else UTF-16 by its noughts, else UTF-8, else Windows."""
    for mark, name in _MARKS:
        if raw.startswith(mark):
            return name
    head = raw[:4096]
    if len(head) > 3 and head.count(0) > len(head) // 4:
        return "utf-16-le" if head[1::2].count(0) > head[::2].count(0) else "utf-16-be"
    try:
        raw.decode()
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def decode(raw: bytes, encoding: str = "") -> tuple[str, str]:
    """The text and the encoding it was read in. Raises `UnreadableText`, and `NotASheet` for what is no text at all."""
    begins = raw[:64].lstrip().lower()
    for mark, words in _OTHER_KINDS:
        if begins.startswith(mark.lower()):
            raise NotASheet(f"These bytes are {words}.")
    wanted = encoding or guess_encoding(raw)
    if wanted == "utf-8" and raw.startswith(_MARKS[0][0]):
        wanted = "utf-8-sig"
    try:
        text = raw.decode(wanted)
    except (UnicodeError, LookupError) as error:
        raise UnreadableText(
            f"They are not {ENCODINGS.get(wanted, wanted)} text.", field="encoding", encoding=wanted
        ) from error
    if "\x00" in text:
        raise NotASheet("The file holds NUL signs, which no text has.")
    return text.removeprefix("\ufeff"), wanted


def guess_delimiter(text: str) -> str:
    """The sign that cuts most lines into the same number of cells, and into more than one."""
    first, _, _ = text.partition("\n")
    if first.lower().startswith("sep=") and len(first.strip()) == 5:
        return first[4]
    best, found = (0.0, 0), ","
    for sign in DELIMITERS:
        counts = _counts(text[:_SAMPLE_SIGNS], sign)
        several = {width: times for width, times in counts.items() if width > 1}
        if several:
            width = max(several, key=lambda width: (several[width], width))
            score = (several[width] / sum(counts.values()), width)
            if score > best:
                best, found = score, sign
    return found


def _counts(sample: str, delimiter: str) -> Counter[int]:
    """How often a record of the sample has so many cells."""
    counts: Counter[int] = Counter()
    reader = csv.reader(io.StringIO(sample, newline=""), delimiter=delimiter)
    try:
        for record in reader:
            if any(record):
                counts[len(record)] += 1
            if sum(counts.values()) >= _SAMPLE_RECORDS:
                break
    except csv.Error:
        pass  # the sample ends in mid-record; what was read so far tells enough
    return counts


def records(text: str, delimiter: str) -> Iterator[Row]:
    """Rows with their numbers, as a spreadsheet program counts them; blank ones are passed over."""
    csv.field_size_limit(_LONGEST_CELL)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    number = 0
    while True:
        number += 1
        try:
            record = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise BrokenSheet(
                f"In row {number} (line {reader.line_num}) a quotation mark stands alone, or is never closed.",
                todo="Double a quotation mark inside a cell, or take it out; or save the list as XLSX.",
                row=number,
            ) from error
        if number == 1 and len(record) <= 2 and record[:1] and record[0].lower() == "sep=":
            continue  # a spreadsheet program's own note of the delimiter
        if any(cell.strip() for cell in record):
            yield number, _cells(record)


def _cells(record: list[str]) -> list[Cell]:
    # What was written out as text, so that no program takes it for a formula, is what it was before.
    return [cell[1:] if cell.startswith(_DEFUSED) else cell or None for cell in record]
