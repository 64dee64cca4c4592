"""Whom a recall must reach, and why: everybody who has or had the wood in hands, or lets a tree or plant of it grow."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from uuid import UUID

from service.lib.errors import NotFound, Refused
from service.members.rules import PartyKind
from service.provenance.rules.words import count, listed, sentence

LONGEST_WHY = 500
HOLDER_FORGOTTEN = "holder forgotten"


class Tie(StrEnum):
    """What ties a party to stopped wood, the nearest first."""

    OWNS_ORIGIN = "owns_origin"  # looks after the tree where it was found
    HOLDS = "holds"  # has sticks in hand
    HAS_PLANT = "has_plant"
    OWNS_TREE = "owns_tree"  # looks after a tree grown from it, or one that carries it
    GRAFTED = "grafted"
    HELD = "held"  # had it in hand: used up, returned, passed on
    HAD_PLANT = "had_plant"  # a plant of it was with them: passed on, returned, dead
    STORES = "stores"  # it lies, or lay, in a store that stands with them
    GAVE = "gave"  # it came from them


ORDER = tuple(Tie)


class NoSuchRecall(NotFound):
    title = "There is no such recall"


class RecallStands(Refused):
    title = "A recall of this stop stands already"
    todo = "Open the recall that stands; it takes in whoever was found since."


class StopIsOver(Refused):
    title = "This stop is over"
    todo = "A cleared stop is not recalled; open a new stop for a new case."


class NotInRecall(NotFound):
    title = "This party is not in the recall"
    todo = "Take in whoever was found since, then mark them."


class NotToldYet(Refused):
    title = "They must be told first"
    todo = "Tell them of the recall and mark them as told; then they can be forgotten."


class HoldsStoppedWood(Refused):
    title = "They hold wood of an open stop"
    todo = "Start the recall and tell them, or have the stop cleared; then they can be forgotten."


@dataclass(frozen=True)
class TieFacts:
    """One tie of one party: how many things, how many sticks where sticks are counted."""

    party_id: UUID
    tie: Tie
    things: int = 1
    sticks: int = 0


@dataclass(frozen=True)
class PartyFound:
    """A party as far as a recall shows it."""

    id: UUID
    kind: PartyKind
    name: str
    forgotten: bool


@dataclass(frozen=True)
class ToTell:
    """One party to be told, with all that ties them to the wood."""

    party: PartyFound
    ties: tuple[TieFacts, ...]

    @property
    def why(self) -> str:
        return why_told(self.ties)

    @property
    def is_silent(self) -> bool:
        """Whether sticks are in their hands of which nothing was heard since."""
        kinds = {tie.tie for tie in self.ties}
        return Tie.HOLDS in kinds and Tie.GRAFTED not in kinds

    @property
    def name(self) -> str:
        return HOLDER_FORGOTTEN if self.party.forgotten else self.party.name


@dataclass(frozen=True)
class Unknown:
    """Sticks or a plant that went to people nobody wrote down: an open table, or outside the record."""

    bundle_id: UUID | None
    code: str | None
    sticks: int  # none for a plant
    how: str  # table, outside
    told: str
    done_at: datetime
    plant_id: UUID | None = None


def _tie_words(tie: TieFacts) -> str:
    bundles, sticks = count(tie.things, "bundle"), count(tie.sticks, "stick")
    return {
        Tie.OWNS_ORIGIN: f"looks after {count(tie.things, 'tree')} where it was found",
        Tie.HOLDS: f"holds {bundles} of it ({sticks})",
        Tie.HAS_PLANT: f"has {count(tie.things, 'grafted plant')} of it",
        Tie.OWNS_TREE: f"looks after {count(tie.things, 'tree')} grown from it or carrying it",
        Tie.GRAFTED: f"made {count(tie.things, 'graft')} with it",
        Tie.HELD: f"had {bundles} of it in hand",
        Tie.HAD_PLANT: f"had {count(tie.things, 'grafted plant')} of it",
        Tie.STORES: f"{bundles} of it lay in their store",
        Tie.GAVE: f"gave it to the club ({count(tie.things, 'delivery', 'deliveries')})",
    }[tie.tie]


def why_told(ties: Sequence[TieFacts]) -> str:
    """`Holds 2 bundles of it (7 sticks) and made 1 graft with it.`"""
    in_order = sorted(ties, key=lambda tie: ORDER.index(tie.tie))
    return sentence(listed([_tie_words(tie) for tie in in_order]))[:LONGEST_WHY]


def plan_telling(ties: Iterable[TieFacts], parties: Iterable[PartyFound]) -> list[ToTell]:
    """Everybody to be told, whoever is nearest to the wood first."""
    known = {party.id: party for party in parties}
    found: dict[UUID, list[TieFacts]] = {}
    for tie in ties:
        if tie.party_id in known:
            found.setdefault(tie.party_id, []).append(tie)
    told = [
        ToTell(known[one], tuple(sorted(those, key=lambda t: ORDER.index(t.tie))))
        for one, those in found.items()
    ]
    return sorted(told, key=lambda one: (ORDER.index(one.ties[0].tie), one.name, str(one.party.id)))


def check_can_forget(*, untold: int, has_unrecalled_wood: bool) -> None:
    """Raises `NotToldYet` or `HoldsStoppedWood`: who may have dangerous wood is told before they are forgotten."""
    if untold:
        raise NotToldYet(f"They are in {count(untold, 'recall')} and were not told yet.", recalls=untold)
    if has_unrecalled_wood:
        raise HoldsStoppedWood("An open stop binds wood they have or had, and no recall has reached them.")


def can_forget(*, untold: int, has_unrecalled_wood: bool) -> bool:
    return not untold and not has_unrecalled_wood
