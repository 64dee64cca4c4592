"""CSV as people's programs write it, and as it is written for them."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.lib.errors import TooLarge
from service.lib.tabular import (
    MOST_COLUMNS,
    MOST_ROWS,
    BrokenSheet,
    Choice,
    EmptySheet,
    NoSheetOfThatName,
    NotASheet,
    TooManyColumns,
    TooManyRows,
    UnreadableText,
    csv_pieces,
    defused,
    pack_rows,
    read_table,
    unpack_rows,
)
from service.lib.tabular.reading import letters


def cells_of(text: str | bytes, **choice) -> list[list]:
    raw = text if isinstance(text, bytes) else text.encode()
    table = read_table(raw, Choice(**choice))
    return [list(table.header), *(cells for _, cells in table.rows)]


# RFC 4180, section 2, rules 1 to 7: the examples of the standard, each below a row of headings where it has none.
RFC_4180 = {
    "each record on a line": ("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
    "the last without an end": ("aaa,bbb,ccc\r\nzzz,yyy,xxx", [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
    "a header line": (
        "field_name,field_name_2\r\naaa,bbb\r\nzzz,yyy\r\n", [["field_name", "field_name_2"], ["aaa", "bbb"], ["zzz", "yyy"]],
    ),
    "quoted fields": ('"aaa","bbb","ccc"\r\nzzz,yyy,xxx', [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
    "a line break inside": (
        'h1,h2,h3\r\n"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx',
        [["h1", "h2", "h3"], ["aaa", "b\r\nbb", "ccc"], ["zzz", "yyy", "xxx"]],
    ),
    "a quotation mark inside": ('h1,h2,h3\r\n"aaa","b""bb","ccc"', [["h1", "h2", "h3"], ["aaa", 'b"bb', "ccc"]]),
    "spaces are part of a field": ("h1,h2\r\n a , b ", [["h1", "h2"], [" a ", " b "]]),
}  # fmt: skip


@pytest.mark.parametrize("case", RFC_4180, ids=list(RFC_4180))
def test_the_standards_own_examples_are_read_as_it_says(case):
    text, wanted = RFC_4180[case]

    assert cells_of(text) == wanted


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"], ids=["unix", "windows", "old macintosh"])
@pytest.mark.parametrize("sign", [",", ";", "\t", "|"], ids=["comma", "semicolon", "tab", "bar"])
def test_the_sign_between_cells_is_found(sign, ends):
    rows = [["Name", "Ort", "Bäume"], ["Wenna, die Ältere", "Tal", "3"], ["Odhrán", "Berg; oben", "12"]]
    quoted = [[f'"{cell}"' if "," in cell or ";" in cell else cell for cell in row] for row in rows]

    assert cells_of(ends.join(sign.join(row) for row in quoted)) == rows


def test_a_programs_own_note_of_the_sign_is_heeded():
    assert cells_of("sep=;\r\na;b,c\r\n1;2,5\r\n") == [["a", "b,c"], ["1", "2,5"]]


# What each encoding makes of the same words, by Python's own codecs.
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_the_encoding_is_found_by_itself(encoding):
    text = "Sorte;Ort\r\nSchöner aus Boskoop;Brünn\r\nCox’s Orange;Käthe’s Gärtchen\r\n"

    assert cells_of(text.encode(encoding)) == [
        ["Sorte", "Ort"], ["Schöner aus Boskoop", "Brünn"], ["Cox’s Orange", "Käthe’s Gärtchen"],
    ]  # fmt: skip


def test_another_encoding_can_be_chosen_where_the_letters_look_wrong():
    raw = "Odrůda;Místo\nPanenské české;Čížkov\n".encode("cp1250")

    assert cells_of(raw)[1] != ["Panenské české", "Čížkov"]
    assert cells_of(raw, encoding="cp1250")[1] == ["Panenské české", "Čížkov"]


def test_bytes_that_are_not_in_the_chosen_encoding_are_refused():
    with pytest.raises(UnreadableText, match="UTF-8"):
        cells_of("Sch\xf6ner,1\nx,2".encode("cp1252"), encoding="utf-8")


OTHER = {
    "pdf": b"%PDF-1.7 and so on", "png": b"\x89PNG\r\n\x1a\n....", "jpeg": b"\xff\xd8\xff\xe0....", "rtf": b"{\\rtf1 Hello}",
    "html": b"<!DOCTYPE html><html></html>", "gzip": b"\x1f\x8b\x08....", "old excel": b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1....",
    "nul": b"name,site\nBram\x00ley,Weir\n",
}  # fmt: skip


@pytest.mark.parametrize("kind", OTHER, ids=list(OTHER))
def test_what_is_no_table_is_refused_with_what_it_is(kind):
    with pytest.raises(NotASheet) as caught:
        cells_of(OTHER[kind])

    assert "save" in caught.value.todo.lower()


@pytest.mark.parametrize(
    "text", ["", "  \r\n \n", "\ufeff", ",,,\n,,,\n"], ids=["empty", "blank", "mark", "signs"]
)
def test_an_empty_file_is_refused(text):
    with pytest.raises(EmptySheet):
        cells_of(text)


@pytest.mark.parametrize(
    "text", ['name,site\n"Bramley,Weir\nCox,Mill\n', 'name,site\nBramley,"Weir"s"\n'], ids=["never closed", "stands alone"]
)  # fmt: skip
def test_a_quotation_mark_gone_astray_is_told_with_its_row(text):
    with pytest.raises(BrokenSheet) as caught:
        cells_of(text)

    assert caught.value.facts["row"] >= 2


def test_headings_below_a_title_are_found_and_rows_keep_their_numbers():
    table = read_table(b"Our trees,,\n,,\nName,Site,Year\nBramley,Weir,1961\n\nCox,Weir,1952\n")

    assert table.header == ("Name", "Site", "Year")
    assert table.how.header_row == 3
    assert list(table.rows) == [(4, ["Bramley", "Weir", "1961"]), (6, ["Cox", "Weir", "1952"])]


def test_another_row_of_headings_can_be_chosen():
    table = read_table(b"a,b\nName,Site\nBramley,Weir\n", Choice(header_row=2))

    assert table.header == ("Name", "Site")
    assert [number for number, _ in table.rows] == [3]


def test_headings_that_are_blank_or_come_twice_get_names_of_their_own():
    table = read_table(b"Name, name ,,Name\nx,y,z,u\n")

    assert table.header == ("Name", "name", "column C", "Name (2)")
    assert table.how.notes == ("twice",)


def test_a_row_longer_than_the_headings_keeps_its_cells():
    assert cells_of("a,b\n1,2,3\n") == [["a", "b"], ["1", "2", "3"]]


@pytest.mark.parametrize(("place", "signs"), [(0, "A"), (25, "Z"), (26, "AA"), (701, "ZZ"), (702, "AAA")])
def test_columns_have_the_letters_a_spreadsheet_shows(place, signs):
    assert letters(place) == signs


# -- limits ----------------------------------------------------------------------------------------------------------


def test_a_quarter_of_a_million_rows_are_read_and_one_more_is_refused():
    rows = b"x,1\n" * MOST_ROWS

    assert sum(1 for _ in read_table(b"name,n\n" + rows).rows) == MOST_ROWS
    with pytest.raises(TooManyRows, match="250,000"):
        sum(1 for _ in read_table(b"name,n\n" + rows + b"y,2\n").rows)


def test_too_many_columns_are_refused():
    wide = ",".join(f"c{n}" for n in range(MOST_COLUMNS + 1))

    with pytest.raises(TooManyColumns):
        read_table(f"{wide}\n{wide}\n".encode())
    assert len(read_table(f"{wide[: wide.rindex(',')]}\n1,2\n".encode()).header) == MOST_COLUMNS


def test_more_than_twenty_megabytes_are_refused_before_anything_is_read():
    with pytest.raises(TooLarge) as caught:
        read_table(b"x" * 20_000_001)

    assert caught.value.facts["limit_bytes"] == 20_000_000


def test_a_text_has_no_sheet_to_choose():
    with pytest.raises(NoSheetOfThatName):
        cells_of("a,b\n1,2\n", sheet="Trees")


# -- written, and read again -------------------------------------------------------------------------------------------

# What somebody typed with the apostrophe that we put ourselves cannot be told from ours, so no text begins with one.
TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00\ufeff"), max_size=12).filter(
    lambda text: not text.startswith("'")
)
ROWS = st.integers(1, 5).flatmap(
    lambda wide: st.lists(st.lists(TEXT, min_size=wide, max_size=wide), min_size=1, max_size=8)
)


@given(ROWS)
def test_what_is_written_is_read_back_the_same(rows):
    headed = [[f"column{place}" for place in range(len(rows[0]))], *rows]
    raw = b"".join(csv_pieces(headed, mark=True))

    read = list(read_table(raw, Choice(delimiter=",", header_row=1)).rows)

    kept = [(place, row) for place, row in enumerate(rows, 2) if any(cell.strip() for cell in row)]
    assert read == [(place, [cell or None for cell in row]) for place, row in kept]


@given(ROWS)
def test_the_standard_librarys_reader_gets_the_same_cells(rows):
    written = b"".join(csv_pieces(rows)).decode()

    assert list(csv.reader(io.StringIO(written, newline=""))) == [
        [defused(cell) for cell in row] for row in rows
    ]


@pytest.mark.parametrize("begins", ["=", "+", "-", "@", "\t", "\r"])
def test_a_text_that_begins_like_a_formula_is_made_text_and_read_back(begins):
    typed = f"{begins}HYPERLINK(A1)"
    raw = b"".join(csv_pieces([["a", "b"], [typed, "x"]]))

    assert list(csv.reader(io.StringIO(raw.decode(), newline="")))[1][0] == "'" + typed
    assert cells_of(raw)[1][0] == typed


def test_numbers_below_nought_stay_numbers():
    assert b"".join(csv_pieces([["a"], [-5], [-2.5]])) == b"a\r\n-5\r\n-2.5\r\n"


@given(st.lists(st.tuples(st.integers(1, 10**6), st.lists(TEXT | st.none() | st.integers(-(2**53), 2**53) | st.booleans() | st.dates() | st.floats(allow_nan=False, allow_infinity=False)))))  # noqa: E501  # fmt: skip
def test_rows_packed_small_come_out_the_same(rows):
    assert unpack_rows(pack_rows(rows)) == rows
