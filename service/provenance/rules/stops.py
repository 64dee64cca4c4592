"""Stops over every stage: how far back they reach, what they say to somebody with the wood in hand, what is refused."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from uuid import UUID

from service.lib.errors import NotAllowed, Refused, Unusable
from service.members.rules import May
from service.provenance.rules.words import day
from service.trees.rules import StopReason, StopState

MOST_WINTERS = 100


class Why(StrEnum):
    """Why a bundle is bound by a stop."""

    ORIGIN = "origin"  # it came of the wood in question
    SAME_SITE = "same_site"  # of another host of the agent on that site
    SAME_ROUND = "same_round"  # cut later on the same round
    BOX_MATE = "box_mate"  # lay in the same box
    EARLIER_WINTER = "earlier_winter"  # cut of that tree before the winters that are bound at once
    LATE_ENTRY = "late_entry"  # written down when its tree was stopped already
    PROPOSED = "proposed"  # a person decided so


class NothingToStop(Unusable):
    title = "A stop needs a tree or a bundle"
    todo = "Name the tree or the bundle where it was found: one of the two."


class ReleaseStopsShort(Refused):
    title = "The bundle it was split from is bound still"
    todo = "Release that bundle: what was split from it comes free with it. Its own wood cannot be free while it is not."


class NothingBound(Refused):
    title = "This stop binds none of these bundles"
    todo = "Read the stop again: they were released before, or were never bound by it."


class NotYoursToConfirm(NotAllowed):
    title = "A finding is confirmed by a health steward"
    todo = "Open the stop as suspected; it binds the wood just the same."


@dataclass(frozen=True)
class StopOnWood:
    """An open stop as far as a scan shows it."""

    reason: StopReason
    state: StopState
    since: date


def winters_to_bind(reason: StopReason, told: int | None, of_club: int) -> int | None:
    """How many winters before this one a stop reaches back at once; None: all there ever were.

    A disease came to a tree some time; a wrong name or a right is as old as the tree.
    """
    if told is not None:
        return told
    return of_club if reason is StopReason.HEALTH else None


def bound_since(today: date, winters: int | None) -> date | None:
    """The first day whose cuts are bound: so many years back and one more, to the day, so that the winter of the day
    itself and every earlier one asked for are whole on either hemisphere.
    """
    if winters is None:
        return None
    year = today.year - winters - 1
    return (
        today.replace(year=year, day=28) if (today.month, today.day) == (2, 29) else today.replace(year=year)
    )


def keep_until(today: date, winters: int) -> date:
    """The last day on which a recall may still need to reach somebody who held wood until today."""
    year = today.year + winters + 1
    return (
        today.replace(year=year, day=28) if (today.month, today.day) == (2, 29) else today.replace(year=year)
    )


def can_confirm(rights: frozenset[May], state: StopState) -> bool:
    """Whether somebody with these rights may open a stop in this state."""
    return state is StopState.SUSPECTED or May.RELEASE in rights


def check_can_confirm(rights: frozenset[May], state: StopState) -> None:
    """Raises `NotYoursToConfirm`."""
    if not can_confirm(rights, state):
        raise NotYoursToConfirm("This needs the right 'release'.", right=May.RELEASE.value)


_SAYS = {
    (StopReason.HEALTH, StopState.SUSPECTED): "a disease or pest is suspected",
    (StopReason.HEALTH, StopState.CONFIRMED): "a disease or pest was found",
    (StopReason.NAME, StopState.SUSPECTED): "its name is in doubt",
    (StopReason.NAME, StopState.CONFIRMED): "its name is wrong",
    (StopReason.RIGHTS, StopState.SUSPECTED): "somebody may have a right to it",
    (StopReason.RIGHTS, StopState.CONFIRMED): "somebody has a right to it",
}
_TODO = {
    StopReason.HEALTH: (
        "Do not cut, graft, give away or move this wood, and throw nothing of it away: not on the compost, not into a bin, not to a "
        "meeting. Tell the club, and wash your hands and tools. The word of your plant-health authority comes first."
    ),
    StopReason.NAME: "Do not graft it or give it away under this name. Tell the club if you have grafted it already.",
    StopReason.RIGHTS: "Do not graft it or give it away. Tell the club; the owner of the right decides.",
}
_GRAVITY = {StopReason.HEALTH: 0, StopReason.RIGHTS: 1, StopReason.NAME: 2}


def gravest(stops: Sequence[StopOnWood]) -> StopOnWood | None:
    """Health binds hardest, then rights, then names; among these, what is confirmed."""
    return min(
        stops, key=lambda s: (_GRAVITY[s.reason], s.state is not StopState.CONFIRMED, s.since), default=None
    )


def stop_says(stop: StopOnWood) -> str:
    """`a disease or pest is suspected, since 4 May 2026`: never which, for a stranger."""
    return f"{_SAYS[stop.reason, stop.state]}, since {day(stop.since)}"


def stop_todo(reason: StopReason) -> str:
    return _TODO[reason]


def check_can_release(
    wanted: AbstractSet[UUID], bound: AbstractSet[UUID], parents: Mapping[UUID, UUID]
) -> None:
    """Raises `NothingBound` or `ReleaseStopsShort`: a piece of bound wood cannot be free while the whole is not."""
    if not wanted & bound:
        raise NothingBound("There is nothing to release.", bundle_ids=sorted(str(one) for one in wanted))
    for one in sorted(wanted):
        parent = parents.get(one)
        if parent is not None and parent in bound and parent not in wanted:
            raise ReleaseStopsShort(
                "It was split from a bundle that stays bound.", bundle_id=str(one), parent_id=str(parent)
            )


def can_release(wanted: AbstractSet[UUID], bound: AbstractSet[UUID], parents: Mapping[UUID, UUID]) -> bool:
    try:
        check_can_release(wanted, bound, parents)
    except Refused:
        return False
    return True
