"""Plain facts about collections, and what a cut or a receipt is asked to be."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from service.collection.rules.words import CollectionKind, Wood


@dataclass(frozen=True)
class CollectionFacts:
    """A collection as far as bundles, tags and answers go."""

    id: UUID
    number: int
    kind: CollectionKind
    wood: Wood
    tree_id: UUID | None
    tree_number: int | None
    round_id: UUID | None
    taxon_id: UUID
    genus: str
    kind_name: str
    cultivar_id: UUID | None
    name: str  # the variety's short name, or what was told of it
    name_as_told: str
    area_id: UUID | None
    sticks: int
    stage: str | None
    cut_on: date
    cut_on_guessed: bool
    done_at: datetime
    unfinished: bool
    tree_stops: int = 0  # open stops on its tree


@dataclass(frozen=True)
class Cutting:
    """A cut somebody wants to record."""

    wood: Wood
    sticks: int
    cut_on: date
    asker_ids: frozenset[UUID]  # who cuts and for whom
    cut_this_season: int = 0
    cultivar_id: UUID | None = None  # of a tree that carries several
    stage: str | None = None
    leaves_down: bool | None = None
    leaves_off: bool | None = None
    disinfected: bool | None = None
    owner_agreed: str = ""
    done_at: datetime | None = None
    already_cut: bool = False  # somebody said so: the wood exists, whatever the stop forbids


@dataclass(frozen=True)
class Warn:
    """Something a person should know and decide on; nothing is refused for it."""

    word: str
    text: str
