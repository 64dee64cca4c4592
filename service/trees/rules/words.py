"""Words of trees: who may cut, how sure a name is, what a look can say, what a stop is."""

from __future__ import annotations

from enum import StrEnum


class MayCut(StrEnum):
    YES = "yes"
    ASK = "ask"
    NO = "no"


class Identity(StrEnum):
    """How sure the club is of a tree's name."""

    DOCUMENTED = "documented"
    FRUIT_COMPARED = "fruit_compared"
    AS_TOLD = "as_told"
    UNKNOWN = "unknown"


class CheckKind(StrEnum):
    LEAF = "leaf"
    FRUIT = "fruit"


class CheckResult(StrEnum):
    HEALTHY = "healthy"
    SYMPTOM = "symptom"
    TRUE = "true"
    WRONG = "wrong"
    NOT_SEEN = "not_seen"


class StopReason(StrEnum):
    HEALTH = "health"
    NAME = "name"
    RIGHTS = "rights"


class StopState(StrEnum):
    SUSPECTED = "suspected"
    CONFIRMED = "confirmed"
    CLEARED = "cleared"


class NameChange(StrEnum):
    """Why a tree has another name now."""

    WRONG = "wrong"  # it never was what it was called: all that took its name from it is put right
    TOPWORKED = "topworked"  # it bears another variety since: what was cut before keeps its name
