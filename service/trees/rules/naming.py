"""What a tree is called: a name that was wrong is not the same as a tree that was topworked."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from service.lib.errors import Refused, Unusable


class SameName(Unusable):
    title = "That is its name already"


class SayWhichNameChange(Refused):
    title = "Wood of this tree is in the record under its name"
    todo = "Say which it is: the name was wrong, or the tree was topworked. Correct its name as such, with the reason."


@dataclass(frozen=True)
class TreeNamed:
    """What a tree is called, in ids and in words."""

    taxon_id: UUID
    cultivar_id: UUID | None
    name_as_told: str
    words: str

    def is_same(self, other: TreeNamed) -> bool:
        mine = (self.taxon_id, self.cultivar_id, "" if self.cultivar_id else self.name_as_told)
        return mine == (other.taxon_id, other.cultivar_id, "" if other.cultivar_id else other.name_as_told)


def can_rename(old: TreeNamed, new: TreeNamed) -> bool:
    return not old.is_same(new)


def check_can_rename(old: TreeNamed, new: TreeNamed) -> None:
    """Raises `SameName`."""
    if not can_rename(old, new):
        raise SameName(f"It is called {old.words}.", field="cultivar_id")


def check_plain_rename(old: TreeNamed, new: TreeNamed, *, has_wood: bool) -> None:
    """Raises `SayWhichNameChange`: once wood was cut, a plain edit cannot say what becomes of its name."""
    if has_wood and can_rename(old, new):
        raise SayWhichNameChange(f"It is called {old.words} on them.", field="cultivar_id")
