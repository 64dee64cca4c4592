"""What the pictures are drawn from: plain values, no clock and no database."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class Mark(StrEnum):
    """What a mark on a life line stands for; each has its own shape, and its word is written below."""

    CUT = "cut"
    CAME = "came in"
    STORE = "put away"
    OUT = "taken out"
    LOOK = "looked at"
    WEIGHED = "weighed"
    SPLIT = "split"
    HAND = "handed over"
    BACK = "came back"
    LENGTH = "cut to length"
    COUNT = "counted"
    GRAFT = "grafted"
    TAKE = "take looked at"
    STOP = "stopped"
    FREE = "released"
    GONE = "thrown away"
    LOST = "not reported"


@dataclass(frozen=True)
class Happening:
    """One mark: what, when, and in whose words (for who hovers or listens)."""

    mark: Mark
    at: datetime
    words: str = ""


@dataclass(frozen=True)
class Count:
    """Sticks on hand from an instant on."""

    at: datetime
    sticks: int


@dataclass(frozen=True)
class Expected:
    """The share expected to be alive at an instant, from low to high [0 to 1]. Drawn only where a forecast gives it."""

    at: datetime
    low: float
    high: float


@dataclass(frozen=True)
class Life:
    """The life of one bundle as far as it is recorded."""

    name: str
    happenings: tuple[Happening, ...]
    until: datetime
    counts: tuple[Count, ...] = ()
    expected: tuple[Expected, ...] = ()
    code: str = ""
    stopped: bool = False
    ended: bool = False  # nothing of it is on hand any more
    end_words: str = ""


class Thing(StrEnum):
    TREE = "tree"
    COLLECTION = "collection"
    BUNDLE = "bundle"
    GRAFT = "graft"
    PLANT = "plant"


@dataclass(frozen=True)
class Knot:
    """One thing in a lineage."""

    key: str
    thing: Thing
    title: str
    note: str = ""
    stopped: bool = False
    sticks: int | None = None
    hidden: int = 0  # how many things a folded knot stands for


@dataclass(frozen=True)
class Step:
    """From an earlier thing to a later one."""

    earlier: str
    later: str
    how: str = ""


@dataclass(frozen=True)
class Lineage:
    """Things and steps between them, and the one that is asked about."""

    knots: tuple[Knot, ...]
    steps: tuple[Step, ...]
    focus: str = ""
    title: str = "Lineage"
