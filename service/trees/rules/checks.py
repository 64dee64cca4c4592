"""What a look at a tree can say, and when it asks for a stop."""

from __future__ import annotations

from service.lib.errors import Unusable
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
