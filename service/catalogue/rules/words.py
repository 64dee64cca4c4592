"""The catalogue's own words, and who may add to it."""

from __future__ import annotations

from enum import StrEnum

from service.lib.errors import NotAllowed, Refused


class Mark(StrEnum):
    """How a fact is known."""

    PUBLISHED = "published"
    COMMON_PRACTICE = "common practice, no source"
    FROM_MEMORY = "from memory"


class EppoMark(StrEnum):
    """Whether a code was read in the list that gives it; one from memory is never printed."""

    VERIFIED = "verified"
    MEMORY = "memory"


class NotYourWord(NotAllowed):
    title = "Only a steward names a variety for good"
    todo = "Enter it as provisional; a steward will settle the name."


class AlreadySpelled(Refused):
    title = "This name stands already"
    todo = "Use the variety that stands, or add your spelling to it."


def check_may_name(*, provisional: bool, may_edit: bool) -> None:
    """Whoever cuts may enter a name for now; only who keeps the catalogue settles it."""
    if not provisional and not may_edit:
        raise NotYourWord("A variety that is not provisional is entered by a steward or an administrator.")


# From memory: six to eight weeks are the weeks told for whip-and-tongue, taken where no figure was seen.
DEFAULT_VERDICT_WEEKS = (6, 8)


def verdict_weeks(weeks_from: int | None, weeks_to: int | None) -> tuple[int, int]:
    """Weeks after grafting between which a method's take is judged; the default where the method has no figure."""
    if weeks_from is None or weeks_to is None:
        return DEFAULT_VERDICT_WEEKS
    return weeks_from, weeks_to
