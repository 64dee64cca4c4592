"""Answers of looks that are due."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from pydantic import Field

from service.lib.schemas import Answer
from service.storage.rules import DueWhy


class CheckDueRead(Answer):
    """A bundle of a store that should be looked at, and why."""

    bundle_id: UUID
    code: str | None
    parent_code: str | None
    variety: str
    kind: str
    on_hand: int
    box_name: str
    place_name: str
    why: DueWhy
    words: str
    due_on: date
    mark: str = Field(description="how the rule behind it is known")


class StoreDue(Answer):
    """Looks that are due in one store, the most urgent first."""

    store_id: UUID
    store_name: str
    due: list[CheckDueRead]
