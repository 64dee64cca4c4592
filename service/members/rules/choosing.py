"""Choosing somebody by typing: words that tell everybody apart, and whom typed words mean."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from uuid import UUID

from service.members.rules.people import PartyKind, Role, UnknownParty, fold_person

SEVERAL = 6  # names that are told


@dataclass(frozen=True)
class Choosable:
    """Somebody to choose, and what tells namesakes apart."""

    id: UUID
    name: str
    kind: PartyKind
    area: str = ""
    roles: tuple[Role, ...] = ()


@dataclass(frozen=True)
class Offered:
    """Somebody by the words that are shown of them, and by their name alone."""

    id: UUID
    words: str
    name: str


def namesakes(people: Iterable[Choosable]) -> list[Choosable]:
    """Those whose name somebody else has too, letter case and accents aside."""
    folded = [(one, fold_person(one.name)) for one in people]
    many = Counter(name for _, name in folded)
    return [one for one, name in folded if many[name] > 1]


def words_to_choose(people: Collection[Choosable]) -> list[Offered]:
    """A name, and what somebody is who is no member; of namesakes their kind, area and roles, else a number."""
    alike = {one.id for one in namesakes(people)}
    words = {one.id: _plain(one, told_kind=one.id in alike) for one in people}
    for more in (_area, _roles):
        words = _told_apart(people, words, more)
    many, met = Counter(map(fold_person, words.values())), Counter[str]()
    offered: list[Offered] = []
    for one in people:
        told, folded = words[one.id], fold_person(words[one.id])
        met[folded] += 1
        if many[folded] > 1:
            told = f"{told} · {met[folded]} of {many[folded]}"
        offered.append(Offered(one.id, told, one.name))
    return offered


def _plain(one: Choosable, *, told_kind: bool) -> str:
    return f"{one.name} ({one.kind.value})" if told_kind or one.kind != PartyKind.MEMBER else one.name


def _area(one: Choosable) -> str:
    return one.area


def _roles(one: Choosable) -> str:
    return ", ".join(role.value.replace("_", " ") for role in one.roles if role is not Role.MEMBER)


def _told_apart(
    people: Iterable[Choosable], words: dict[UUID, str], more: Callable[[Choosable], str]
) -> dict[UUID, str]:
    """More of those whose words others have too, where it is known and not the same of all of them."""
    alike: dict[str, list[Choosable]] = {}
    for one in people:
        alike.setdefault(fold_person(words[one.id]), []).append(one)
    told = dict(words)
    for some in alike.values():
        if len(some) > 1 and len({more(one) for one in some}) > 1:
            told |= {one.id: f"{words[one.id]} · {more(one)}" for one in some if more(one)}
    return told


def whom_words_mean(typed: str, offered: Sequence[Offered], field: str) -> UUID:
    """Whose words these are as a whole, or whose name, where one alone has it. Raises `UnknownParty`.

    A part of a name chooses nobody, however few have it: what is done would go on somebody else's record.
    """
    wanted = fold_person(typed)
    folded = [(one, fold_person(one.words), fold_person(one.name)) for one in offered]
    fitting = [one for one, words, _ in folded if words == wanted] or [
        one for one, _, name in folded if name == wanted
    ]
    if len(fitting) == 1:
        return fitting[0].id
    told = typed[:60]
    if fitting:
        raise UnknownParty(f"“{told}” can be several: {_near(fitting)}.", field=field)
    near = [one for one, _, name in folded if wanted and f" {wanted}" in f" {name}"]
    if not near:
        raise UnknownParty(f"Nobody goes by “{told}”.", field=field)
    raise UnknownParty(f"“{told}” is nobody’s whole name. Was this meant: {_near(near)}?", field=field)


def _near(people: Sequence[Offered]) -> str:
    return ", ".join(one.words for one in people[:SEVERAL]) + (" or another" if len(people) > SEVERAL else "")
