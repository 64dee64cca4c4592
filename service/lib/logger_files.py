"""Readings out of a logger's table: which column is what is told once, the rest is read, counted, and named where it is wrong."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass, field
from datetime import date
from functools import lru_cache
from typing import Any

from service.lib.errors import Unusable
from service.lib.local_times import Change, instants_of, zone_of
from service.lib.plain_csv import PlainTable
from service.lib.readings import DRY, FAHRENHEIT, MOST_DECIMALS, Readings, make_readings

ORDERS = {"ymd": "year, month, day", "dmy": "day, month, year", "mdy": "month, day, year"}
IN_FILE = "in the file"
MOST_NAMED = 200
_EPOCH_DAY = date(1970, 1, 1).toordinal()
TIME = re.compile(
    r"\s*(\d{1,4})[-./](\d{1,2})[-./](\d{1,4})(?:[ T,]+|$)(?:(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d+)?)?)?\s*([AaPp])?\.?(?:[Mm]\.?)?\s*"
    r"(Z|(?:UTC|GMT)?[+-]\d{1,2}:?\d{2}|UTC|GMT)?\s*"
)
CLOCK = re.compile(r"\s*(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d+)?)?\s*([AaPp])?\.?(?:[Mm]\.?)?\s*")
_NUMBER = re.compile(r"([-+]?\d+)(?:[.,](\d+))?")
# What loggers write where they could not measure.
NOTHING = frozenset({"", "-", "--", "---", "----", "n/a", "na", "nan", "null", "none", "err", "error", "ol", "open", "fault"})  # fmt: skip


class FormWrong(Unusable):
    title = "These columns cannot be used"
    todo = "Choose the columns again; the first rows of the file are shown beside them."


@dataclass(frozen=True)
class FileForm:
    """How a logger's files are read: told once and remembered."""

    time: str  # the column with the time of day, and the date unless that has a column of its own
    temp: str
    date: str = ""
    humidity: str = ""
    unit: str = "C"
    zone: str = ""  # a place, an offset, or `in the file` where every time brings its own
    order: str = "ymd"
    only_column: str = ""  # where a file holds several loggers: the column that names them …
    only_value: str = ""  # … and the one that is meant

    def to_json(self) -> dict[str, Any]:
        return asdict(self)

    def fits(self, table: PlainTable) -> bool:
        """Whether a file has the columns that this was told for."""
        named = (self.time, self.temp, self.date, self.humidity, self.only_column)
        return all(name in table.heading for name in named if name)


@dataclass
class FileReport:
    """What was met in a file: rows by the line they stand on."""

    rows: int = 0
    without_value: int = 0
    of_others: int = 0  # rows of another logger, by the column that names them
    faulty: list[tuple[int, str]] = field(default_factory=list)
    faulty_count: int = 0
    newest_first: bool = False
    out_of_order: int = 0
    twice: list[str] = field(default_factory=list)
    once: list[str] = field(default_factory=list)

    def fault(self, line: int, words: str) -> None:
        self.faulty_count += 1
        if len(self.faulty) < MOST_NAMED:
            self.faulty.append((line, words))


@dataclass(frozen=True)
class FileRead:
    """The readings of a file in the order of time, the line of each, and what was met."""

    readings: Readings
    lines: list[int]
    report: FileReport


def read_file(table: PlainTable, form: FileForm, source: int = 0) -> FileRead:
    """The readings a table holds by a form. Raises `FormWrong` and `NoSuchZone`; what is wrong with rows is reported."""
    import numpy as np

    check_form(table, form)
    report = FileReport(rows=len(table.rows))
    for line in table.odd:
        report.fault(line, "it has another number of columns")
    told = _rows(table, form, report)
    local, temps, humid, lines = _columns(told, form, report)
    order = _direction(local, report)
    at, kept = _instants(local[order], form, np.array(lines, np.int64)[order], report)
    places = order[kept]
    report.faulty.sort()
    temp, temp_decimals = _scaled(temps, places)
    humidity, humidity_decimals = _scaled(humid, places)
    dry = np.array([humid[place] is None for place in places.tolist()], bool)
    marks = np.where(dry, DRY, 0) | (FAHRENHEIT if form.unit == "F" else 0)
    in_time = np.argsort(at, kind="stable")
    readings = make_readings(
        at.tolist(), temp, humidity, marks.tolist(), source, temp_decimals, humidity_decimals
    )
    return FileRead(readings, np.array(lines, np.int64)[places][in_time].tolist(), report)


def check_form(table: PlainTable, form: FileForm) -> None:
    for name in ("time", "temp", "date", "humidity", "only_column"):
        told = getattr(form, name)
        if told and told not in table.heading:
            raise FormWrong(f"The file has no column called {told[:100]}.", field=name)
    if not form.time or not form.temp:
        raise FormWrong("A time and a temperature are needed.", field="temp" if form.time else "time")
    used = [name for name in (form.time, form.date, form.temp, form.humidity) if name]
    if len(set(used)) != len(used):
        raise FormWrong("A column can be one thing only.", field="temp")
    if form.unit not in ("C", "F"):
        raise FormWrong("A temperature is in °C or in °F.", field="unit")
    if form.order not in ORDERS:
        raise FormWrong("Say in which order day, month and year stand.", field="order")
    if form.zone != IN_FILE:
        zone_of(form.zone)


# -- row by row --------------------------------------------------------------------------------------------------------

_Row = tuple[int, str, str, str]  # line, time, temperature, humidity


def _rows(table: PlainTable, form: FileForm, report: FileReport) -> Iterable[_Row]:
    time, temp = table.column(form.time), table.column(form.temp)
    day = table.column(form.date) if form.date else None
    humidity = table.column(form.humidity) if form.humidity else None
    only = table.column(form.only_column) if form.only_column else None
    for line, row in zip(table.lines, table.rows, strict=True):
        if only is not None and row[only].strip() != form.only_value:
            report.of_others += 1
            continue
        told = row[time] if day is None else f"{row[day].strip()} {row[time].strip()}"
        yield line, told, row[temp], row[humidity] if humidity is not None else ""


_Number = tuple[int, int]  # a whole number, and how many of its digits are decimals


def _columns(
    rows: Iterable[_Row], form: FileForm, report: FileReport
) -> tuple[Any, list[_Number], list[_Number | None], list[int]]:
    """Clock times, temperatures, humidities and lines of the rows that can be read."""
    import numpy as np

    clock = _clock_of(form)
    number = lru_cache(maxsize=20_000)(read_number)
    local: list[int] = []
    temps: list[_Number] = []
    humid: list[_Number | None] = []
    lines: list[int] = []
    for line, told, temp, humidity in rows:
        try:
            second = clock(told)
            value = number(temp)
            damp = number(humidity)
        except ValueError as error:
            report.fault(line, str(error))
            continue
        if value is None:
            report.without_value += 1
            continue
        local.append(second)
        temps.append(value)
        humid.append(damp)
        lines.append(line)
    return np.array(local, np.int64), temps, humid, lines


def read_number(text: str) -> _Number | None:
    """A number as it is written, with a point or a comma; None where nothing was measured. Raises `ValueError`."""
    told = text.strip().replace("−", "-").replace("\xa0", "")
    plain = told.rstrip("°CF%RHrh ").strip() if told else told
    found = _NUMBER.fullmatch(plain)
    if found is None:
        if told.casefold() in NOTHING:
            return None
        raise ValueError(f"'{text.strip()[:40]}' is no number")
    decimals = found[2] or ""
    if len(decimals) > MOST_DECIMALS:
        decimals = decimals[:MOST_DECIMALS] if not decimals[MOST_DECIMALS:].strip("0") else decimals
        if len(decimals) > MOST_DECIMALS:
            raise ValueError(f"'{told[:40]}' has more than {MOST_DECIMALS} decimals")
    if len(found[1]) > 7:
        raise ValueError(f"'{told[:40]}' is too large")
    return int(f"{found[1]}{decimals}"), len(decimals)


def _clock_of(form: FileForm) -> Callable[[str], int]:
    """Reads a time as seconds on a clock face since the beginning of 1970; with the zone in the file, as an instant."""
    in_file = form.zone == IN_FILE

    @lru_cache(maxsize=4096)
    def day_of(text: str) -> int:
        found = TIME.fullmatch(text)
        if found is None or found[4]:
            raise ValueError
        return day_number(found[1], found[2], found[3], form.order) * 86_400

    @lru_cache(maxsize=100_000)
    def time_of(text: str) -> int:
        found = CLOCK.fullmatch(text)
        if found is None:
            raise ValueError
        return _seconds(found[1], found[2], found[3], found[4])

    def read(text: str) -> int:
        # Nearly all are a date, a blank, a time: both halves were met before.
        day, blank, time = text.strip().partition(" ")
        if blank and not in_file:
            try:
                return day_of(day) + time_of(time)
            except ValueError:
                pass
        return _slowly(text, form.order, in_file=in_file)

    return read


def _slowly(text: str, order: str, *, in_file: bool) -> int:
    shown = text.strip()[:40]
    found = TIME.fullmatch(text)
    if found is None or not found[4]:
        raise ValueError(f"'{shown}' is no date with a time")
    try:
        second = day_number(found[1], found[2], found[3], order) * 86_400 + _seconds(*found.group(4, 5, 6, 7))
    except ValueError as error:
        raise ValueError(f"'{shown}' is no date with a time: {error}") from error
    if in_file:
        if not found[8]:
            raise ValueError(f"'{shown}' does not say in which zone it is")
        offset = zone_of(found[8]).utcoffset(None)
        second -= int(offset.total_seconds()) if offset else 0
    elif found[8]:
        raise ValueError(f"'{shown}' brings a zone of its own: choose '{IN_FILE}' as the zone")
    return second


def day_number(first: str, second: str, third: str, order: str) -> int:
    if len(first) == 4:
        order = "ymd"  # nobody writes a year first in any other order
    places = {"ymd": (first, second, third), "dmy": (third, second, first), "mdy": (third, first, second)}
    year, month, day = (int(part) for part in places[order])
    if year < 100:
        year += 2000
    if not 1970 <= year <= 2200:
        raise ValueError(f"the year {year}")
    try:
        return date(year, month, day).toordinal() - _EPOCH_DAY
    except ValueError:
        raise ValueError(f"no month {month} or day {day} with this order of day and month") from None


def _seconds(hour: str, minute: str, second: str | None, half: str | None) -> int:
    told = int(hour)
    if half:
        if not 1 <= told <= 12:
            raise ValueError(f"no hour {told} before or after noon")
        told = told % 12 + (12 if half in "Pp" else 0)
    if told > 23 or int(minute) > 59 or int(second or 0) > 59:
        raise ValueError("no such time of day")
    return told * 3600 + int(minute) * 60 + int(second or 0)


# -- all together --------------------------------------------------------------------------------------------------------


def _direction(local: Any, report: FileReport) -> Any:
    """The places in the order the logger wrote them: some write the newest first."""
    import numpy as np

    steps = np.diff(local)
    back, forth = int((steps < 0).sum()), int((steps > 0).sum())
    report.newest_first = back > forth
    report.out_of_order = min(back, forth)
    places = np.arange(len(local))
    return places[::-1] if report.newest_first else places


def _instants(local: Any, form: FileForm, lines: Any, report: FileReport) -> tuple[Any, Any]:
    """Instants of the places that have one, and those places."""
    import numpy as np

    if form.zone == IN_FILE:
        return local, np.arange(len(local))
    found = instants_of(local, zone_of(form.zone))
    kept = np.ones(len(local), bool)
    kept[found.never] = False
    for place in found.never.tolist():
        report.fault(int(lines[place]), "this time does not exist in the zone: the clock was put forward")
    report.twice, report.once = ([_when(change) for change in told] for told in (found.twice, found.once))
    # Turning back by a change of the clock is no disorder.
    report.out_of_order = max(report.out_of_order - len(found.twice), 0)
    return found.at[kept], np.flatnonzero(kept)


def _when(change: Change) -> str:
    from datetime import UTC, datetime

    begin, end = (datetime.fromtimestamp(second, UTC) for second in change.span)
    return f"{begin.day} {begin:%B %Y}, {begin:%H:%M} to {end:%H:%M}"


def _scaled(numbers: Sequence[_Number | None], places: Any) -> tuple[list[int], int]:
    told = [numbers[place] for place in places.tolist()]
    most = max((one[1] for one in told if one is not None), default=0)
    up = [10**n for n in range(most, -1, -1)]
    return [0 if one is None else one[0] * up[one[1]] for one in told], most
