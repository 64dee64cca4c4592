"""What may be grafted on what, by whom; and what is said of it. A forecast warns, only a stop refuses."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from uuid import UUID

from service.catalogue.rules import JoinAdvice, Verdict, verdict_weeks
from service.grafting.rules.words import (
    NothingCounted,
    NotYourWood,
    Part,
    PlantState,
    StockIsGone,
    StockIsStopped,
    TooManyPlants,
    WoodIsStopped,
)
from service.lib.errors import Unusable

# Not the order of gravity alone: of a join that holds and one nobody knows, the second decides what may be said.
_COMBINED = (
    Verdict.INCOMPATIBLE,
    Verdict.NEEDS_INTERSTEM,
    Verdict.DELAYED_INCOMPATIBILITY,
    Verdict.COMPATIBLE_WITH_LIMITS,
    Verdict.UNKNOWN,
    Verdict.COMPATIBLE,
)


@dataclass(frozen=True)
class WoodAtBench:
    """A bundle as far as grafting it goes."""

    bundle_id: UUID
    code: str | None
    name: str  # its code, as a person reads it
    kind: str
    variety: str
    taxon_id: UUID
    cultivar_id: UUID | None
    genus: str
    area_id: UUID | None
    holder_id: UUID | None
    grafted: int
    open_stops: int


@dataclass(frozen=True)
class FlagHeld:
    """Sticks of a bundle that somebody holds under a stick flag, which copies the bundle's tag."""

    bundle_id: UUID
    parent_id: UUID
    holder_id: UUID | None
    on_hand: int


@dataclass(frozen=True)
class StockAtBench:
    """What is grafted on: a rootstock of the list, a standing tree, or a plant that was grafted before."""

    name: str
    open_stops: int = 0
    gone: bool = False
    area_id: UUID | None = None


@dataclass(frozen=True)
class Judged:
    """When a take is judged, and how that is known."""

    first_look_on: date | None
    verdict_from_on: date
    verdict_on: date
    mark: str


def own_flag(flags: Iterable[FlagHeld], scanned_id: UUID, party_id: UUID, sticks: int) -> UUID:
    """The bundle meant by a scanned code: the party's own flag of it where it still has the sticks, else the bundle."""
    held = [flag for flag in flags if flag.parent_id == scanned_id and flag.holder_id == party_id]
    enough = [flag for flag in held if flag.on_hand >= max(sticks, 1)]
    return enough[0].bundle_id if enough else scanned_id


def can_graft_wood(wood: WoodAtBench, *, party_id: UUID, any_wood: bool) -> bool:
    """Whether this person may graft this wood: volunteers any, others what they hold; stopped wood nobody."""
    return wood.open_stops == 0 and (any_wood or wood.holder_id == party_id)


def check_can_graft_wood(wood: WoodAtBench, *, party_id: UUID, any_wood: bool) -> None:
    """Raises `NotYourWood` or `WoodIsStopped`."""
    if not any_wood and wood.holder_id != party_id:
        raise NotYourWood(f"{wood.name} is not in your hands.", bundle=wood.name)
    if wood.open_stops > 0:
        raise WoodIsStopped(f"A stop binds {wood.name}.", bundle=wood.name)


def check_counted(wood: WoodAtBench, sticks: int, counted_along: int) -> None:
    """A graft uses at least one stick, or the rest of one that was counted before. Raises `NothingCounted`."""
    if sticks + counted_along == 0 and wood.grafted == 0:
        raise NothingCounted(f"No stick of {wood.name} was counted yet.", field="sticks", bundle=wood.name)


def check_can_be_stock(stock: StockAtBench) -> None:
    """Raises `StockIsStopped` or `StockIsGone`."""
    if stock.open_stops > 0:
        raise StockIsStopped(f"A stop binds {stock.name}.", stock=stock.name)
    if stock.gone:
        raise StockIsGone(f"{stock.name} is no longer there.", stock=stock.name)


def can_be_stock(stock: StockAtBench) -> bool:
    return stock.open_stops == 0 and not stock.gone


def check_plants(plants: int, grafts: int) -> None:
    """Raises `TooManyPlants`; one plant may carry several grafts."""
    if plants > grafts:
        raise TooManyPlants(
            f"{plants} plants from {grafts} graft{'' if grafts == 1 else 's'}.",
            field="plants",
            plants=plants,
            grafts=grafts,
        )


def check_parts(parts: Collection[tuple[UUID, Part]]) -> None:
    """A graft has a scion, and no wood twice as the same part."""
    if all(part is not Part.SCION for _, part in parts):
        raise Unusable("A graft needs a scion; one of its woods must be that.", field="woods")
    if len(set(parts)) != len(parts):
        raise Unusable("The same wood is told twice as the same part.", field="woods")


def plan_judging(
    made_on: date, first_look_weeks: int | None, weeks_from: int | None, weeks_to: int | None, mark: str
) -> Judged:
    """When a method's take is judged. Where no figure was seen, it is asked once at eight weeks (common practice)."""
    early, late = verdict_weeks(weeks_from, weeks_to)
    return Judged(
        first_look_on=made_on + timedelta(weeks=first_look_weeks) if first_look_weeks is not None else None,
        verdict_from_on=made_on + timedelta(weeks=early),
        verdict_on=made_on + timedelta(weeks=late),
        mark=mark if weeks_from is not None and weeks_to is not None else "common practice, no source",
    )


def combine_verdicts(verdicts: Sequence[Verdict]) -> Verdict:
    """One word for a graft of several joins: the one that says the least good."""
    return min(verdicts, key=_COMBINED.index, default=Verdict.UNKNOWN)


def warn_of_join(wood: str, stock: str, advice: JoinAdvice) -> str | None:
    """What to say of a join before it is relied on; it is never refused, for many a rule has its exception."""
    said = {
        Verdict.INCOMPATIBLE: "is known to fail",
        Verdict.NEEDS_INTERSTEM: "needs an interstem",
        Verdict.DELAYED_INCOMPATIBILITY: "may take and fail after years",
        Verdict.COMPATIBLE_WITH_LIMITS: "holds within limits",
        Verdict.UNKNOWN: "is not known here",
    }.get(advice.verdict)
    if said is None:
        return None
    source = f" ({advice.source})" if advice.source else ""
    bridge = f" Named as interstem: {advice.bridge}." if advice.bridge else ""
    note = f": {advice.note}" if advice.note else ""
    return f"{wood} on {stock} {said}{note}{source}.{bridge}"


def state_after_graft(state: PlantState) -> PlantState:
    """A plant whose own graft failed waits again once it is grafted anew."""
    return PlantState.WAITING if state is PlantState.FAILED else state
