"""What can stand in a cell, and rows packed small, so that a long list can wait until somebody has looked at it."""

from __future__ import annotations

import base64
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import orjson


@dataclass(frozen=True)
class NoValue:
    """A cell that shows something else than a value: a formula nobody worked out, or an error such as #N/A."""

    shows: str


Cell = str | int | float | bool | date | datetime | NoValue | None
Row = tuple[int, list[Cell]]  # its number as a spreadsheet program shows it, and its cells


def cell_from(told: Any) -> Cell:
    """A cell as `cell_to` and the reading of workbooks write it."""
    if not isinstance(told, dict):
        return told  # type: ignore[no-any-return]
    if "d" in told:
        return date.fromisoformat(told["d"])
    if "at" in told:
        return datetime.fromisoformat(told["at"])
    return NoValue(str(told["x"]))


def cell_to(cell: Any) -> Any:
    if isinstance(cell, datetime):
        return {"at": cell.isoformat()}
    if isinstance(cell, date):
        return {"d": cell.isoformat()}
    if isinstance(cell, NoValue):
        return {"x": cell.shows}
    raise TypeError(f"a cell cannot be a {type(cell)}")


def pack_rows(rows: Sequence[Row]) -> str:
    """Rows as a short text of plain signs, which any database keeps."""
    told = orjson.dumps(
        rows,
        default=cell_to,
        option=orjson.OPT_PASSTHROUGH_DATETIME | orjson.OPT_PASSTHROUGH_DATACLASS,
    )
    return base64.b85encode(zlib.compress(told, 6)).decode()


def unpack_rows(packed: str) -> list[Row]:
    told = orjson.loads(zlib.decompress(base64.b85decode(packed)))
    return [
        (number, [cell_from(cell) if type(cell) is dict else cell for cell in cells])
        for number, cells in told
    ]


def plain_text(cell: Cell) -> str:
    """A cell as a person would type it: days as 2026-01-31, whole numbers without a point."""
    if cell is None:
        return ""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() else repr(cell)
    if isinstance(cell, NoValue):
        return cell.shows
    return cell.isoformat(sep=" ") if isinstance(cell, datetime) else str(cell)


def is_blank(cells: Iterable[Cell]) -> bool:
    return all(cell is None or (isinstance(cell, str) and not cell.strip()) for cell in cells)
