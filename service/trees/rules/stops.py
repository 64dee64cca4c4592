"""Stops: their states, what they bind, and what lifts them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from service.lib.clock import day_words
from service.lib.errors import Refused, Unusable
from service.trees.rules.facts import StopFacts, TreeFacts
from service.trees.rules.words import StopReason, StopState

# What may follow each state. A cleared stop is over for good: a new case is a new stop.
STOP_STEPS: Mapping[StopState, frozenset[StopState]] = {
    StopState.SUSPECTED: frozenset({StopState.CONFIRMED, StopState.CLEARED}),
    StopState.CONFIRMED: frozenset({StopState.CLEARED}),
    StopState.CLEARED: frozenset(),
}
OPEN_STATES = frozenset({StopState.SUSPECTED, StopState.CONFIRMED})

# Notes are free on a stopped tree; its name may be put right where the name is what is in doubt.
_NOTES = frozenset({"note", "rights_note", "where_on_site", "code"})
_NAMING = frozenset({"cultivar_id", "taxon_id", "name_as_told", "identity", "provisional", "varieties"})


class StoppedTree(Refused):
    title = "This tree is stopped"


class StopStepNotAllowed(Refused):
    title = "This stop cannot take that step"
    todo = "Read the stop again. One that was cleared stays cleared; open a new stop for a new case."


class UnknownAgentForStop(Unusable):
    title = "A confirmed stop for health names what was found"
    todo = "Name the disease or pest, or leave the stop as suspected until it is known."


def can_step_stop(have: StopState, wanted: StopState) -> bool:
    return wanted in STOP_STEPS[have]


def check_stop_step(have: StopState, wanted: StopState) -> None:
    if not can_step_stop(have, wanted):
        allowed = [state.value for state in StopState if state in STOP_STEPS[have]]
        raise StopStepNotAllowed(
            f"It is {have}, so it cannot become {wanted}.",
            have=have.value,
            wanted=wanted.value,
            allowed=allowed,
        )


def check_agent_named(reason: StopReason, state: StopState, agent: str) -> None:
    if reason is StopReason.HEALTH and state is StopState.CONFIRMED and not agent:
        raise UnknownAgentForStop("It is not said which disease or pest was found.", field="agent")


_SAYS = {
    (StopReason.HEALTH, StopState.SUSPECTED): "{agent} is suspected",
    (StopReason.HEALTH, StopState.CONFIRMED): "{agent} was found",
    (StopReason.NAME, StopState.SUSPECTED): "its name is in doubt",
    (StopReason.NAME, StopState.CONFIRMED): "its name is wrong",
    (StopReason.RIGHTS, StopState.SUSPECTED): "somebody may have a right to it",
    (StopReason.RIGHTS, StopState.CONFIRMED): "somebody has a right to it",
}
_LIFTS = {
    StopReason.HEALTH: (
        "Cut, move and give away nothing of it, and throw nothing away; do not compost it or bring it to a meeting."
        " Ask the health steward, who clears the stop once the plant-health authority's advice is followed."
    ),
    StopReason.NAME: "Leave the wood where it is until the health steward clears the stop: its name must be settled first.",
    StopReason.RIGHTS: "Leave the wood where it is until the health steward clears the stop: the owner of the right must agree in writing first.",  # noqa: E501
}


def what_lifts(reason: StopReason) -> str:
    """What must happen before stopped wood may be used again."""
    return _LIFTS[reason]


def stop_words(stop: StopFacts) -> str:
    """`fire blight is suspected, since 3 May 2026`."""
    return says_stop(stop.reason, stop.state, stop.agent, stop.since)


def says_stop(reason: StopReason, state: StopState, agent: str, since: date) -> str:
    """What is the matter, for who may know the agent: `fire blight is suspected, since 3 May 2026`."""
    told = _SAYS[reason, state].format(agent=agent or "a disease or pest")
    return f"{told}, since {day_words(since)}"


def is_stopped(tree: TreeFacts) -> bool:
    return tree.open_stops > 0


def check_not_stopped(tree: TreeFacts, also: str = "") -> None:
    """Raises `StoppedTree`, with the reason, what lifts it, and what else can be done."""
    if is_stopped(tree):
        stopped = _stopped(tree)
        stopped.todo = f"{stopped.todo} {also}".strip()
        raise stopped


def can_change_tree(tree: TreeFacts, fields: Iterable[str]) -> bool:
    """Whether these fields may be changed now."""
    if not is_stopped(tree):
        return True
    free = _NOTES | _NAMING if tree.stop_reason is StopReason.NAME else _NOTES
    return set(fields) <= free


def check_can_change_tree(tree: TreeFacts, fields: Iterable[str]) -> None:
    if not can_change_tree(tree, fields):
        raise _stopped(tree)


def _stopped(tree: TreeFacts) -> StoppedTree:
    stop = tree.stop
    if stop is None:
        return StoppedTree(
            f"Tree {tree.number} is stopped.", todo=what_lifts(StopReason.HEALTH), tree=tree.number
        )
    return StoppedTree(
        f"Tree {tree.number} is stopped: {stop_words(stop)}.", todo=what_lifts(stop.reason), tree=tree.number,
        tree_id=str(tree.id), stop_id=str(stop.id), reason=stop.reason.value, state=stop.state.value, agent=stop.agent,
        since=stop.since.isoformat(),
    )  # fmt: skip
