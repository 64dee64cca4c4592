"""What is odd about readings that stand, in words: a stuck sensor, days said twice, the other unit. It marks, and leaves all as it is."""

from __future__ import annotations

from itertools import pairwise

from service.lib.clock import minute_words
from service.lib.logged import Stuck, find_repeats, find_stuck
from service.lib.readings import DAY_SECONDS, Readings
from service.lib.temperatures import TempUnit, doubt_of_unit
from service.lib.told_files import copied_words
from service.lib.whole_times import instant_of
from service.storage.rules.reading_files import LIKELY_C

# A week that says what the week before said shows only beside it. Judgement.
LOOK_BACK_DAYS = 15
WHAT_TO_DO = "Look at the logger; leave the stretch out if it is not true."


def stuck_words(one: Stuck) -> str:
    return f"{one.readings} readings of {one.temp_c:g} °C, one like the other"


def doubts_of(new: Readings, around: Readings) -> list[str]:
    """Doubts about readings, held against what stands `around` them, themselves among it; none where nothing is odd."""
    if not len(new):
        return []
    begin, end = int(new.at[0]), int(new.at[-1])
    found = [words for _, words in other_unit(new)]
    found += [
        f"{stuck_words(one)}, from {minute_words(instant_of(one.begin))} to {minute_words(instant_of(one.end))}: "
        f"is the sensor stuck? {WHAT_TO_DO}"
        for one in find_stuck(around)
        if one.end >= begin and one.begin <= end
    ]
    found += [
        f"{copied_words(days, span)}: was something copied? {WHAT_TO_DO}"
        for days, span in find_repeats(around)
        if span[1] >= begin and span[0] <= end
    ]
    return found


def other_unit(readings: Readings) -> list[tuple[tuple[int, int], str]]:
    """Stretches of days whose mean no store has, as from the first reading to the last, and why it may be the other unit."""
    met: list[tuple[int, Readings, TempUnit]] = []
    for day, part in readings.days():
        unit = TempUnit.F if part.is_fahrenheit.mean() > 0.5 else TempUnit.C
        if doubt_of_unit(float(part.celsius().mean()), unit, LIKELY_C):
            met.append((day, part, unit))
    found: list[tuple[tuple[int, int], str]] = []
    while met:
        last = next(
            (at for at, (one, two) in enumerate(pairwise(met)) if _parts(one, two)),
            len(met) - 1,
        )
        run, met = met[: last + 1], met[last + 1 :]
        begin, end = int(run[0][1].at[0]), int(run[-1][1].at[-1])
        count = sum(len(part) for _, part, _ in run)
        mean = sum(float(part.celsius().sum()) for _, part, _ in run) / count
        words = f"{minute_words(instant_of(begin))} to {minute_words(instant_of(end))}: "
        found.append(((begin, end), words + doubt_of_unit(mean, run[0][2], LIKELY_C)))
    return found


def _parts(one: tuple[int, Readings, TempUnit], two: tuple[int, Readings, TempUnit]) -> bool:
    return two[0] != one[0] + 1 or two[2] is not one[2]


def look_back(new: Readings) -> int:
    """From which moment on readings are held against what stands."""
    return int(new.at[0]) - LOOK_BACK_DAYS * DAY_SECONDS
