"""The limits that stores have of their own, through time."""

from __future__ import annotations

from dataclasses import fields
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.storage.rules import second_of
from service.storage.rules.excursions import StoreOwn
from service.storage.rules.own_limits import SetAt
from service.storage.tables import OwnLimits

OWN_NAMES = tuple(each.name for each in fields(StoreOwn))


def own_of(row: OwnLimits) -> StoreOwn:
    return StoreOwn(**{name: getattr(row, name) for name in OWN_NAMES})


def own_rows(session: Session, store_id: UUID) -> list[OwnLimits]:
    """Each time they were set, the first one first; one statement."""
    statement = select(OwnLimits).where(col(OwnLimits.store_id) == store_id).order_by(col(OwnLimits.seq))
    return list(session.execute(statement).scalars())


def own_through(session: Session, store_id: UUID) -> list[SetAt]:
    """What was set for a store, and from when on; one statement."""
    return [SetAt(own_of(row), second_of(row.recorded_at)) for row in own_rows(session, store_id)]
