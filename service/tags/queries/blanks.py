"""Blank tags by the batch they were printed in, every one accounted for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any
from uuid import UUID

from sqlalchemy import func, select
from sqlmodel import Session, col

from service.lib.errors import NotFound
from service.lib.paging import Page, Paging, page_of
from service.tags.rules.blanks import BlankCount, count_blanks
from service.tags.rules.words import TagState
from service.tags.schemas import BlankBatchRead
from service.tags.tables import LabelBatch, PrintedLabel, Tag

_BATCH = select(col(LabelBatch.id), col(LabelBatch.sheet), col(LabelBatch.made_at)).where(
    col(LabelBatch.is_blank)
)


def list_blank_batches(session: Session, paging: Paging) -> Page[BlankBatchRead]:
    """The latest first, each with what became of its blanks; one statement for all counts."""
    keys = [(col(LabelBatch.made_at), True), (col(LabelBatch.id), True)]
    page = page_of(session, _BATCH, keys, paging, lambda row: row)
    counts = _counts(session, [row.id for row in page.items])
    return Page(items=[_read(row, counts[row.id]) for row in page.items], next=page.next, count=page.count)


def get_blank_batch(session: Session, batch_id: UUID) -> BlankBatchRead:
    row = session.execute(_BATCH.where(col(LabelBatch.id) == batch_id)).first()
    if row is None:
        raise NotFound("There is no such batch of blank tags.", field="id")
    return _read(row, _counts(session, [batch_id])[batch_id])


def list_blanks_left(session: Session, batch_id: UUID) -> list[str]:
    """The codes of a batch that are bound to nothing and not given up, in the order of printing."""
    statement = (
        select(col(Tag.code))
        .join(PrintedLabel, col(PrintedLabel.code) == col(Tag.code))
        .where(col(PrintedLabel.batch_id) == batch_id, col(Tag.state) == TagState.BLANK)
        .order_by(col(PrintedLabel.place))
    )
    return list(session.execute(statement).scalars())


def _counts(session: Session, batch_ids: Sequence[UUID]) -> dict[UUID, BlankCount]:
    hangs = col(Tag.thing_id).is_not(None)
    rows = session.execute(
        select(col(PrintedLabel.batch_id), col(Tag.state), hangs.label("hangs"), func.count().label("tags"))
        .join(Tag, col(Tag.code) == col(PrintedLabel.code))
        .where(col(PrintedLabel.batch_id).in_(batch_ids))
        .group_by(col(PrintedLabel.batch_id), col(Tag.state), hangs)
    ).all()
    found: dict[UUID, list[tuple[TagState, bool, int]]] = {id: [] for id in batch_ids}
    for row in rows:
        found[row.batch_id].append((TagState(row.state), bool(row.hangs), row.tags))
    return {id: count_blanks(each) for id, each in found.items()}


def _read(row: Any, count: BlankCount) -> BlankBatchRead:
    return BlankBatchRead(id=row.id, sheet=row.sheet, made_at=row.made_at, **asdict(count))
