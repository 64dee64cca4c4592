"""When a tree counts as seen: in leaf within a year, in a round within a few months. Counted so, it needs no hemisphere."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from service.lib.clock import day_words

# Wood is cut when leaves are down, so a look of the last growing season is at most a year old by then, and one of the
# season before is older. In leaf, a year after the last look the next one is due. Common practice, no source.
SEEN_FOR_MONTHS = 12
# A deciduous tree is bare for about five months, and no fruit ripens twice within them: an older look is of another season
# (common practice, no source).
ROUND_LASTS = timedelta(days=150)
TROPIC = 23.5  # degrees; between the tropics no month is bare
POLAR_CIRCLE = 90 - TROPIC  # from there on a day comes on which the sun does not set
_NUMBER = re.compile(r"([0-9]{1,9})")
_ORDINALS = "first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth thirteenth fourteenth fifteenth".split()
_ORDINAL = re.compile(rf"\b({'|'.join(_ORDINALS)})\b")


def seen_until(seen_on: date) -> date:
    """The last day on which a look in leaf still says how the tree is."""
    year, month = seen_on.year + SEEN_FOR_MONTHS // 12, seen_on.month
    leap_day = month == 2 and seen_on.day == 29
    return date(year, month, 28) if leap_day else seen_on.replace(year=year)


def is_seen_in_leaf(seen_on: date | None, day: date) -> bool:
    return seen_on is not None and day <= seen_until(seen_on)


def not_seen_words(seen_on: date | None, day: date) -> str:
    """`not seen in leaf since 3 May 2025`, or nothing where the tree was seen of late."""
    if is_seen_in_leaf(seen_on, day):
        return ""
    return f"not seen in leaf since {day_words(seen_on)}" if seen_on else "never seen in leaf"


def round_begins(day: date) -> date:
    """From when a look counts as one of the season in which this day lies."""
    return day - ROUND_LASTS


# Deciduous fruit trees stand bare in the cold months of their own hemisphere (common practice, no source).
BARE_MONTHS = {True: frozenset({6, 7, 8}), False: frozenset({12, 1, 2})}


def is_beyond_polar_circle(latitude: float | None) -> bool:
    return latitude is not None and abs(latitude) > POLAR_CIRCLE


def site_warnings(latitude: float | None) -> list[str]:
    """What cannot be reckoned of a site by where it lies, and what to do about it; nothing where all can."""
    if latitude is None:
        return [
            (
                "Where it lies is not told, so daylight, winter and chill cannot be reckoned here: tell its latitude and longitude, one "
                "decimal is enough. Until then go by your eyes on leaves and buds."
            )
        ]
    if is_beyond_polar_circle(latitude):
        return [
            (
                "It lies beyond the polar circle: on days on which the sun does not rise or does not set, hours cannot be told from a "
                "lowest and a highest, and their mean stands in. Chill is a rough guess here: bring the air by the hour, go by your "
                "eyes, or put its latitude right."
            )
        ]
    if abs(latitude) <= TROPIC:
        return [
            (
                "It lies between the tropics, where the sun makes no winter: chill is not counted here. Go by your eyes on leaves and "
                "buds, or put its latitude right."
            )
        ]
    return []


def saved_words(saved: str, warnings: Sequence[str]) -> str:
    """What is told once a site is saved: that it is, and in short what cannot be reckoned there."""
    return " ".join([saved, *(f"{words.partition(': ')[0]}." for words in warnings)])


def is_southern(zone: str, year: int, latitude: float | None = None) -> bool | None:
    """By the latitude, else by when clocks go forward; not known where neither tells."""
    if latitude is not None and abs(latitude) > TROPIC:
        return latitude < 0
    january, july = (
        datetime(year, month, 1, 12, tzinfo=UTC).astimezone(ZoneInfo(zone)).utcoffset() for month in (1, 7)
    )
    if january is None or july is None or january == july:
        return None
    # Dublin’s law calls winter the exception; its offsets say the same as London’s.
    return january > july


def bare_words(seen_on: date, zone: str, latitude: float | None = None) -> str:
    """What to ask of a look in leaf on a day on which most fruit trees stand bare; nothing on another day."""
    southern = is_southern(zone, seen_on.year, latitude)
    if southern is None or seen_on.month not in BARE_MONTHS[southern]:
        return ""
    return (
        f"In {seen_on:%B} most fruit trees stand bare, and a bare tree hides most diseases: was it in leaf on {day_words(seen_on)}?"
        " If not, take the look back, or write it down with the day it was in leaf."
    )


def walking_key(where_on_site: str, number: int) -> tuple[int, list[tuple[bool, int, str]], int]:
    """Trees by row and position as told, `row 2, first` before `row 10`; then those with a place in words; then by number."""
    told = _ORDINAL.sub(lambda word: str(_ORDINALS.index(word[0]) + 1), where_on_site.casefold())
    parts = [part.strip() for part in _NUMBER.split(told) if part.strip()]
    numbers = [bool(_NUMBER.fullmatch(part)) for part in parts]
    key = [
        (is_number, int(part) if is_number else 0, part)
        for part, is_number in zip(parts, numbers, strict=True)
    ]
    return 0 if any(numbers) else 1 if parts else 2, key, number
