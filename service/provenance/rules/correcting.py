"""What a correction may not do: a cut cannot lie after what was done with its wood."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from uuid import UUID

from service.lib.codes import group_code
from service.lib.errors import Refused
from service.provenance.rules.words import day

_DEEDS = {
    "put_away": "was put away",
    "looked_at": "was looked at",
    "split_out": "was split",
    "handed_out": "was handed over in part",
    "table_out": "went out to the open table",
    "table_back": "was counted back from the open table",
    "given_outside": "was given outside the club",
    "returned": "came back",
    "cut_to_length": "was cut to length",
    "grafted": "was grafted with",
    "graft_undone": "had a graft taken back",
    "discarded": "was thrown away in part",
    "corrected": "was counted",
}


def deed_words(what: str) -> str:
    """What was done with a bundle: `was put away`."""
    return _DEEDS.get(what, f"has the entry “{what.replace('_', ' ')}”")


class AfterItsWoodWasUsed(Refused):
    title = "The wood was handled before that time"
    todo = "Choose an earlier time. If the later deed has the wrong time, say so in the note of the cut: the ledger is not rewritten."


class GrownOfThisWood(Refused):
    title = "That tree was grown of this very wood"
    todo = "Choose the tree the wood was cut from; or correct the graft that the tree was grown of first."


def can_come_of(tree_id: UUID, grown: Collection[UUID]) -> bool:
    return tree_id not in grown


def check_not_grown_of_it(tree_id: UUID, grown: Collection[UUID]) -> None:
    """No wood is cut from a tree that grew of it. Raises `GrownOfThisWood`."""
    if not can_come_of(tree_id, grown):
        raise GrownOfThisWood("A tree cannot be older than the wood it grew of.", field="tree_id")


def can_begin_at(done_at: datetime, first_at: datetime | None) -> bool:
    return first_at is None or done_at <= first_at


def check_can_begin_at(
    done_at: datetime, first_at: datetime | None, what: str = "", code: str | None = None
) -> None:
    """Raises `AfterItsWoodWasUsed`, and says what was done first and when, in the zone `first_at` is told in."""
    if can_begin_at(done_at, first_at) or first_at is None:
        return
    bundle = f"Bundle {group_code(code)}" if code else "A bundle of it"
    raise AfterItsWoodWasUsed(
        f"{bundle} {deed_words(what)} at {first_at:%H:%M} on {day(first_at.date())}.",
        field="done_at",
        first_at=first_at.isoformat(),
        what=what,
        code=code,
    )
