"""Whose grafts one may see: volunteers all, others their own and those they hold plants of."""

from __future__ import annotations

from uuid import UUID

from service.grafting.rules.words import NotYourGraft
from service.members.rules import May, Member


def any_wood(member: Member) -> bool:
    """Whether somebody may graft wood that is in other hands: those who handle the club's sticks."""
    return May.STICKS in member.may


def sees_only(member: Member) -> UUID | None:
    """The party whose grafts alone this person sees; None for volunteers, who see all."""
    return None if any_wood(member) else member.acting_for_id


def check_may_see(only_for: UUID | None, *whose: UUID | None) -> None:
    """Raises `NotYourGraft`."""
    if only_for is not None and only_for not in whose:
        raise NotYourGraft("It was made by, or for, somebody else.")
