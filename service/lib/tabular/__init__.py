"""Tables that people send and take away: CSV in any usual encoding, and XLSX, read in a process of its own."""

from service.lib.tabular.cells import Cell, NoValue, Row, pack_rows, plain_text, unpack_rows
from service.lib.tabular.packing import write_zip
from service.lib.tabular.problems import (
    BrokenSheet,
    EmptySheet,
    LockedSheet,
    NoSheetOfThatName,
    NotASheet,
    TooManyColumns,
    TooManyRows,
    UnreadableText,
)
from service.lib.tabular.reading import LARGEST, MOST_COLUMNS, MOST_ROWS, Choice, How, Table, read_table
from service.lib.tabular.text import DELIMITERS, ENCODINGS
from service.lib.tabular.writing import csv_pieces, defused, write_workbook

__all__ = [
    "DELIMITERS",
    "ENCODINGS",
    "LARGEST",
    "MOST_COLUMNS",
    "MOST_ROWS",
    "BrokenSheet",
    "Cell",
    "Choice",
    "EmptySheet",
    "How",
    "LockedSheet",
    "NoSheetOfThatName",
    "NoValue",
    "NotASheet",
    "Row",
    "Table",
    "TooManyColumns",
    "TooManyRows",
    "UnreadableText",
    "csv_pieces",
    "defused",
    "pack_rows",
    "plain_text",
    "read_table",
    "unpack_rows",
    "write_workbook",
    "write_zip",
]
