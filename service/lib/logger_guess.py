"""What the columns of a logger's table are most likely called, and how days are written: to be looked at, never to be trusted."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from itertools import pairwise

from service.lib.logger_files import CLOCK, IN_FILE, TIME, FileForm, day_number, read_number
from service.lib.plain_csv import PlainTable

_NAMED = {
    "date": re.compile(r"date|datum|day|tag\b|jour|fecha", re.IGNORECASE),
    "time": re.compile(r"time|zeit|uhr|heure|hora|stamp|clock", re.IGNORECASE),
    "temp": re.compile(r"temp|celsius|fahrenheit|°\s*[cf]\b|\bt\s*[(\[]", re.IGNORECASE),
    "humidity": re.compile(r"hum|feucht|rh\b|r\.h|%", re.IGNORECASE),
}


def guess_form(table: PlainTable, zone: str = "") -> FileForm:
    """A form to begin with. `zone` is where the club is; a file that brings its own says so."""
    sample = table.rows[:: max(len(table.rows) // 300, 1)]
    timed = [name for place, name in enumerate(table.heading) if _share(sample, place, _has_date) > 0.8]
    clocked = [
        name for place, name in enumerate(table.heading) if _share(sample, place, CLOCK.fullmatch) > 0.8
    ]
    numbers = [
        name for place, name in enumerate(table.heading) if _share(sample, place, _is_number) > 0.5 and name not in timed + clocked
    ]  # fmt: skip
    first = _best(timed, "time")
    has_time = bool(first) and _share(sample, table.column(first), _has_time) > 0.8
    day, time = ("", first) if has_time or not clocked else (_best(timed, "date"), _best(clocked, "time"))
    temp = _best([name for name in numbers if not _NAMED["humidity"].search(name)] or numbers, "temp")
    humid = [name for name in numbers if name != temp and _NAMED["humidity"].search(name)]
    dated = table.column(day or time) if (day or time) else None
    told = [row[dated] for row in sample] if dated is not None else []
    own = _share(sample, dated, _has_zone) > 0.8 if dated is not None else False
    return FileForm(
        time=time, temp=temp, date=day, humidity=humid[0] if humid else "",
        unit="F" if re.search(r"°\s*f\b|fahrenheit|[(\[]f[)\]]", temp, re.IGNORECASE) else "C",
        zone=IN_FILE if own else zone, order=_order(told),
    )  # fmt: skip


def _best(names: Sequence[str], kind: str) -> str:
    return next((name for name in names if _NAMED[kind].search(name)), names[0] if names else "")


def _share(rows: Sequence[Sequence[str]], place: int, test: Callable[[str], object]) -> float:
    return sum(bool(test(row[place])) for row in rows) / len(rows) if rows else 0.0


def _has_date(text: str) -> bool:
    return TIME.fullmatch(text) is not None


def _has_time(text: str) -> bool:
    found = TIME.fullmatch(text)
    return found is not None and bool(found[4])


def _has_zone(text: str) -> bool:
    found = TIME.fullmatch(text)
    return found is not None and bool(found[8])


def _is_number(text: str) -> bool:
    try:
        return read_number(text) is not None
    except ValueError:
        return False


def _order(dates: Sequence[str]) -> str:
    """The order of day and month: by what cannot be a month, and else by the smaller steps between neighbours."""
    found = [match for match in map(TIME.fullmatch, dates) if match]
    if not found or len(found[0][1]) == 4:
        return "ymd"
    jumps: Counter[str] = Counter()
    for order in ("dmy", "mdy"):
        try:
            days = [day_number(match[1], match[2], match[3], order) for match in found]
        except ValueError:
            continue
        jumps[order] = 1 + sum(abs(after - before) for before, after in pairwise(days))
    return min(jumps, key=lambda order: jumps[order], default="dmy")


def several_loggers(table: PlainTable, form: FileForm) -> tuple[str, list[str]] | None:
    """A column that seems to name which logger a row is of, and the names in it."""
    used = {form.time, form.date, form.temp, form.humidity}
    for place, name in enumerate(table.heading):
        values = Counter(row[place].strip() for row in table.rows[:5000])
        is_name = 2 <= len(values) <= 12 and "" not in values and min(values.values()) > 2
        if name not in used and is_name and not all(map(_is_number, values)):
            return name, sorted(values)
    return None
