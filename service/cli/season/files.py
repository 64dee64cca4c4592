"""Reading the season's files: CSV with a header that explains each column, and one TOML file of settings."""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from service.lib.settings import CHECKOUT

DEMO_DIR = CHECKOUT / "fixtures" / "demo"
Row = Mapping[str, str]


class SeasonFileWrong(ValueError):
    """A line of the season's files that cannot be told; names the file and the line."""


def read_settings(folder: Path) -> dict[str, Any]:
    with (folder / "club.toml").open("rb") as file:
        return tomllib.load(file)


def read_rows(folder: Path, name: str) -> list[dict[str, str]]:
    """The rows of one file, each with its place for messages under `_place`."""
    lines = (folder / name).read_text(encoding="utf-8").splitlines()
    first = next(number for number, line in enumerate(lines) if not line.startswith("#"))
    reader = csv.DictReader(lines[first:], strict=True)
    rows = []
    for row in reader:
        place = f"{name} line {first + reader.line_num}"
        if None in row or None in row.values():
            raise SeasonFileWrong(f"{place}: the columns do not fit the heading")
        rows.append({**row, "_place": place})
    return rows


def read_day(text: str, zone: str) -> datetime:
    """A moment as the files write it, in the club's own time."""
    return datetime.strptime(text, "%Y-%m-%d %H:%M").replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)


def yes_or_no(text: str) -> bool | None:
    """yes, no, or nothing told."""
    if text not in {"yes", "no", ""}:
        raise ValueError(f"'{text}' is neither yes nor no")
    return None if text == "" else text == "yes"


def told(row: Row, *names: str, **renamed: str) -> dict[str, Any]:
    """Those fields of a row that say something, some of them under another name."""
    pairs = {name: row[name] for name in names} | {field: row[name] for field, name in renamed.items()}
    return {name: value for name, value in pairs.items() if value}
