"""What the labels of boxes and stores say."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.storage.tables import Box, Store
from service.tags.rules.labels import LabelWords, box_words, store_words

_KINDS = {"fridge": "fridge", "cold_room": "cold room", "cellar": "cellar"}


def words_of_boxes(session: Session, ids: Sequence[UUID], _today: date) -> dict[UUID, LabelWords]:
    """Label words by box; one statement."""
    rows = session.execute(select(col(Box.id), col(Box.name)).where(col(Box.id).in_(ids)))
    return {row.id: box_words(row.name) for row in rows}


def words_of_stores(session: Session, ids: Sequence[UUID], _today: date) -> dict[UUID, LabelWords]:
    """Label words by store; one statement."""
    rows = session.execute(
        select(col(Store.id), col(Store.name), col(Store.kind)).where(col(Store.id).in_(ids))
    )
    return {row.id: store_words(row.name, kind=_KINDS.get(row.kind, row.kind)) for row in rows}
