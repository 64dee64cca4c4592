"""Tables out of the files that loggers' programs write: signs, separators, headings, and what is no table."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.lib.plain_csv import (
    MOST_ROWS,
    ASpreadsheet,
    NotATable,
    TooManyLines,
    check_rows,
    may_be_too_long,
    read_table,
)

PLAIN = "Time,Temp °C,RH %\n2026-01-10 08:00,2.5,91\n2026-01-10 09:00,2.6,92\n"


@pytest.mark.parametrize(
    "raw",
    [
        PLAIN.encode(),
        b"\xef\xbb\xbf" + PLAIN.encode(),
        PLAIN.encode("utf-16"),
        PLAIN.encode("utf-16-le"),
        PLAIN.encode("utf-16-be"),
        PLAIN.encode("cp1252"),
        PLAIN.replace("\n", "\r\n").encode(),
        PLAIN.replace("\n", "\r").encode(),
        PLAIN.replace(",", ";").encode(),
        PLAIN.replace(",", "\t").encode(),
        PLAIN.replace("\n", ",\n").encode(),
        ("\n\n" + PLAIN + "\n\n").encode(),
    ],
    ids=[
        "UTF-8",
        "UTF-8 with a mark",
        "UTF-16 with a mark",
        "UTF-16 low first",
        "UTF-16 high first",
        "of an older program",
        "CR LF",
        "CR alone",
        "semicolons",
        "tabs",
        "a separator at the end",
        "blank lines",
    ],
)
def test_the_same_table_is_read_however_it_is_written(raw: bytes) -> None:
    table = read_table(raw)

    assert table.heading == ("Time", "Temp °C", "RH %")
    assert table.rows == [["2026-01-10 08:00", "2.5", "91"], ["2026-01-10 09:00", "2.6", "92"]]
    assert table.odd == []


def test_what_stands_before_the_heading_is_passed_over_and_lines_keep_their_numbers() -> None:
    raw = "Model: GL-20\nSerial;12345\nStarted;10.01.2026\n\nNo.;Time;Temp\n1;10.01.2026 08:00;2,5\n2;10.01.2026 09:00;2,6\nEnd\n"

    table = read_table(raw.encode())

    assert table.heading == ("No.", "Time", "Temp")
    assert table.lines == [6, 7]
    assert table.odd == [8]


def test_rows_in_which_nothing_was_measured_are_rows() -> None:
    table = read_table(b"Time,Temp\n2026-01-10 08:00,--\n2026-01-10 09:00,--\n2026-01-10 10:00,2.5\n")

    assert (table.heading, len(table.rows)) == (("Time", "Temp"), 3)


def test_columns_without_a_heading_are_numbered_and_twins_are_told_apart() -> None:
    bare = read_table(b"2026-01-10 08:00,2.5\n2026-01-10 09:00,2.6\n")
    twins = read_table(b"Time,T,T\n2026-01-10 08:00,2.5,3.5\n")

    assert bare.heading == ("column 1", "column 2")
    assert len(bare.rows) == 2
    assert twins.heading == ("Time", "T", "T (2)")


def test_a_quoted_line_break_is_part_of_its_cell() -> None:
    table = read_table(b'Time,Temp,Note\n2026-01-10 08:00,2.5,"door\nopen"\n2026-01-10 09:00,2.6,x\n')

    assert table.rows[0][2] == "door\nopen"
    assert table.lines == [3, 4]


@pytest.mark.parametrize(
    "raw, problem",
    [
        (b"", NotATable),
        (b"   \n\n", NotATable),
        (b"hello\nworld\n", NotATable),
        (b"a,b\nc,d\n", NotATable),
        (b"\x00\x01\x02\x03" * 40, NotATable),
        (b"PK\x03\x04" + b"x" * 60, ASpreadsheet),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 60, ASpreadsheet),
        (b'a,b\n"1,2\n' + b"x" * 200_000, NotATable),
    ],
    ids=[
        "nothing",
        "blanks",
        "one column",
        "no numbers",
        "no text",
        "a spreadsheet",
        "an old spreadsheet",
        "a quote without end",
    ],
)
def test_what_is_no_table_is_told_so(raw: bytes, problem: type[Exception]) -> None:
    with pytest.raises(problem):
        read_table(raw)


def test_a_row_too_many_is_refused_and_the_last_that_may_be_is_taken() -> None:
    line = "2026-01-10 08:00,2.5\n"
    most = read_table(("Time,Temp\n" + line * MOST_ROWS).encode())

    assert len(most.rows) == MOST_ROWS == 250_000
    too_long = ("Time,Temp\n" + line * (MOST_ROWS + 1)).encode()
    for check in (read_table, check_rows):
        with pytest.raises(TooManyLines, match="250,000 rows; this one has more"):
            check(too_long)
    assert may_be_too_long(too_long)
    assert not may_be_too_long(too_long[: len(too_long) // 2])
    check_rows(b"no table")


word = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp")), max_size=12)


@given(st.lists(st.tuples(word, word), min_size=1, max_size=8), st.sampled_from(",;\t|"))
def test_what_a_csv_writer_wrote_is_read_back(words: list[tuple[str, str]], separator: str) -> None:
    """Python's own writer, RFC 4180's quotes and all."""
    rows = [["2026-01-10 08:00", "2.5", first, second] for first, second in words]
    made = io.StringIO()
    csv.writer(made, delimiter=separator, quoting=csv.QUOTE_ALL).writerows(
        [["Time", "Temp", "A", "B"], *rows]
    )

    assert read_table(made.getvalue().encode()).rows == rows


@given(st.binary(max_size=400))
def test_any_bytes_are_a_table_or_told_to_be_none(raw: bytes) -> None:
    try:
        table = read_table(raw)
    except (NotATable, ASpreadsheet):
        return
    assert all(len(row) == len(table.heading) for row in table.rows)
