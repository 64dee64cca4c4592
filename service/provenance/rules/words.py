"""Small words of sentences: dates, numbers, lists."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from service.lib.clock import day_words

LATE = timedelta(hours=1)


def day(on: date) -> str:
    """`3 July 2025`."""
    return day_words(on)


def count(number: int, thing: str, things: str = "") -> str:
    """`1 stick`, `4 sticks`, `no sticks`."""
    return f"{number or 'no'} {thing if number == 1 else things or thing + 's'}"


def listed(parts: Sequence[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    return " and ".join([", ".join(parts[:-1]), parts[-1]]) if len(parts) > 1 else "".join(parts)


def sentence(text: str) -> str:
    """With a capital at its beginning and a full stop at its end."""
    text = text.strip()
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text[-1] in ".!?" else ".")


def is_late(done_at: datetime, recorded_at: datetime) -> bool:
    """Whether something was written down so long after it was done that both times must be told."""
    return recorded_at - done_at > LATE
