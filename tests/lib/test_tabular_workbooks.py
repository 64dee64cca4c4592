"""Workbooks of two libraries, read; ours, read by another; and workbooks that mean harm."""

from __future__ import annotations

import io
import zipfile
from datetime import date, datetime

import openpyxl
import pytest
import xlsxwriter

from service.lib.tabular import (
    BrokenSheet,
    Choice,
    EmptySheet,
    LockedSheet,
    NoSheetOfThatName,
    NotASheet,
    NoValue,
    TooManyRows,
    read_table,
    workbook,
    write_workbook,
)
from service.lib.tabular.writing import CUT_OFF, LONGEST_CELL

NAMES = [
    "Bramley’s Seedling",
    "Schöner aus Boskoop",
    "מיכל",
    "🍏 pippin",
    'with "quotes", commas; and\nlines',
]


def moment(*told: int) -> datetime:
    return datetime(*told)  # noqa: DTZ001 - a sheet knows no zone


def by_xlsxwriter() -> bytes:
    held = io.BytesIO()
    book = xlsxwriter.Workbook(held)
    sheet = book.add_worksheet("Trees")
    day = book.add_format({"num_format": "dd/mm/yyyy"})
    sheet.write_row(0, 0, ["Name", "Planted", "Sticks", "Seen", "Share", "Sound"])
    for row, name in enumerate(NAMES, 1):
        sheet.write_string(row, 0, name)
        sheet.write_datetime(row, 3, moment(2025, 1, row + 1), day)
    sheet.write(1, 1, 1931)
    sheet.write_formula(1, 2, "=6*2", value=12)
    sheet.write(2, 4, 2.5)
    sheet.write_boolean(3, 5, True)
    book.add_worksheet("Sites").write_row(0, 0, ["Site", "Area"])
    book.get_worksheet_by_name("Sites").write_row(1, 0, ["Weir orchard", "Vale"])
    book.close()
    return held.getvalue()


def by_openpyxl() -> bytes:
    held = io.BytesIO()
    book = openpyxl.Workbook()
    book.active.title = "Trees"
    book.active.append(["Name", "Planted", "Sticks", "Seen", "Share", "Sound"])
    for row, name in enumerate(NAMES, 1):
        told = [name, 1931 if row == 1 else None, 12 if row == 1 else None, date(2025, 1, row + 1)]
        book.active.append([*told, 2.5 if row == 2 else None, True if row == 3 else None])
    sites = book.create_sheet("Sites")
    sites.append(["Site", "Area"])
    sites.append(["Weir orchard", "Vale"])
    book.save(held)
    return held.getvalue()


@pytest.mark.parametrize("made", [by_xlsxwriter, by_openpyxl], ids=["XlsxWriter", "openpyxl"])
def test_a_workbook_of_either_library_is_read_alike(made):
    table = read_table(made())
    rows = [cells + [None] * (6 - len(cells)) for _, cells in table.rows]

    assert table.header == ("Name", "Planted", "Sticks", "Seen", "Share", "Sound")
    assert (table.how.sheet, table.how.sheets) == ("Trees", ("Trees", "Sites"))
    assert [row[0] for row in rows] == NAMES
    assert [row[3] for row in rows] == [date(2025, 1, day) for day in range(2, 7)]
    assert (rows[0][1], rows[0][2], rows[1][4], rows[2][5]) == (1931, 12, 2.5, True)


@pytest.mark.parametrize("made", [by_xlsxwriter, by_openpyxl], ids=["XlsxWriter", "openpyxl"])
def test_another_sheet_can_be_chosen(made):
    table = read_table(made(), Choice(sheet="Sites"))

    assert (table.header, [cells for _, cells in table.rows]) == (
        ("Site", "Area"),
        [["Weir orchard", "Vale"]],
    )
    with pytest.raises(NoSheetOfThatName, match="Plots"):
        read_table(made(), Choice(sheet="Plots"))


def test_a_formula_nobody_worked_out_and_an_error_are_no_values():
    held = io.BytesIO()
    book = openpyxl.Workbook()
    for row in (["Name", "Sticks"], ["Bramley", "=6*2"], ["Cox", "#N/A"], ["'quoted", "plain"]):
        book.active.append(row)
    book.save(held)

    rows = [cells for _, cells in read_table(held.getvalue()).rows]

    assert rows == [["Bramley", NoValue("=6*2")], ["Cox", NoValue("#N/A")], ["'quoted", "plain"]]


def test_merged_cells_are_told_and_blank_rows_keep_the_numbers_right():
    held = io.BytesIO()
    book = openpyxl.Workbook()
    for row in (["Name", "Site"], ["Bramley", "Weir"], ["Cox", None], [None, None], ["Egremont", "Mill"]):
        book.active.append(row)
    book.active.merge_cells("B2:B3")
    book.save(held)

    table = read_table(held.getvalue())

    assert table.how.notes == ("merged",)
    assert [number for number, _ in table.rows] == [2, 3, 5]


def test_days_of_the_1904_system_are_the_same_days():
    held = io.BytesIO()
    book = xlsxwriter.Workbook(held, {"date_1904": True})
    sheet = book.add_worksheet()
    sheet.write_row(0, 0, ["Name", "Seen"])
    sheet.write(1, 0, "Bramley")
    sheet.write_datetime(1, 1, moment(2025, 6, 7), book.add_format({"num_format": "yyyy-mm-dd"}))
    book.close()

    assert [cells for _, cells in read_table(held.getvalue()).rows] == [["Bramley", date(2025, 6, 7)]]


# -- what cannot be read -------------------------------------------------------------------------------------------------


def packed(**parts: bytes | str) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as pack:
        for name, content in parts.items():
            pack.writestr(name, content)
    return held.getvalue()


def test_a_workbook_locked_with_a_password_says_so():
    # [MS-OFFCRYPTO] 2.2.1: a locked workbook is a compound file with a stream of this name.
    locked = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(500) + "EncryptedPackage".encode("utf-16-le")

    with pytest.raises(LockedSheet, match="password"):
        read_table(locked)


@pytest.mark.parametrize("parts", [{"mimetype": "application/vnd.oasis.opendocument.spreadsheet"}, {"word/document.xml": "<w/>"}], ids=["ods", "docx"])  # noqa: E501  # fmt: skip
def test_another_packed_file_is_no_workbook(parts):
    with pytest.raises(NotASheet, match="XLSX"):
        read_table(packed(**parts))


def test_a_workbook_cut_short_or_with_broken_parts_is_refused():
    whole = by_openpyxl()
    for raw in (
        whole[: len(whole) // 2],
        b"PK\x03\x04 and nothing more",
        packed(**{"xl/workbook.xml": "<no"}),
    ):
        with pytest.raises(BrokenSheet):
            read_table(raw)


def test_a_workbook_that_would_burst_is_refused_before_it_is_unpacked():
    bomb = packed(
        **{"xl/workbook.xml": "<workbook/>", "xl/worksheets/sheet1.xml": b" " * (workbook.MOST_UNPACKED + 1)}
    )

    assert len(bomb) < 1_000_000
    with pytest.raises(BrokenSheet, match="400 MB"):
        read_table(bomb)


def test_a_workbook_whose_entities_swell_is_refused():
    # The 'billion laughs' of XML entities within entities.
    swelling = '<!DOCTYPE x [<!ENTITY a "ha">' + "".join(
        f'<!ENTITY {chr(98 + n)} "{f"&{chr(97 + n)};" * 10}">' for n in range(9)
    )
    book = f"{swelling}]><workbook><sheets>&j;</sheets></workbook>"

    with pytest.raises(BrokenSheet):
        read_table(packed(**{"xl/workbook.xml": book, "[Content_Types].xml": "<Types/>"}))


def test_a_workbook_without_cells_or_sheets_is_empty():
    held = io.BytesIO()
    openpyxl.Workbook().save(held)

    with pytest.raises(EmptySheet):
        read_table(held.getvalue())


def test_rows_beyond_the_limit_are_refused():
    held = io.BytesIO()
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet()
    for row in range(12):
        sheet.append([f"row {row}"])
    book.save(held)

    assert (
        sum(1 for _ in workbook.read_workbook(held.getvalue(), most_rows=11).rows) == 12
    )  # with the headings
    with pytest.raises(TooManyRows, match="10"):
        workbook.read_workbook(held.getvalue(), most_rows=10)


# -- ours, read by another library -----------------------------------------------------------------------------------------


def test_what_we_write_another_library_reads_the_same(tmp_path):
    rows = [[name, 12, 2.5, date(2025, 1, 31), True, None] for name in NAMES]
    at = moment(2025, 1, 31, 9, 30)
    write_workbook(
        tmp_path / "ours.xlsx",
        [("Trees", ["name", "sticks", "share", "day", "sound", "none"], rows), ("Trees", ["at"], [[at]])],
    )

    book = openpyxl.load_workbook(tmp_path / "ours.xlsx")

    assert book.sheetnames == ["Trees", "Trees (2)"]
    read = list(book["Trees"].iter_rows(min_row=2, values_only=True))
    assert read == [(name, 12, 2.5, moment(2025, 1, 31), "yes", None) for name in NAMES]
    assert book["Trees (2)"]["A2"].value == "2025-01-31T09:30:00"
    table = read_table((tmp_path / "ours.xlsx").read_bytes())
    assert [cells[:4] for _, cells in table.rows] == [row[:4] for row in rows]


def test_a_text_that_begins_like_a_formula_is_written_as_text(tmp_path):
    typed = ["=1+1", "+1", "-1", "@A1", "http://example.test/", "007"]
    write_workbook(tmp_path / "ours.xlsx", [("x", ["typed"], [[one] for one in typed])])

    sheet = openpyxl.load_workbook(tmp_path / "ours.xlsx")["x"]

    assert [(cell.value, cell.data_type) for (cell,) in sheet.iter_rows(min_row=2)] == [
        (one, "s") for one in typed
    ]
    assert all(cell.hyperlink is None for (cell,) in sheet.iter_rows(min_row=2))


def test_a_text_longer_than_a_cell_is_cut_and_says_so(tmp_path):
    write_workbook(tmp_path / "ours.xlsx", [("x", ["long"], [["a" * (LONGEST_CELL + 1)]])])

    told = openpyxl.load_workbook(tmp_path / "ours.xlsx")["x"]["A2"].value

    assert (len(told), told.endswith(CUT_OFF)) == (LONGEST_CELL, True)


def _with_rows(rows: str) -> bytes:
    """A workbook by openpyxl whose sheet's rows are replaced by these."""
    made, changed, book = io.BytesIO(), io.BytesIO(), openpyxl.Workbook()
    book.active.append(["Name"])
    book.save(made)
    with zipfile.ZipFile(made) as before, zipfile.ZipFile(changed, "w") as after:
        for name in before.namelist():
            told = before.read(name)
            if name == "xl/worksheets/sheet1.xml":
                begin, end = told.index(b"<row"), told.index(b"</sheetData>")
                told = told[:begin] + rows.encode() + told[end:]
            after.writestr(name, told)
    return changed.getvalue()


def test_too_many_rows_are_refused_before_a_cell_of_them_is_read():
    unreadable = "".join(f'<row r="{n}"><c r="A{n}" t="s"><v>99</v></c></row>' for n in range(1, 7))

    with pytest.raises(TooManyRows):
        workbook.read_workbook(_with_rows(unreadable), most_rows=4)
    with pytest.raises(BrokenSheet):  # few enough to be read, and found broken then
        workbook.read_workbook(_with_rows(unreadable), most_rows=5)


def test_rows_that_are_only_coloured_do_not_count():
    some = '<row r="1"><c r="A1" t="inlineStr"><is><t>Name</t></is></c></row><row r="2"><c r="A2"><v>1</v></c></row>'
    coloured = "".join(f'<row r="{n}" s="1"><c r="A{n}" s="1"/></row>' for n in range(3, 40))

    assert len(list(workbook.read_workbook(_with_rows(some + coloured), most_rows=1).rows)) == 2
