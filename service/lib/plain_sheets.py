"""A workbook as plain text, line for line, so that whatever reads CSV reads it too."""

from __future__ import annotations

from service.lib.plain_csv import MOST_ROWS
from service.lib.tabular.cells import Cell, plain_text
from service.lib.tabular.workbook import is_workbook, read_workbook

_DECIMALS = 6  # more are of the machine, not of the thermometer


def as_plain(raw: bytes) -> bytes:
    """The first sheet of a workbook, tabs between its cells; anything else as it is. Blocks while a workbook is read."""
    if not is_workbook(raw):
        return raw
    lines: list[str] = []
    for number, cells in read_workbook(raw, most_rows=MOST_ROWS + 1).rows:
        lines += [""] * (number - 1 - len(lines))  # every row keeps its number
        lines.append("\t".join(map(_told, cells)))
    return "\n".join(lines).encode()


def _told(cell: Cell) -> str:
    if isinstance(cell, float):
        return f"{cell:.{_DECIMALS}f}".rstrip("0").rstrip(".")
    return " ".join(plain_text(cell).replace('"', "'").split())
