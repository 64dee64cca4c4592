"""Whose word counts for what: the owner says whether and how much may be cut; a steward, whose a tree is and what binds it."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from service.lib.errors import NotAllowed, Unusable
from service.members.rules import May, Member, speaks_for

OWNERS_WORD = frozenset({"may_cut", "most_sticks"})
FOR_STEWARDS = frozenset({"owner_id", "no_propagation_contract", "rights_note"})


class OnlyTheOwner(NotAllowed):
    title = "Only its owner says what may be cut of a tree"
    todo = "Ask the owner; once they have said so, do it on their behalf, or let a steward write it down."


class OnlyAStewardOfTrees(NotAllowed):
    title = "Whose a tree is, and what rights bind it, is for a steward"
    todo = "Tell a steward what was agreed, with whom and when."


class ContractLiftedByWhom(Unusable):
    title = "A contract against propagation ends only by the seller's word"
    todo = "Say in 'rights_note' who agreed, when, and where that is written down."


def can_speak_for_owner(member: Member, owner_id: UUID) -> bool:
    """The owner, whoever acts on the owner's behalf, and who looks after people."""
    return speaks_for(member, owner_id)


def check_speaks_for_owner(member: Member, owner_id: UUID, owner: str) -> None:
    """Raises `OnlyTheOwner`."""
    if not can_speak_for_owner(member, owner_id):
        raise OnlyTheOwner(f"It is looked after by {owner}.")


def check_whose_word(
    member: Member, changed: Iterable[str], *, owner_id: UUID, owner: str, note: str, ends_contract: bool
) -> None:
    """Raises `OnlyTheOwner`, `OnlyAStewardOfTrees`, `ContractLiftedByWhom`. `note`: what was told of the rights just now."""
    fields = set(changed)
    if fields & OWNERS_WORD:
        check_speaks_for_owner(member, owner_id, owner)
    if fields & FOR_STEWARDS and May.PEOPLE not in member.may:
        raise OnlyAStewardOfTrees(f"You may change the rest of this tree, which is looked after by {owner}.")
    if ends_contract and not note.strip():
        raise ContractLiftedByWhom("It was bought under a contract against propagation.", field="rights_note")
