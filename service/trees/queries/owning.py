"""What owners said of their trees."""

from __future__ import annotations

from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.trees.schemas import OwnerWordRead
from service.trees.tables import OwnerWord


def owner_words(session: Session, tree_id: UUID, *, most: int = 20) -> list[OwnerWordRead]:
    """The newest first; one statement."""
    rows = session.execute(
        select(*OwnerWord.__table__.columns)  # type: ignore[attr-defined]
        .where(col(OwnerWord.tree_id) == tree_id)
        .order_by(col(OwnerWord.seq).desc())
        .limit(most)
    )
    return [OwnerWordRead.model_validate(row) for row in rows]
