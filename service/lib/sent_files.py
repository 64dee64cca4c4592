"""A file of measurements from being sent to being taken, and what must be said before it may be."""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Generic, TypeVar

from service.lib.counted import counted
from service.lib.errors import Refused, Unusable

WAITS_DAYS = 14  # an unsettled file goes after that


class FileState(StrEnum):
    WAITING = "waiting"
    TAKEN = "taken"
    TAKEN_BACK = "taken_back"
    DROPPED = "dropped"


# What may follow what.
FILE_STEPS: Mapping[FileState, frozenset[FileState]] = {
    FileState.WAITING: frozenset({FileState.TAKEN, FileState.DROPPED}),
    FileState.TAKEN: frozenset({FileState.TAKEN_BACK}),
    FileState.TAKEN_BACK: frozenset(),
    FileState.DROPPED: frozenset(),
}


class FileSettled(Refused):
    title = "This file was settled before"
    todo = "Look at its page: what was taken from it stands there, and can be taken back."


class FormMissing(Unusable):
    title = "Nobody said yet which column is what"
    todo = "Choose the columns, the unit and the zone first."


class FileNeedsAnswers(Unusable):
    title = "The file asks something first"
    todo = "Answer below, or mend the file and send it again."


class NothingToTake(Unusable):
    title = "The file has nothing that can be taken"
    todo = "Look whether the right columns were chosen."


def pack_file(raw: bytes) -> bytes:
    return zlib.compress(raw, 3)


def unpack_file(content: bytes) -> bytes:
    return zlib.decompress(content)


def digest_of_file(raw: bytes) -> str:
    return hashlib.sha256(raw).hexdigest()


def can_step(state: FileState, to: FileState) -> bool:
    return to in FILE_STEPS[state]


def check_can_step(state: FileState, to: FileState) -> None:
    if not can_step(state, to):
        words = {
            FileState.WAITING: "It waits to be taken.", FileState.TAKEN: "It was taken.", FileState.DROPPED: "It was dropped.",
            FileState.TAKEN_BACK: "It was taken back.",
        }  # fmt: skip
        raise FileSettled(words[state], state=state.value)


@dataclass(frozen=True)
class FileQuestions:
    """What a file leaves to a person: rows that cannot be used, stretches that look stuck or copied, values that differ."""

    faulty: int = 0
    stuck: int = 0
    differing: int = 0
    several: bool = False
    doubt: str = ""
    rows: str = "readings"  # what its rows become
    odd: str = "stretches that never move"
    copied: int = 0


def check_answers(
    asked: FileQuestions, *, leave_faulty: bool, stuck_told: bool, differing_told: bool, told: Sequence[str], sure: bool = False,
    copied_told: bool = False,
) -> None:  # fmt: skip
    """Refuse a file whose questions are not answered. Raises `FileNeedsAnswers`."""
    missing = []
    if asked.doubt and not sure:
        missing.append(("sure", f"{asked.doubt} Mend the unit, or say that it is right"))
    if asked.faulty and not leave_faulty:
        words = counted(
            asked.faulty, "one row cannot be used: say that it is left out", "rows cannot be used: say that they are left out"
        )  # fmt: skip
        missing.append(("leave_faulty", words))
    if asked.stuck and not stuck_told:
        missing.append(("stuck", f"say whether the {asked.odd} are right"))
    if asked.copied and not copied_told:
        missing.append(("copied", "say whether what says again what was said before is right"))
    if asked.differing and not differing_told:
        else_than = "something else than what stands, or than a row above: say which is right"
        words = counted(
            asked.differing, f"one {asked.rows.removesuffix('s')} says {else_than}", f"{asked.rows} say {else_than}"
        )  # fmt: skip
        missing.append(("where_differing", words))
    if missing:
        raise FileNeedsAnswers(
            "; ".join(words for _, words in missing), field=missing[0][0], rows=list(told), asked=[name for name, _ in missing]
        )  # fmt: skip


Told = TypeVar("Told")


class Prepared(Generic[Told]):
    """What was read of a file before an action that others wait for, in words by which the same request is known again.

    No dataclass: a repeat of a request must look the same whatever became of the file meanwhile, and a plain thing is
    known by its words alone.
    """

    def __init__(self, told: Told, words: str = "a file") -> None:
        self.told, self._words = told, words

    def __str__(self) -> str:
        return self._words
