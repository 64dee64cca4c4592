"""Words of tags, and what can be wrong with them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any
from uuid import UUID

from service.lib.codes import LENGTH, Fault, TypedCode, group_code
from service.lib.errors import NotFound, Problem, Refused, Unusable


class TagKind(StrEnum):
    """What a tag can name."""

    BUNDLE = "bundle"
    TREE = "tree"
    BOX = "box"
    STORE = "store"
    PLANT = "plant"


class TagState(StrEnum):
    BLANK = "blank"  # printed, not yet bound to anything
    BOUND = "bound"
    LOST = "lost"
    SPOILED = "spoiled"


# What may follow each state: bound for good, lost or spoiled once and for all. Only a blank is spoiled.
TAG_STEPS: Mapping[TagState, frozenset[TagState]] = {
    TagState.BLANK: frozenset({TagState.BOUND, TagState.LOST, TagState.SPOILED}),
    TagState.BOUND: frozenset({TagState.LOST}),
    TagState.LOST: frozenset(),
    TagState.SPOILED: frozenset(),
}


class Placement(StrEnum):
    """Where a tag sits: on the outer bag, or on the wood inside it."""

    BAG = "bag"
    WOOD = "wood"


class MistypedCode(Unusable):
    """The signs cannot be a code of ours: a slip in reading or typing."""

    title = "This code was mistyped"
    todo = "Compare it with the tag sign by sign; the letters I, L, O, S and U are never used."


class UnknownTag(NotFound):
    """The signs are a sound code, but no tag of this club carries it."""

    title = "No tag of this club carries this code"
    todo = "It may be another club's tag, or one that was never recorded. Look the wood up by its variety or its tree."


class ForeignTag(UnknownTag):
    """A tag whose address is none of this club's."""

    title = "This is a tag of somebody else"
    todo = "Ask those who printed it. If the wood came to this club, look for the tag it was given here."


class TagNotInUse(Refused):
    title = "This tag is not in use"
    todo = "Scan the tag that replaced it, or look the thing up by name."


class AlreadyTagged(Refused):
    title = "This has its tag already"
    todo = "Print its label again, or report the tag lost to get a new one."


class NothingToTag(NotFound):
    title = "There is nothing to tag under this id"


class NoSecondTag(Unusable):
    title = "Only a bundle can carry a second tag"


class SticksDoNotAddUp(Unusable):
    title = "The bundles do not add up to the cut"
    todo = "Count again: every stick of the cut lies in exactly one bundle."


class RowsRefused(Refused):
    """Rows of one list, each with the problem it met, by the id of what it tells."""

    title = "Some rows cannot be entered yet"
    todo = "Nothing you typed is lost: mend the rows that say what is wrong, or empty them, and send the list again."

    def __init__(self, rows: Mapping[UUID, Problem]) -> None:
        count = len(rows)
        words = {id: f"{problem.detail} {problem.todo}" for id, problem in rows.items()}
        super().__init__(
            f"{count} {'row is' if count == 1 else 'rows are'} refused; none was entered.",
            rows={str(id): told for id, told in words.items()},
            lifts={str(id): problem.lift for id, problem in rows.items() if problem.lift},
        )
        self.rows = words
        self.problems = dict(rows)
        self.wrong: dict[str, str] = {}  # the words by the field of a form, where there is one
        self.lifts: dict[str, Problem] = {}  # what leads to the form that lifts it, by the same field

    def at_fields(self, fields: Mapping[UUID, str]) -> None:
        """Say in which field of a form each row stands."""
        self.wrong = {fields[id]: words for id, words in self.rows.items()}
        self.lifts = {fields[id]: problem for id, problem in self.problems.items() if problem.lift}


class NoPublicAddress(Refused):
    title = "The public address is not confirmed yet"
    todo = (
        "An administrator confirms the address once; labels last for years and cannot be changed afterwards."
    )


@dataclass(frozen=True)
class TagInUse:
    """A tag that hangs on a thing, as far as another one for it matters."""

    code: str
    placement: Placement


def check_adds_up(sticks: int, bundled: Sequence[int]) -> None:
    """Raises `SticksDoNotAddUp`; no bundles at all means one of all the sticks."""
    if bundled and sum(bundled) != sticks:
        raise SticksDoNotAddUp(
            f"{sticks} {'stick was' if sticks == 1 else 'sticks were'} cut or received, but the bundles make {sum(bundled)}.",
            field="bundles", sticks=sticks, bundled=sum(bundled),
        )  # fmt: skip


def check_can_tag(kind: TagKind, placement: Placement, in_use: Sequence[TagInUse]) -> None:
    """One tag for a thing; for a bundle one on the bag and one on the wood. Raises `AlreadyTagged` or `NoSecondTag`."""
    if kind is not TagKind.BUNDLE and placement is Placement.WOOD:
        raise NoSecondTag(
            f"A {kind} has one tag; only a bundle has one on the bag and one on the wood.", field="placement"
        )
    same = [tag for tag in in_use if tag.placement is placement]
    if same:
        where = f" on the {placement}" if kind is TagKind.BUNDLE else ""
        raise AlreadyTagged(
            f"This {kind} has the tag {group_code(same[0].code)}{where} already.", code=same[0].code
        )


def can_tag(kind: TagKind, placement: Placement, in_use: Sequence[TagInUse]) -> bool:
    try:
        check_can_tag(kind, placement, in_use)
    except (AlreadyTagged, NoSecondTag):
        return False
    return True


def names_thing(placement: Placement, others: Sequence[TagInUse]) -> bool:
    """Whether the thing goes by this tag: the one on the bag, or else the only one it has."""
    return placement is Placement.BAG or not others


def check_in_use(code: str, state: TagState, replaced_by: str | None) -> None:
    """Raises `TagNotInUse`."""
    if state is TagState.BOUND:
        return
    said = {
        TagState.BLANK: "is not bound to anything yet",
        TagState.LOST: "was reported lost",
        TagState.SPOILED: "was spoiled",
    }
    instead = f"; {group_code(replaced_by)} replaced it" if replaced_by else ""
    raise TagNotInUse(
        f"The tag {group_code(code)} {said[state]}{instead}.", code=code, replaced_by=replaced_by
    )


def explain_typed(
    typed: TypedCode, known: Sequence[str] = (), *, field: str = "code", which: str = ""
) -> MistypedCode:
    """What is wrong with typed signs, in words; a correction only where exactly one known code fits.

    `which` says the signs themselves, where several codes were given.
    """
    offer = known[0] if len(known) == 1 else None
    hint = f" Was {group_code(offer)} meant?" if offer else ""
    facts: dict[str, Any] = {"typed": typed.typed[:60], "fault": str(typed.fault)}
    if offer:
        facts["suggestion"] = offer
    if typed.fault is Fault.SIGN:
        facts.update(sign=typed.sign, position=typed.position)
        said = f"“{typed.sign}”, the {_ordinal(typed.position)} sign, is never used in a code."
    elif typed.fault is Fault.LENGTH:
        facts["length"] = len(typed.signs)
        said = f"A code has {LENGTH} signs; {len(typed.signs) or 'none'} {'was' if len(typed.signs) == 1 else 'were'} given."
    else:
        said = "The check sign does not fit: a sign was misread, or two were swapped."
    told = f"“{which[:60]}”: " if which else ""
    return MistypedCode(told + said + hint, field=field, **facts)


def _ordinal(n: int) -> str:
    ending = "th" if n % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(n % 10, "th")
    return f"{n}{ending}"
