"""What came into a store and went out of it lately."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from sqlalchemy import and_, or_, select
from sqlmodel import Session, col

from service.storage.queries.lying import BoxStay
from service.storage.schemas import CameAndWent
from service.storage.tables import Place, Stay


def came_and_went(session: Session, store_id: UUID, since: datetime) -> CameAndWent:
    """Bundles laid into a store or a box that stands in it, or taken out, since a moment; boxes as one. One statement.

    What was only moved from one place of the store to another both came and went, and is left out of both.
    """
    here = select(col(Place.id)).where(col(Place.store_id) == store_id)
    statement = (
        select(col(Stay.bundle_id), col(Stay.box_id), col(Stay.from_at), col(Stay.until_at))
        .outerjoin(BoxStay, and_(col(BoxStay.box_id) == col(Stay.into_box_id), col(BoxStay.until_at).is_(None)))
        .where(
            or_(col(Stay.place_id).in_(here), col(BoxStay.place_id).in_(here)),
            or_(col(Stay.from_at) >= since, col(Stay.until_at) >= since),
        )
    )  # fmt: skip
    came, went = set[tuple[bool, UUID]](), set[tuple[bool, UUID]]()
    for row in session.execute(statement):
        thing = (row.box_id is not None, row.box_id or row.bundle_id)
        if row.from_at >= since:
            came.add(thing)
        if row.until_at is not None and row.until_at >= since:
            went.add(thing)
    both = came & went
    came, went = came - both, went - both
    return CameAndWent(
        bundles_came=sum(not box for box, _ in came), bundles_went=sum(not box for box, _ in went),
        boxes_came=sum(box for box, _ in came), boxes_went=sum(box for box, _ in went),
    )  # fmt: skip
