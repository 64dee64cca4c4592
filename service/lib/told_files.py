"""What a file of readings holds, all that is odd about it counted and named, before anything is written."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from service.lib.clock import CLOCK_SLACK, day_words
from service.lib.counted import counted
from service.lib.logged import Span, Stuck, find_gaps, find_repeats, find_stuck, usual_step
from service.lib.logger_files import FileForm, FileReport, read_file
from service.lib.plain_csv import PlainTable, read_table
from service.lib.readings import Readings, merge, no_readings
from service.lib.sent_files import digest_of_file
from service.lib.temperatures import fault_of_temperature, humidity_fault
from service.lib.whole_times import instant_of, second_of

# So many rows at the same instants with other values are hardly chance.
LEAST_OF_TWO, SHARE_OF_TWO = 10, 0.05


@dataclass(frozen=True)
class Possible:
    """Between which limits readings can be true, and of what they are."""

    coldest_c: float
    warmest_c: float
    of: str
    dampest_pct: float = 105.0


@dataclass(frozen=True)
class FileTold:
    """A file read by a form: its readings in order, each instant once, and what was met on the way."""

    sha256: str
    form: FileForm
    readings: Readings
    line_of: Mapping[int, int]  # by instant
    report: FileReport
    same_within: int = 0
    differing_within: tuple[tuple[int, str], ...] = ()  # line, what
    gaps: Sequence[Span] = ()
    stuck: Sequence[Stuck] = ()
    repeats: Sequence[tuple[int, Span]] = field(default_factory=tuple)

    @property
    def copied(self) -> list[tuple[int, Span]]:
        """Of the stretches that say what was said before, each once: where every day is the same, weeks are too."""
        days = [span for lag, span in self.repeats if lag == 1]
        return [
            (lag, span)
            for lag, span in self.repeats
            if lag == 1 or not any(begin <= span[0] and span[1] <= end for begin, end in days)
        ]


def tell_file(
    raw: bytes, form: FileForm, now: datetime, possible: Possible, table: PlainTable | None = None
) -> FileTold:
    """Read a file by a form. Raises what `read_table` and `read_file` raise."""
    import numpy as np

    found = read_file(table or read_table(raw), form)
    report, readings = found.report, found.readings
    lines = np.array(found.lines, np.int64)
    wrong = faults_of(readings, now, possible)
    for place, words in wrong:
        report.fault(found.lines[place], words)
    report.faulty.sort()
    sound = np.ones(len(readings), bool)
    sound[[place for place, _ in wrong]] = False
    readings, lines = readings.pick(sound), lines[sound]
    once = merge(no_readings(), readings)
    differing = tuple(
        (int(lines[place]), "another value for the same time stands above") for place in once.differing
    )
    first = np.unique(readings.at, return_index=True)[1]
    line_of = dict(zip(readings.at[first].tolist(), lines[first].tolist(), strict=True))
    kept = once.readings
    return FileTold(
        digest_of_file(raw), form, kept, line_of, report, once.same, differing, find_gaps(kept.at), find_stuck(kept), find_repeats(kept)
    )  # fmt: skip


def faults_of(readings: Readings, now: datetime, possible: Possible) -> list[tuple[int, str]]:
    """Places of readings that cannot be true, and why."""
    import numpy as np

    celsius, percent = readings.celsius(), readings.percent()
    given = readings.temp / 10**readings.temp_decimals
    latest = second_of(now + CLOCK_SLACK)
    strange = (celsius < possible.coldest_c) | (celsius > possible.warmest_c)
    strange |= (percent < 0) | (percent > possible.dampest_pct)
    limits = (possible.coldest_c, possible.warmest_c)
    found: list[tuple[int, str]] = []
    for place in np.flatnonzero(strange | (readings.at > latest)).tolist():
        words = fault_of_temperature(float(celsius[place]), float(given[place]), limits, possible.of)
        if not words and not np.isnan(percent[place]):
            words = humidity_fault(float(percent[place]), possible.dampest_pct)
        found.append((place, words or "this time has not come yet"))
    return found


def copied_words(days: int, span: Span) -> str:
    """Both ends of a stretch that says again what was said before."""
    first, last = (day_words(instant_of(at).date()) for at in span)
    when = f"On {first}" if first == last else f"From {first} to {last}"
    return f"{when} each reading says exactly what the one a {'day' if days == 1 else 'week'} before it said"


_SAID_AGAIN = (
    "One row says again what another row said, and counts once.",
    "rows say again what another row said, and count once.",
)


def notes_of(told: FileTold) -> list[str]:
    """What was met in a file, in words, for whoever looks at it before and after."""
    report, notes = told.report, []
    if report.newest_first:
        notes.append("The newest row stands first; the rows were turned round.")
    notes += [
        counted(rows, one, many)
        for rows, one, many in (
            (report.out_of_order, "One row stood out of order and was put in order.", "rows stood out of order and were put in order."),
            (told.same_within, *_SAID_AGAIN),
            (report.without_value, "One row has no temperature and was passed over.", "rows have no temperature and were passed over."),
            (report.of_others, "One row is of another logger and was passed over.", "rows are of other loggers and were passed over."),
        )
        if rows
    ]  # fmt: skip
    notes += [f"The hour that happens twice ({when}) was told apart by its order." for when in report.twice]
    notes += [
        f"The hour that happens twice ({when}) is there once, and was taken for the first time round. A logger that never changes its "
        "clock wants a fixed offset as its zone."
        for when in report.once
    ]  # fmt: skip
    notes += [f"{copied_words(days, span)}: was something copied?" for days, span in told.copied]
    if looks_like_two(told):
        notes.append("It looks as if two loggers were in one file: many times come twice with other values.")
    return notes


def said_again(rows: int) -> str:
    return counted(rows, *_SAID_AGAIN)


def left_out(rows: int) -> str:
    return counted(
        rows, "One row that cannot be used was left out.", "rows that cannot be used were left out."
    )


def looks_like_two(told: FileTold) -> bool:
    differing = len(told.differing_within)
    return differing >= LEAST_OF_TWO and differing >= SHARE_OF_TWO * max(len(told.readings), 1)


def summary_of(readings: Readings) -> dict[str, Any]:
    """From when to when, how often, and how cold and warm."""
    if not len(readings):
        return {}
    celsius = readings.celsius()
    return {
        "first_at": instant_of(readings.at[0]), "last_at": instant_of(readings.at[-1]), "lowest_c": round(float(celsius.min()), 2),
        "highest_c": round(float(celsius.max()), 2), "mean_c": round(float(celsius.mean()), 2),
        "step_minutes": usual_step(readings.at) / 60,
    }  # fmt: skip
