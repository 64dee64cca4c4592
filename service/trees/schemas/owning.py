"""What owners say of their trees."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated
from uuid import UUID

from pydantic import Field, StringConstraints

from service.lib.schemas import Answer, Body, Words
from service.trees.rules import MayCut


class OwnerWordSet(Body):
    """What the owner says: whether the tree may be cut, and at most how many sticks in a season."""

    may_cut: MayCut
    most_sticks: Annotated[int, Field(ge=0, le=10_000)] | None = None
    words: Annotated[Words, StringConstraints(max_length=500)] = ""


class OwnerWordRead(Answer):
    """What was said of a tree, when, and who wrote it down for whom."""

    may_cut: MayCut
    most_sticks: int | None
    words: str
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID
