"""Which bundles should be looked at next, and why."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from enum import StrEnum
from uuid import UUID

from service.lib.counted import several
from service.storage.rules.looks import COMMON_PRACTICE, Call

# A look into every box once in four weeks, at the bundle that was looked at longest ago, and at every bundle that lies in
# none; where something was found, at that bundle after one. Common practice, no source.
LOOK_EVERY_DAYS = 28
LOOK_AGAIN_DAYS = 7


class DueWhy(StrEnum):
    """Why a look is due, the most urgent first."""

    MOULD_BESIDE = "mould_beside"
    LOOK_AGAIN = "look_again"
    LONG_AGO = "long_ago"
    NEVER = "never"


@dataclass(frozen=True)
class LookedAfter:
    """A bundle that lies in a store, its last look, and mould that was found beside it since."""

    bundle_id: UUID
    cut_on: date
    last_seen_on: date | None = None
    worst: Call = Call.FINE
    mould_seen_on: date | None = None  # in its box, after its own last look
    mould_of: str = ""
    box: UUID | None = None


@dataclass(frozen=True)
class Due:
    """A look that is due since a day, with the reason in words and how its rule is known."""

    bundle_id: UUID
    why: DueWhy
    due_on: date
    words: str
    mark: str = COMMON_PRACTICE


def is_due(wood: LookedAfter, today: date) -> bool:
    return due_of(wood, today) is not None


def due_of(wood: LookedAfter, today: date) -> Due | None:
    """What is due of one bundle; the most urgent reason where there are several."""
    if wood.mould_seen_on is not None:
        words = f"mould was found on {wood.mould_of or 'a bundle'} in its box"
        return Due(wood.bundle_id, DueWhy.MOULD_BESIDE, wood.mould_seen_on, words)
    since = wood.last_seen_on or wood.cut_on
    days = (today - since).days
    if wood.last_seen_on is None:
        why, words = DueWhy.NEVER, f"not looked at since it was cut, {several(days, 'day')} ago"
    elif wood.worst is not Call.FINE:
        why, words = DueWhy.LOOK_AGAIN, f"something was found {several(days, 'day')} ago"
    else:
        why, words = DueWhy.LONG_AGO, f"last looked at {several(days, 'day')} ago"
    wait = LOOK_AGAIN_DAYS if why is DueWhy.LOOK_AGAIN else LOOK_EVERY_DAYS
    return (
        None if days < wait else Due(wood.bundle_id, why, date.fromordinal(since.toordinal() + wait), words)
    )


def plan_due(wood: Iterable[LookedAfter], today: date) -> list[Due]:
    """All that is due, the most urgent reason first and within it the longest overdue.

    What lies together in a box keeps alike: one bundle stands for all of them, so that nobody is sent to three hundred.
    """
    order, lying = list(DueWhy), list(wood)
    found = [due for each in lying if (due := due_of(each, today)) is not None]
    boxed = {each.bundle_id for each in lying if each.box is not None}
    alone: list[Due] = []
    together: list[Due] = []
    for due in found:
        (together if due.why in _BY_BOX and due.bundle_id in boxed else alone).append(due)
    kept = alone + _one_of_each_box(together, lying, today)
    return sorted(kept, key=lambda due: (order.index(due.why), due.due_on, due.bundle_id))


_BY_BOX = frozenset({DueWhy.LONG_AGO, DueWhy.NEVER})


def _one_of_each_box(found: list[Due], lying: list[LookedAfter], today: date) -> list[Due]:
    mates: dict[UUID, list[LookedAfter]] = {}
    for each in lying:
        if each.box is not None:
            mates.setdefault(each.box, []).append(each)
    due_of_bundle = {due.bundle_id: due for due in found}
    kept = []
    for of_box in mates.values():
        waiting = [due_of_bundle[each.bundle_id] for each in of_box if each.bundle_id in due_of_bundle]
        newest = max((each.last_seen_on for each in of_box if each.last_seen_on), default=None)
        if not waiting or (newest and (today - newest).days < LOOK_EVERY_DAYS):
            continue
        first = min(waiting, key=lambda due: (due.due_on, due.bundle_id))
        alone = len(of_box) == 1
        words = first.words if alone else f"{first.words}; it stands for the {len(of_box)} in its box"
        kept.append(replace(first, words=words))
    return kept


@dataclass(frozen=True)
class LookToCome:
    """The day from which a look at a bundle is due, if nobody looks before; it may lie behind us."""

    bundle_id: UUID
    why: DueWhy
    on: date


def plan_looks(wood: Iterable[LookedAfter]) -> list[LookToCome]:
    """When each look falls due, the earliest first; of what lies together in a box one bundle stands for all, as in `plan_due`."""
    lying = list(wood)
    looks: list[LookToCome] = []
    boxes: dict[UUID, list[Due]] = {}
    for each in lying:
        due = due_of(each, date.max)
        if due is None:
            continue
        if each.box is not None and due.why in _BY_BOX:
            boxes.setdefault(each.box, []).append(due)
        else:
            looks.append(LookToCome(due.bundle_id, due.why, due.due_on))
    for box, waiting in boxes.items():
        first = min(waiting, key=lambda due: (due.due_on, due.bundle_id))
        newest = max(
            (each.last_seen_on for each in lying if each.box == box and each.last_seen_on), default=None
        )
        again = date.min if newest is None else newest + timedelta(days=LOOK_EVERY_DAYS)
        looks.append(LookToCome(first.bundle_id, first.why, max(first.due_on, again)))
    return sorted(looks, key=lambda look: (look.on, look.bundle_id))


def worst_of(calls: Iterable[Call]) -> Call:
    order = list(Call)
    return max(calls, key=order.index, default=Call.FINE)


@dataclass(frozen=True)
class MouldBeside:
    """Mould that was seen on one bundle while another lay in the same box."""

    bundle_id: UUID
    of_code: str
    seen_at: datetime
    recorded_at: datetime | None = None
