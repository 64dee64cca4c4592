"""Answers of the day pack: what a phone keeps for where nothing answers."""

from __future__ import annotations

from datetime import date
from typing import Literal
from uuid import UUID

from pydantic import Field

from service.lib.schemas import Answer
from service.trees.rules import MayCut


class PackedTag(Answer):
    """A bundle's tag and the short answer a stranger gets to it."""

    code: str
    thing_id: UUID
    state: Literal["ready", "stopped", "used_up"]
    name: str = Field(description="variety and kind; all that an old pack says")
    says: str
    more: list[str] = Field(default=[], description="where from, the last look, rights; in sentences")
    sticks: int


class PackedTree(Answer):
    """A standing tree as whoever cuts meets it."""

    id: UUID
    number: int
    code: str | None
    site_id: UUID
    where: str = Field(description="where on its site; only for who works with trees")
    name: str
    says: str
    rule: MayCut = Field(description="the owner's word as it binds whoever asks")
    most_sticks: int | None = Field(description="in a season, as the owner said")
    refused: str = Field(description="why nothing may be cut of it; empty where something may")
    stopped: bool


class PackedSite(Answer):
    """Where trees stand, by name alone."""

    id: UUID
    name: str


class DayPack(Answer):
    """All tags of bundles on hand, the blank tags, and the trees of a cutting round with their stops: no person, no address."""

    version: int = Field(description="of this form; a phone that knows another takes a new page first")
    club: str
    hosts: list[str] = Field(description="addresses that tags of this club carry or carried")
    today: date
    good_for_days: int = Field(description="after these it is of another season, and good for names only")
    tags: list[PackedTag]
    blanks: list[str] = Field(description="tags bound to nothing yet")
    sites: list[PackedSite]
    trees: list[PackedTree]
    left_out: int = Field(
        default=0, description="tags, blanks and trees beyond the most that are taken along"
    )
