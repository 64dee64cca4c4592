"""What was put right of a cut or a receipt, and why."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.collection.tables import NameCorrection, TimeCorrection


@dataclass(frozen=True)
class TimeCorrected:
    """A time that was wrong, and the one that took its place."""

    before: datetime
    after: datetime
    reason: str
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID


@dataclass(frozen=True)
class NameCorrectedOnCut:
    """A name that was wrong, and the one that took its place."""

    before: str
    after: str
    reason: str
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID


def list_time_corrections(session: Session, collection_id: UUID) -> list[TimeCorrected]:
    """In the order in which they were made; one statement."""
    rows = session.execute(
        select(TimeCorrection)
        .where(col(TimeCorrection.collection_id) == collection_id)
        .order_by(col(TimeCorrection.seq))
    ).scalars()
    return [
        TimeCorrected(
            row.from_done_at, row.done_at, row.reason, row.recorded_at, row.by_party_id, row.for_party_id
        )
        for row in rows
    ]


def list_name_corrections(session: Session, collection_id: UUID) -> list[NameCorrectedOnCut]:
    """In the order in which they were made; one statement."""
    rows = session.execute(
        select(NameCorrection)
        .where(col(NameCorrection.collection_id) == collection_id)
        .order_by(col(NameCorrection.seq))
    ).scalars()
    return [
        NameCorrectedOnCut(
            row.from_words, row.words, row.reason, row.recorded_at, row.by_party_id, row.for_party_id
        )
        for row in rows
    ]
