"""Tags printed ahead: what may become of a blank, and how a batch of them is accounted for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from service.lib.codes import group_code
from service.lib.errors import Problem, Refused, Unusable
from service.tags.rules.words import TAG_STEPS, TagState

MOST_BLANKS = 1000


class GivenUp(StrEnum):
    """Why a blank will never be tied to anything."""

    SPOILED = "spoiled"
    LOST = "lost"


class AlreadyBound(Refused):
    """The tag names something already, and does so for good."""

    title = "This tag hangs on something already"
    todo = "Leave that tag where it hangs, and take the next blank one."


class NoLongerBlank(Refused):
    """A blank that was given up is never bound."""

    title = "This tag is out of use"
    todo = "Take another blank tag, and throw this one away so that nobody ties it on."


class NamedTwice(Unusable):
    title = "The same tag is named twice"
    todo = "Each bundle has its own tag: read the codes again."


@dataclass(frozen=True)
class BlankCount:
    """What became of the blanks of one batch: printed = bound + spoiled + lost + left."""

    printed: int
    bound: int
    spoiled: int
    lost: int
    left: int


def check_can_bind(code: str, state: TagState, hangs_on: str) -> None:
    """Only a blank is bound. Raises `AlreadyBound`, which names what it hangs on, or `NoLongerBlank`."""
    if TagState.BOUND in TAG_STEPS[state]:
        return
    if hangs_on:
        was = "hangs" if state is TagState.BOUND else "was lost, and hung"
        raise AlreadyBound(f"The tag {group_code(code)} {was} on {hangs_on}.", field="code", code=code)
    said = "spoiled" if state is TagState.SPOILED else "lost"
    raise NoLongerBlank(f"The tag {group_code(code)} was written down as {said}.", field="code", code=code)


def can_bind(code: str, state: TagState, hangs_on: str) -> bool:
    try:
        check_can_bind(code, state, hangs_on)
    except Problem:
        return False
    return True


def check_can_give_up(code: str, state: TagState, hangs_on: str) -> None:
    """Only a blank is given up here; what hangs on something is replaced instead. Raises as `check_can_bind`."""
    if hangs_on:
        raise AlreadyBound(
            f"The tag {group_code(code)} hangs on {hangs_on}.",
            field="codes", code=code, todo="A tag in use that was lost or spoiled is replaced: report it on its own page.",
        )  # fmt: skip
    if state is not TagState.BLANK:
        said = "spoiled" if state is TagState.SPOILED else "lost"
        raise NoLongerBlank(
            f"The tag {group_code(code)} was written down as {said} before.",
            field="codes", code=code, todo="Leave it out: it is accounted for.",
        )  # fmt: skip


def check_named_once(codes: Sequence[str]) -> None:
    """Raises `NamedTwice`."""
    for code, times in Counter(codes).items():
        if times > 1:
            raise NamedTwice(f"The tag {group_code(code)} is named {times} times.", field="code", code=code)


def count_blanks(found: Iterable[tuple[TagState, bool, int]]) -> BlankCount:
    """From how many tags are in which state, and whether they hang or hung on something.

    A tag that was bound and lost later counts as bound: its thing has another one, and it is not missing from the roll.
    """
    count: Counter[str] = Counter()
    for state, hangs, tags in found:
        count["bound" if hangs else state.value] += tags
    left = count[TagState.BLANK.value]
    return BlankCount(count.total(), count["bound"], count["spoiled"], count["lost"], left)
