"""Counting a shelf: what was scanned against what should lie there."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

from service.lib.errors import NotFound, Refused, Unusable


class Found(StrEnum):
    PRESENT = "present"
    NOT_EXPECTED = "not_expected"
    MISSING = "missing"


class NoSuchCount(NotFound):
    title = "There is no such count"


class CountEnded(Refused):
    title = "This count was ended"
    todo = "Begin another count of the same shelf or box."


@dataclass(frozen=True)
class Counted:
    """Bundles of a count, each once: there as they should be, there and not expected, expected and not scanned."""

    present: frozenset[UUID]
    not_expected: frozenset[UUID]
    missing: frozenset[UUID]


def plan_count(expected: Iterable[UUID], scanned: Iterable[UUID]) -> Counted:
    """Present and missing make up what was expected; present and not expected, what was scanned."""
    should, seen = frozenset(expected), frozenset(scanned)
    return Counted(should & seen, seen - should, should - seen)


class NoTagSeen(Unusable):
    title = "No tag was found in this picture"
    todo = "Go closer, so that a tag is at least a tenth as wide as the picture, let the light fall from the side, and take it again."


class TooManySeen(Unusable):
    title = "There are too many tags in this picture"
    todo = "Take two pictures, each of a part."


MOST_SEEN = 200
FOREIGN_WORDS = "a code of {host}, not of this club"
STRANGE_WORDS = "no tag of this club"


def check_seen(symbols: int) -> None:
    """Raises `NoTagSeen`, `TooManySeen`."""
    if not symbols:
        raise NoTagSeen("There may be tags in it that are too small, blurred or bent.", field="picture")
    if symbols > MOST_SEEN:
        raise TooManySeen(f"{symbols} were found; {MOST_SEEN} are read at once.", field="picture")


def check_count_open(ended: bool) -> None:
    """Raises `CountEnded`."""
    if ended:
        raise CountEnded("What was found then stands as it was written down.")


def as_box(name: str) -> str:
    """`box A`; a name that says `Box` itself stays as it is."""
    return name if name.casefold().startswith("box") else f"box {name}"
