"""What a look at a tree can say, and when it asks for a stop."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from uuid import UUID

from service.lib.errors import NotAllowed, Refused, Unusable
from service.trees.rules.words import CheckKind, CheckResult, StopReason

RESULTS: dict[CheckKind, tuple[CheckResult, ...]] = {
    CheckKind.LEAF: (CheckResult.HEALTHY, CheckResult.SYMPTOM, CheckResult.NOT_SEEN),
    CheckKind.FRUIT: (CheckResult.TRUE, CheckResult.WRONG, CheckResult.NOT_SEEN),
}
_PROPOSES = {CheckResult.SYMPTOM: StopReason.HEALTH, CheckResult.WRONG: StopReason.NAME}


class WrongResult(Unusable):
    title = "This look cannot say that"
    todo = (
        "In leaf a tree is healthy, shows a symptom or was not seen; in fruit it is true, wrong or not seen."
    )


class NotYourLook(NotAllowed):
    title = "Somebody else wrote this look down"
    todo = "Ask them, or the health steward, to take it back. A newer look of your own counts in any case."


class LookTakenBack(Refused):
    title = "This look was taken back"
    todo = "Look at the tree again, and write down what you see."


class HasPicture(Refused):
    title = "This look has a picture already"
    todo = "A further picture goes with a further look at the same tree."


@dataclass(frozen=True)
class LookMade:
    """A look in the record: who wrote it down, for whom, and what became of it."""

    by_party_id: UUID
    for_party_id: UUID
    is_taken_back: bool = False
    has_picture: bool = False


def can_take_back_look(look: LookMade, *, party_ids: Collection[UUID], may_release: bool) -> bool:
    """Whoever wrote it down, whom it was written for, and who may release."""
    own = look.by_party_id in party_ids or look.for_party_id in party_ids
    return not look.is_taken_back and (own or may_release)


def check_can_take_back_look(look: LookMade, *, party_ids: Collection[UUID], may_release: bool) -> None:
    """Raises `LookTakenBack` or `NotYourLook`."""
    if can_take_back_look(look, party_ids=party_ids, may_release=may_release):
        return
    if look.is_taken_back:
        raise LookTakenBack("It says nothing of the tree any more.")
    raise NotYourLook("Only who wrote a look down, or who may release stopped wood, takes it back.")


def can_add_picture(look: LookMade) -> bool:
    return not look.is_taken_back and not look.has_picture


def check_can_add_picture(look: LookMade) -> None:
    """Raises `LookTakenBack` or `HasPicture`."""
    if can_add_picture(look):
        return
    if look.is_taken_back:
        raise LookTakenBack("No picture can be added to it.")
    raise HasPicture("It shows what was seen that day.")


def results_of(kind: CheckKind) -> tuple[CheckResult, ...]:
    return RESULTS[kind]


def can_record_result(kind: CheckKind, result: CheckResult, agent: str = "") -> bool:
    """A result belongs to its kind of look, and an agent belongs to a symptom."""
    return result in RESULTS[kind] and (not agent or result is CheckResult.SYMPTOM)


def check_result(kind: CheckKind, result: CheckResult, agent: str = "") -> None:
    if can_record_result(kind, result, agent):
        return
    if result in RESULTS[kind]:
        raise WrongResult(f"An agent is named for a symptom only; this look says “{result}”.", field="agent")
    allowed = [str(one) for one in RESULTS[kind]]
    raise WrongResult(f"A look in {kind} cannot say “{result}”.", field="result", allowed=allowed)


def proposed_reason(result: CheckResult) -> StopReason | None:
    """The stop that a look asks a person to consider; a look stops nothing by itself."""
    return _PROPOSES.get(result)
