"""Bodies and answers of recalls, and of forgetting."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated
from uuid import UUID

from pydantic import Field

from service.lib.database import new_id
from service.lib.schemas import Answer, Body, Line, Words
from service.members.rules import PartyKind
from service.provenance.schemas.stopping import ToTellRead
from service.provenance.schemas.tracing import UnknownTaker


class RecallCreate(Body):
    """Start the recall of a stop."""

    id: UUID = Field(default_factory=new_id)
    stop_id: UUID
    note: Words = ""


class ToldCreate(Body):
    """A party was told, and how."""

    party_id: UUID
    how: Annotated[Line, Field(min_length=1, max_length=60)]


class RecallPartyRead(Answer):
    """One party of a recall. The contact is shown to those who may run recalls, a sealed one too."""

    party_id: UUID
    kind: PartyKind
    name: str
    forgotten: bool
    why: str
    silent: bool
    contact: str
    told_at: datetime | None
    how: str
    told_by_party_id: UUID | None


class RecallSummary(Answer):
    id: UUID
    stop_id: UUID
    made_at: datetime
    by_party_id: UUID
    note: str
    parties: int
    not_told: int


class RecallRead(RecallSummary):
    """A recall: who is to be told, who was, whom nobody can reach, and who was found since it began."""

    people: list[RecallPartyRead]
    unknown_takers: list[UnknownTaker]
    found_since: list[ToTellRead]


class ForgottenRead(Answer):
    """That a person is forgotten; their wood stays in the record."""

    party_id: UUID
    contact_until: date | None = Field(
        description="until when a recall could still reach them, where they agreed"
    )
