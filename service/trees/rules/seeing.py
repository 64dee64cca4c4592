"""When a tree counts as seen: in leaf within a year, in a round within a few months. Counted so, it needs no hemisphere."""

from __future__ import annotations

import re
from datetime import date, timedelta

from service.lib.clock import day_words

# Wood is cut when leaves are down, so a look of the last growing season is at most a year old by then, and one of the
# season before is older. In leaf, a year after the last look the next one is due. Common practice, no source.
SEEN_FOR_MONTHS = 12
# A deciduous tree is bare for about five months, and no fruit ripens twice within them: an older look is of another season
# (common practice, no source).
ROUND_LASTS = timedelta(days=150)
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
