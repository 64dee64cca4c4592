"""When a tree was planted and felled, and which varieties it can carry."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from uuid import UUID

from service.catalogue.rules import CultivarFacts
from service.lib.errors import Refused, Unusable

EARLIEST_YEAR = 1400  # older fruit trees are known, but none whose year is


class NotItsKind(Unusable):
    title = "This variety belongs to another kind"
    todo = "Choose a variety of the tree's own kind."


class TreeFelled(Refused):
    title = "This tree was felled"
    todo = "Nothing can be cut from it any more. If the wrong tree was marked as felled, correct its record first."


class AlreadyFinished(Refused):
    title = "Nothing of this tree waits to be finished"
    todo = "Change what is wrong on its page; a wrong name is put right with the reason."


def can_finish_tree(*, provisional: bool) -> bool:
    return provisional


def check_can_finish_tree(number: int, *, provisional: bool) -> None:
    """Raises `AlreadyFinished`."""
    if not can_finish_tree(provisional=provisional):
        raise AlreadyFinished(f"Tree {number} was finished before.", tree=number)


def check_planted_year(year: int | None, today: date) -> None:
    """A year of planting is often a guess, but it has begun."""
    if year is not None and not EARLIEST_YEAR <= year <= today.year:
        raise Unusable(
            f"A tree cannot be planted in {year}.",
            field="planted_year",
            earliest=EARLIEST_YEAR,
            latest=today.year,
        )


def is_in_the_ground(felled_on: date | None, day: date) -> bool:
    """Whether wood can be cut on this day; on the day of felling it can."""
    return felled_on is None or day <= felled_on


def check_varieties(taxon_id: UUID, wanted: Iterable[UUID], known: Mapping[UUID, CultivarFacts]) -> None:
    """Every variety a tree carries is of its kind's genus: one variety on a wrong kind is a slip of the finger."""
    for cultivar_id in wanted:
        if known[cultivar_id].taxon_id != taxon_id:
            name = known[cultivar_id].page_name
            raise NotItsKind(
                f"{name} is a variety of {known[cultivar_id].botanical_name}.", field="cultivar_id"
            )
