"""Choosing somebody by typing: words that tell everybody apart, and whom typed words mean."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from uuid import UUID

from service.members.rules.people import PartyKind, UnknownParty, fold_person

SEVERAL = 6  # names that are told


def words_to_choose(people: Iterable[tuple[UUID, str, PartyKind]]) -> list[tuple[UUID, str]]:
    """A name, and what somebody is who is no member; namesakes are numbered, so that each can be typed."""
    told = [
        (one, name if kind == PartyKind.MEMBER else f"{name} ({kind.value})") for one, name, kind in people
    ]
    many, met = Counter(words for _, words in told), Counter[str]()
    words_of: list[tuple[UUID, str]] = []
    for one, words in told:
        met[words] += 1
        words_of.append((one, words if many[words] == 1 else f"{words} · {met[words]} of {many[words]}"))
    return words_of


def whom_words_mean(typed: str, offered: Sequence[tuple[UUID, str]], field: str) -> UUID:
    """Whose words these are, else whose name, else in whose alone a word begins so. Raises `UnknownParty`."""
    wanted = fold_person(typed)
    folded = [(one, words, fold_person(words)) for one, words in offered]
    whole = [(one, words) for one, words, plain in folded if plain == wanted]
    named = [(one, words) for one, words, plain in folded if plain.split(" · ")[0].split(" (")[0] == wanted]
    part = [(one, words) for one, words, plain in folded if wanted and f" {wanted}" in f" {plain}"]
    fitting = whole or named or part
    if len(fitting) == 1:
        return fitting[0][0]
    if not fitting:
        raise UnknownParty(f"Nobody goes by “{typed[:60]}”.", field=field)
    near = ", ".join(words for _, words in fitting[:SEVERAL])
    raise UnknownParty(
        f"“{typed[:60]}” can be several: {near}{' or another' if len(fitting) > SEVERAL else ''}.",
        field=field,
    )
