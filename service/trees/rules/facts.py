"""Plain facts about trees and stops, as rules and later stages need them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from service.catalogue.rules import CultivarFacts, TaxonFacts
from service.lib.clock import local_day
from service.trees.rules.words import CheckResult, Identity, MayCut, StopReason, StopState


@dataclass(frozen=True)
class LastCheck:
    """The newest look that saw the tree; looks that say 'not seen' are passed over."""

    result: CheckResult
    seen_on: date


@dataclass(frozen=True)
class StopFacts:
    """One open stop on a tree."""

    id: UUID
    reason: StopReason
    state: StopState
    agent: str
    agent_code: str
    placed_at: datetime
    zone: str = "UTC"  # the club's: its days are counted there

    @property
    def since(self) -> date:
        return local_day(self.placed_at, self.zone)


@dataclass(frozen=True)
class TreeFacts:
    """A tree as far as cutting, labels and answers go."""

    id: UUID
    number: int
    code: str | None
    site_id: UUID
    site_name: str
    region: str
    area_id: UUID
    taxon: TaxonFacts
    cultivar: CultivarFacts | None
    name_as_told: str
    identity: Identity
    owner_id: UUID
    owner_name: str
    may_cut: MayCut
    most_sticks: int | None
    planted_year: int | None
    no_propagation_contract: bool
    provisional: bool
    felled_on: date | None
    open_stops: int
    last_leaf_check: LastCheck | None
    last_fruit_check: LastCheck | None
    stop: StopFacts | None = None  # the gravest open one
    more_varieties: frozenset[UUID] = frozenset()
    stopped_since: datetime | None = None  # by the first of its open stops
    name_since: date | None = None  # since when it bears its variety, where it was topworked

    @property
    def taxon_id(self) -> UUID:
        return self.taxon.id

    @property
    def cultivar_id(self) -> UUID | None:
        return self.cultivar.id if self.cultivar else None

    @property
    def genus(self) -> str:
        return self.taxon.genus

    @property
    def stop_reason(self) -> StopReason | None:
        return self.stop.reason if self.stop else None

    @property
    def name(self) -> str:
        """The variety's short name, or what was told of it."""
        return tree_name(self.cultivar.page_name if self.cultivar else "", self.name_as_told)


def tree_name(variety: str, as_told: str) -> str:
    return variety or (f"{as_told} (as told)" if as_told else "no name known")


def says_kind(as_told: str, kind: str) -> bool:
    """Whether a name as told begins with its kind, so that the kind need not be said beside it: `Walnut, thin-shelled`."""
    return re.match(rf"{re.escape(kind)}(?![\w-])", as_told.strip(), re.IGNORECASE) is not None


def kind_and_name(kind: str, variety: str, as_told: str) -> str:
    """The kind, then the name; the kind once."""
    name = tree_name(variety, as_told)
    return name if not variety and says_kind(as_told, kind) else f"{kind} {name}"
