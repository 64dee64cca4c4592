"""Stored answer cards, and recalls with whom to tell."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from sqlalchemy import Text
from sqlmodel import Field, SQLModel

from service.lib.database import instant, new_id, refers_to, word


class AnswerCard(SQLModel, table=True):
    """The whole answer a stranger gets for a bundle, renewed in the transaction of any change."""

    __tablename__ = "answer_card"
    bundle_id: UUID = refers_to("bundle.id", primary_key=True)
    body: str = Field(sa_type=Text)  # JSON
    made_at: datetime = instant()


class Recall(SQLModel, table=True):
    """The notice to every party that holds, held or grafted wood of a stopped tree."""

    id: UUID = Field(default_factory=new_id, primary_key=True)
    stop_id: UUID = refers_to("stop.id", index=True)
    made_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    note: str = Field(default="", max_length=2000)


class RecallParty(SQLModel, table=True):
    """One party to be told in a recall, why, and whether they were."""

    __tablename__ = "recall_party"
    recall_id: UUID = refers_to("recall.id", primary_key=True)
    party_id: UUID = refers_to("party.id", primary_key=True)
    why: str = Field(max_length=500)
    told_at: datetime | None = instant(default=None)
    how: str = word(length=60, default="")
    told_by_party_id: UUID | None = refers_to("party.id", default=None, nullable=True)
