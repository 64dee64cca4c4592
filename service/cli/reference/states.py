"""The life cycles, asked of the rules themselves: a table and a picture of what may follow what."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
from itertools import product
from typing import TypeVar
from uuid import UUID

from service.bundles.rules import EFFECT, MoveKind
from service.cli.reference.steps import Steps
from service.cli.reference.words import NOTE
from service.grafting.rules import PlantOfGraft, PlantState, TakeLook, plan_plant_state, state_after_graft
from service.lists.rules import LIST_STEPS
from service.members.rules import InvitationState, state_of_invitation
from service.storage.rules import FILE_STEPS
from service.tags.rules.words import TAG_STEPS
from service.trees.rules import STOP_STEPS
from service.trees.rules.checks import RESULTS


@dataclass(frozen=True)
class Cycle:
    """One thing's states, and what may follow each."""

    slug: str
    name: str
    says: str
    steps: Callable[[], Steps]


S = TypeVar("S", bound=StrEnum)


def _in_words(table: Mapping[S, Iterable[S]]) -> Steps:
    return {state.value: frozenset(each.value for each in after) for state, after in table.items()}


def stop_steps() -> Steps:
    return _in_words(STOP_STEPS)


def file_steps() -> Steps:
    return _in_words(FILE_STEPS)


def list_steps() -> Steps:
    return _in_words(LIST_STEPS)


def tag_steps() -> Steps:
    return _in_words(TAG_STEPS)


def invitation_steps() -> Steps:
    """Tried: every invitation that can be, and what one more thing that happens makes of it."""
    made = datetime(2026, 1, 1, tzinfo=UTC)
    over, later = made + timedelta(days=14), made + timedelta(days=15)
    found: dict[str, set[str]] = {state.value: set() for state in InvitationState}
    for used, revoked, late in product((None, made), (None, made), (False, True)):
        now = later if late else made
        have = state_of_invitation(used, revoked, over, now)
        if have is not InvitationState.OPEN:
            continue  # nothing is done with one that is not open
        for after in (
            state_of_invitation(made, revoked, over, now), state_of_invitation(used, made, over, now),
            state_of_invitation(used, revoked, over, later),
        ):  # fmt: skip
            found[have.value].add(after.value)
    return {state: frozenset(after) for state, after in found.items()}


_GRAFT, _PLANT = UUID(int=1), UUID(int=2)
_ONE = PlantOfGraft(_GRAFT, _PLANT, grafts=1, is_only=True)
# A look can find it alive, doubtful or dead, and may be the verdict or not.
_LOOKS = tuple(product(((1, 0), (0, 1), (0, 0)), (False, True)))


def _look(number: int, alive: int, doubtful: int, *, is_verdict: bool) -> TakeLook:
    day = date(2026, 6, 1) + timedelta(days=number)
    at = datetime(2026, 6, 1, tzinfo=UTC) + timedelta(days=number)
    return TakeLook(UUID(int=10 + number), _GRAFT, _PLANT, alive, 1, doubtful, is_verdict, day, at)


def plant_steps() -> Steps:
    """Tried: up to two looks at a plant and one more, a new graft on it, and that it is gone or was found again."""
    found: dict[PlantState, set[PlantState]] = {state: set() for state in PlantState}
    for count in range(3):
        for told in product(_LOOKS, repeat=count):
            looks = [_look(n, *eyes, is_verdict=verdict) for n, (eyes, verdict) in enumerate(told)]
            have = plan_plant_state([(_ONE, looks)])
            found[have] |= {state_after_graft(have), PlantState.GONE}
            found[PlantState.GONE].add(have)  # said to be gone by mistake
            for eyes, verdict in _LOOKS:
                found[have].add(plan_plant_state([(_ONE, [*looks, _look(count, *eyes, is_verdict=verdict)])]))
    return _in_words({state: after - {state} for state, after in found.items()})


CYCLES = (
    Cycle(
        "stop", "A stop",
        "Suspected or confirmed, it binds its trees and their wood; cleared, it is over for good.", stop_steps,
    ),
    Cycle(
        "tag", "A tag",
        "Bound for good to one thing; a lost one is replaced, never used again. "
        "Blank and spoiled are for rolls printed ahead, which are not made yet.", tag_steps,
    ),
    Cycle(
        "reading-file", "A logger's file",
        "It waits until somebody has looked at it; taken, its readings are in the record and can be taken back.", file_steps,
    ),
    Cycle(
        "list", "A list that is moved in",
        "It waits until somebody has looked at it; taken, it can be taken back while nothing rests on what it brought.", list_steps,
    ),
    Cycle("invitation", "An invitation", "It works once, until it expires or is taken back.", invitation_steps),
    Cycle(
        "plant", "A plant and its take",
        "Later looks win, so a verdict can be put right; one that failed waits again once it is grafted anew.", plant_steps,
    ),
)  # fmt: skip


def states_page() -> str:
    parts = [f"# States\n\n{NOTE}"]
    for cycle in CYCLES:
        steps = cycle.steps()
        parts += [
            f"## {cycle.name}\n\n{cycle.says}\n\n![{cycle.name}: what may follow what](../pictures/states-{cycle.slug}.svg)\n",
            "| state | may become |\n| --- | --- |",
            *(f"| {_told(state)} | {_after(steps, state)} |" for state in steps),
            "",
        ]
    return "\n".join([*parts, *_sticks(), *_looks()]) + "\n"


def _after(steps: Steps, state: str) -> str:
    return ", ".join(_told(each) for each in steps if each in steps[state]) or "nothing more"


def _told(word: str) -> str:
    return word.replace("_", " ")


STICKS = """## What can happen to sticks

Each line of the ledger moves one counter of its bundle. On hand = came in - passed on - grafted - discarded.

| what happened | counter | by |
| --- | --- | --- |"""


def _sticks() -> list[str]:
    rows = [STICKS]
    for kind in MoveKind:
        effect = EFFECT[kind]
        counter = _told(effect[0]) if effect else "none: the bundle changes hands whole"
        by = ("more" if effect[1] > 0 else "less") if effect else ""
        rows.append(f"| {_told(kind)} | {counter} | {by} |")
    return [*rows, ""]


def _looks() -> list[str]:
    rows = ["## What a look at a tree can find\n", "| look | finds |", "| --- | --- |"]
    return [
        *rows,
        *(f"| in {kind} | {', '.join(_told(each) for each in found)} |" for kind, found in RESULTS.items()),
    ]
