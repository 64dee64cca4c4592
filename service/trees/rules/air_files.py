"""What a file of a station or a thermometer holds of a site's air: days of lowest and highest, by the day or by the hour."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from service.lib.clock import CLOCK_SLACK, day_words, local_day
from service.lib.counted import counted
from service.lib.errors import NotFound, Unusable
from service.lib.logged import HELD_HOURS, find_repeats, find_stuck
from service.lib.logger_files import ORDERS, TIME, FileForm, FileReport, FormWrong, day_number
from service.lib.logger_guess import guess_form
from service.lib.plain_csv import PlainTable
from service.lib.readings import DAY_SECONDS, DRY, Readings, make_readings, no_readings
from service.lib.temperatures import doubt_of_unit
from service.lib.told_files import Possible, notes_of, said_again, tell_file
from service.lib.whole_times import day_of, instant_of, number_of
from service.trees.rules.air import COLDEST_C, HOTTEST_C, last_over, read_air
from service.trees.rules.air_hours import days_in, days_of

OF_THE_AIR = Possible(COLDEST_C, HOTTEST_C, "the air")
LIKELY_C = (-8.0, 30.0)  # a mean beyond is hardly one of an orchard's air over a file (judgement)
_LOWEST = re.compile(r"min(?!ut)|low|tief|\btn\b", re.IGNORECASE)
_HIGHEST = re.compile(r"max|high|hoch|höch|\btx\b", re.IGNORECASE)
_FAHRENHEIT = re.compile(r"°\s*f\b|fahrenheit|[(\[_]f[)\]]?$", re.IGNORECASE)
_CELSIUS = re.compile(r"°\s*c\b|celsius|[(\[_]c[)\]]?$", re.IGNORECASE)
_NAMED = 5


class AirUnlikely(Unusable):
    title = "This is unlikely"
    todo = (
        "Look at your notes once more. If it was so, say so and send it again; what you typed is still here."
    )


class NoSuchAirFile(NotFound):
    title = "There is no such file of days of air"


@dataclass(frozen=True)
class AirForm:
    """Which column is what: a day with its lowest and highest, or a time with one temperature. What is not known is empty."""

    day: str = ""  # the day, or the time where that has no column of its own
    clock: str = ""
    lowest: str = ""
    highest: str = ""
    temp: str = ""
    unit: str = ""
    order: str = ""
    zone: str = ""
    only_column: str = ""  # where a file holds several stations: the column that names them …
    only_value: str = ""  # … and the one that is meant

    @property
    def is_by_hour(self) -> bool:
        return bool(self.temp)

    def to_json(self) -> dict[str, Any]:
        return asdict(self)

    def columns(self) -> list[str]:
        used = (self.day, self.clock, self.lowest, self.highest, self.temp, self.only_column)
        return [name for name in used if name]

    def of_readings(self) -> FileForm:
        time, day = (self.clock, self.day) if self.clock else (self.day, "")
        return FileForm(
            time=time, date=day, temp=self.temp, unit=self.unit, zone=self.zone, order=self.order,
            only_column=self.only_column, only_value=self.only_value,
        )  # fmt: skip


@dataclass
class AirTold:
    """A file read by a form: its days, the line each stands on, and what was met on the way."""

    form: AirForm
    days: dict[date, tuple[float, float]]
    line_of: dict[date, int]
    report: FileReport
    same_within: int = 0
    notes: list[str] = field(default_factory=list)
    unlikely: list[str] = field(default_factory=list)
    not_over: set[date] = field(default_factory=set)
    readings: Readings = field(default_factory=no_readings)  # of a file by the hour


# -- guessing --------------------------------------------------------------------------------------------------------


def guess_air(table: PlainTable) -> AirForm:
    """A form to begin with, to be looked at; unit, order and zone stay empty where the file does not tell them."""
    found = guess_form(table)
    low, high = (_named(table.heading, pattern) for pattern in (_LOWEST, _HIGHEST))
    by_day = bool(low and high and low != high)
    told = low if by_day else found.temp
    unit = "F" if _FAHRENHEIT.search(told) else "C" if _CELSIUS.search(told) else ""
    return AirForm(
        day=found.date or found.time, clock=found.time if found.date and not by_day else "", lowest=low if by_day else "",
        highest=high if by_day else "", temp="" if by_day else found.temp, unit=unit, zone="" if by_day else found.zone,
        order=_sure_order(table, found.date or found.time),
    )  # fmt: skip


def _named(heading: Sequence[str], pattern: re.Pattern[str]) -> str:
    return next((name for name in heading if pattern.search(name)), "")


def _sure_order(table: PlainTable, name: str) -> str:
    """The order of day and month where only one can be; empty where both can."""
    if not name:
        return ""
    place = table.column(name)
    dates = [found for found in (TIME.fullmatch(row[place]) for row in table.rows) if found]
    if dates and all(len(found[1]) == 4 for found in dates):
        return "ymd"
    can = [order for order in ("dmy", "mdy") if all(_is_day(found, order) for found in dates)]
    return can[0] if len(can) == 1 and dates else ""


def _is_day(found: re.Match[str], order: str) -> bool:
    try:
        day_number(found[1], found[2], found[3], order)
    except ValueError:
        return False
    return True


# -- reading -----------------------------------------------------------------------------------------------------------


def check_air_form(table: PlainTable, form: AirForm) -> None:
    """Raises `FormWrong`, at the field that is missing or cannot be."""
    for name in ("day", "clock", "lowest", "highest", "temp", "only_column"):
        told = getattr(form, name)
        if told and told not in table.heading:
            raise FormWrong(f"The file has no column called {told[:100]}.", field=name)
    if not form.day:
        raise FormWrong("Say in which column the day stands.", field="day")
    if form.temp and (form.lowest or form.highest):
        raise FormWrong(
            "Either a lowest and a highest of the day, or a temperature by the hour: not both.", field="temp"
        )
    if not form.temp and not (form.lowest and form.highest):
        missing = "highest" if form.lowest else "lowest"
        raise FormWrong(
            "A day needs its lowest and its highest; or choose the temperature of a time.", field=missing
        )
    used = [name for name in form.columns() if name != form.only_column]
    if len(set(used)) != len(used):
        raise FormWrong("A column can be one thing only.", field="highest" if form.highest else "temp")
    if form.unit not in ("C", "F"):
        raise FormWrong("The file does not say whether it is °C or °F: say it.", field="unit")
    if form.order not in ORDERS:
        raise FormWrong("Say in which order day, month and year stand.", field="order")
    if form.temp and not form.zone:
        raise FormWrong("The times have no zone: say what clock they are of.", field="zone")


def tell_air(table: PlainTable, form: AirForm, now: datetime, zone: str) -> AirTold:
    """Read a file by a form, into days of the club's zone. Raises `FormWrong` and `NoSuchZone`."""
    check_air_form(table, form)
    told = _by_hour(table, form, now, zone) if form.is_by_hour else _by_day(table, form, now, zone)
    told.report.faulty.sort()
    told.notes += [
        f"{day_words(day)} is not over yet and stays out: send the rest of it then."
        if form.is_by_hour
        else f"{day_words(day)} is not over yet and stays out: send it again then."
        for day in sorted(told.not_over)
    ]
    told.unlikely += unlikely_days(told.days)
    return told


def _by_day(table: PlainTable, form: AirForm, now: datetime, zone: str) -> AirTold:
    report = FileReport(rows=len(table.rows))
    told = AirTold(form, {}, {}, report)
    for line in table.odd:
        report.fault(line, "it has another number of columns")
    today, over_to = local_day(now + CLOCK_SLACK, zone), last_over(now, zone)
    for line, row in _own_rows(table, form, report):
        try:
            day = _day_of(row[table.column(form.day)], form.order)
            air = read_air(row[table.column(form.lowest)], row[table.column(form.highest)], form.unit)
        except ValueError as error:
            report.fault(line, str(error))
            continue
        if air is None:
            report.without_value += 1
        elif day > today:
            report.fault(line, f"{day_words(day)} has not come yet")
        elif day > over_to:
            told.not_over.add(day)
        elif day not in told.days:
            told.days[day], told.line_of[day] = air, line
        elif told.days[day] == air:
            told.same_within += 1
        else:
            report.fault(line, f"{day_words(day)} stands on line {told.line_of[day]} with other values")
    if told.same_within:
        told.notes.append(said_again(told.same_within))
    return told


def _own_rows(table: PlainTable, form: AirForm, report: FileReport) -> Iterable[tuple[int, list[str]]]:
    only = table.column(form.only_column) if form.only_column else None
    for line, row in zip(table.lines, table.rows, strict=True):
        if only is not None and row[only].strip() != form.only_value:
            report.of_others += 1
        else:
            yield line, row


@lru_cache(maxsize=4096)
def _day_of(text: str, order: str) -> date:
    """The day a cell tells; a time of day beside it is passed over."""
    found = TIME.fullmatch(text)
    if found is None:
        raise ValueError(f"'{text.strip()[:40]}' is no day" if text.strip() else "it has no day")
    try:
        return day_of(day_number(found[1], found[2], found[3], order))
    except ValueError as error:
        raise ValueError(f"'{text.strip()[:40]}' is no day: {error}") from None


def _by_hour(table: PlainTable, form: AirForm, now: datetime, zone: str) -> AirTold:
    found = tell_file(b"", form.of_readings(), now, OF_THE_AIR, table)
    for line, words in found.differing_within:
        found.report.fault(line, words)
    told = AirTold(form, {}, {}, found.report, found.same_within, notes_of(found))
    told.unlikely += [
        f"From {day_words(instant_of(one.begin).date())} to {day_words(instant_of(one.end).date())} nothing moves: {one.readings} "
        f"readings of {one.temp_c:g} °C. Was the sensor stuck?"
        for one in found.stuck
    ]  # fmt: skip
    told.readings = found.readings
    own = days_of(found.readings, days_in(found.readings, zone), last_over(now, zone), zone)
    told.days, told.not_over = own.days, own.not_over
    told.line_of = {day: found.line_of.get(at, 0) for day, at in own.first_at.items()}
    if own.thin:
        named = ", ".join(map(day_words, own.thin[:_NAMED])) + (" and more" if len(own.thin) > _NAMED else "")
        gap = f"{HELD_HOURS} hours or more in a row without a reading"
        told.notes.append(
            counted(
                len(own.thin),
                f"One day has {gap}, so its lowest and highest are not known yet; it counts once a file brings the rest: {named}.",
                f"days have {gap}, so their lowest and highest are not known yet; they count once a file brings the rest: {named}.",
            )
        )
    return told


# -- what is odd about it ------------------------------------------------------------------------------------------------


def doubt_of_air(told: AirTold) -> str:
    """Why the unit of a file may be the other one; empty where it need not be asked."""
    if told.days:
        mean = sum(low + high for low, high in told.days.values()) / (2 * len(told.days))
    elif len(told.readings):
        mean = float(told.readings.celsius().mean())
    else:
        return ""
    return doubt_of_unit(mean, told.form.unit, LIKELY_C)


def unlikely_days(days: dict[date, tuple[float, float]]) -> list[str]:
    """Days that a thermometer that works hardly tells: a lowest or a highest that never moves, weeks that come again."""
    if not days:
        return []
    lowest, highest = (_series({day: air[place] for day, air in days.items()}) for place in (0, 1))
    words = [
        f"The {name} is {one.temp_c:g} °C on {one.readings} days in a row, from {day_words(_day(one.begin))} to "
        f"{day_words(_day(one.end))}: was the thermometer read, and set again?"
        for name, series in (("lowest", lowest), ("highest", highest))
        for one in find_stuck(series)
    ]  # fmt: skip
    # A day as one number: both of its temperatures, side by side.
    both = _series({day: (low + 100) * 100_000 + high + 100 for day, (low, high) in days.items()})
    return words + [
        f"From {day_words(_day(span[0]))} to {day_words(_day(span[1]))} each day says what the day a week before it said: was a week "
        "copied?"
        for days_apart, span in find_repeats(both)
        if days_apart > 1
    ]


def check_likely(
    told: dict[date, tuple[float, float]], stood: dict[date, tuple[float, float]], *, sure: bool
) -> None:
    """Ask about days that are unlikely beside those that stand around them. Raises `AirUnlikely`."""
    before = unlikely_days(stood)
    found = [words for words in unlikely_days({**stood, **told}) if words not in before]
    if found and not sure:
        raise AirUnlikely(" ".join(found), field="stuck")


def _series(values: dict[date, float]) -> Readings:
    ordered = sorted(values.items())
    return make_readings(
        [number_of(day) * DAY_SECONDS for day, _ in ordered], [round(value * 100) for _, value in ordered],
        [0] * len(ordered), [DRY] * len(ordered), temp_decimals=2,
    )  # fmt: skip


def _day(second: int) -> date:
    return instant_of(second).date()
