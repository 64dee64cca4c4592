"""Whether grafts took: what many looks come to, and what they make of a plant. Later looks win."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from service.grafting.rules.words import (
    BeforeTheGraft,
    CauseNotTold,
    CountsDoNotFit,
    PlantState,
    VerdictTooEarly,
)
from service.lib.clock import day_words


@dataclass(frozen=True)
class TakeLook:
    """A look at a graft, or at one plant of it."""

    id: UUID
    graft_id: UUID
    plant_id: UUID | None
    alive: int
    looked_at: int
    doubtful: int
    is_verdict: bool
    seen_on: date
    recorded_at: datetime
    other_cause: int = 0  # of the dead: lost to something that says nothing of the wood

    @property
    def order(self) -> tuple[date, datetime, int]:
        return (self.seen_on, self.recorded_at, self.id.int)

    @property
    def is_dead(self) -> bool:
        return self.alive == 0 and self.doubtful == 0


@dataclass(frozen=True)
class Take:
    """What stands of a graft: how many live of how many looked at, and whether that is the verdict."""

    alive: int
    looked_at: int
    doubtful: int
    is_verdict: bool
    seen_on: date
    other_cause: int = 0


@dataclass(frozen=True)
class PlantOfGraft:
    """A plant as one of its grafts sees it: how many unions the graft has, and whether it made just this one plant."""

    graft_id: UUID
    plant_id: UUID
    grafts: int
    is_only: bool


def check_take(
    *, alive: int, looked_at: int, doubtful: int, grafts: int, other_cause: int = 0, is_told: bool = True
) -> None:
    """Raises `CountsDoNotFit`, or `CauseNotTold` where some were lost to something and nobody says what."""
    if looked_at > grafts:
        raise CountsDoNotFit(
            f"{looked_at} looked at, but only {grafts} made.",
            field="looked_at",
            looked_at=looked_at,
            grafts=grafts,
        )
    if alive + doubtful > looked_at:
        raise CountsDoNotFit(
            f"{alive} alive and {doubtful} doubtful of {looked_at} looked at.", field="alive", alive=alive, doubtful=doubtful,
            looked_at=looked_at,
        )  # fmt: skip
    if alive + doubtful + other_cause > looked_at:
        dead = looked_at - alive - doubtful
        raise CountsDoNotFit(
            f"{other_cause} lost to something else, but only {dead} of {looked_at} are dead.", field="other_cause", dead=dead,
            other_cause=other_cause,
        )  # fmt: skip
    if other_cause and not is_told:
        raise CauseNotTold(f"{other_cause} were lost to something else than the wood.", field="cause")


def check_not_before(seen_on: date, made_on: date) -> None:
    """Raises `BeforeTheGraft`."""
    if seen_on < made_on:
        raise BeforeTheGraft(
            f"Seen on {day_words(seen_on)}, but grafted on {day_words(made_on)}.", field="seen_on"
        )


def can_judge(seen_on: date, verdict_from_on: date) -> bool:
    """Whether a look is late enough to be the verdict: before that day a dead scion may still be green."""
    return seen_on >= verdict_from_on


def check_can_judge(seen_on: date, verdict_from_on: date) -> None:
    """Raises `VerdictTooEarly`."""
    if not can_judge(seen_on, verdict_from_on):
        raise VerdictTooEarly(
            f"Seen on {day_words(seen_on)}, but by its method a take is judged from {day_words(verdict_from_on)} on.",
            field="is_verdict", verdict_from_on=verdict_from_on.isoformat(),
        )  # fmt: skip


def standing_take(looks: Iterable[TakeLook]) -> Take | None:
    """What the looks at one graft come to.

    The latest look at the whole graft stands, unless looks at single plants since then cover as many unions; where
    nobody looked at the whole, the latest looks at its plants are added up.
    """
    ordered = sorted(looks, key=lambda look: look.order)
    whole = [look for look in ordered if look.plant_id is None]
    last = whole[-1] if whole else None
    single: dict[UUID, TakeLook] = {
        look.plant_id: look
        for look in ordered
        if look.plant_id is not None and (last is None or look.order > last.order)
    }
    if last is not None and sum(look.looked_at for look in single.values()) < last.looked_at:
        return Take(
            last.alive,
            last.looked_at,
            last.doubtful,
            any(look.is_verdict for look in whole),
            last.seen_on,
            last.other_cause,
        )
    if not single:
        return None
    judged = {look.plant_id for look in ordered if look.is_verdict}
    return Take(
        alive=sum(look.alive for look in single.values()), looked_at=sum(look.looked_at for look in single.values()),
        doubtful=sum(look.doubtful for look in single.values()), is_verdict=None in judged or set(single) <= judged,
        seen_on=max(look.seen_on for look in single.values()), other_cause=sum(look.other_cause for look in single.values()),
    )  # fmt: skip


def plan_plant_state(grafts: Iterable[tuple[PlantOfGraft, Sequence[TakeLook]]]) -> PlantState:
    """What a plant is after all looks at all grafts it carries: one that took is enough, and as long as one may still
    take it waits.
    """
    states = {_state_by(plant, looks) for plant, looks in grafts}
    for state in (PlantState.TOOK, PlantState.WAITING):
        if state in states or not states:
            return state
    return PlantState.FAILED


def _state_by(plant: PlantOfGraft, looks: Sequence[TakeLook]) -> PlantState:
    telling = sorted((look for look in looks if _tells(look, plant)), key=lambda look: look.order)
    if not telling:
        return PlantState.WAITING
    last = telling[-1]
    if last.is_dead:
        return PlantState.FAILED
    return PlantState.TOOK if last.alive and any(look.is_verdict for look in telling) else PlantState.WAITING


def _tells(look: TakeLook, plant: PlantOfGraft) -> bool:
    """Whether a look says something of this very plant: at it, at the only one, or the same of all."""
    if look.plant_id is not None:
        return look.plant_id == plant.plant_id
    all_seen = look.looked_at == plant.grafts
    return plant.is_only or (all_seen and (look.alive == look.looked_at or look.is_dead))
