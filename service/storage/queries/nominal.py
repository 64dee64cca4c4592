"""What stores are said to have, through time."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.lib.readings import HOUR_SECONDS
from service.storage.queries.stores import get_store
from service.storage.rules import second_of
from service.storage.rules.nominal import NominalFrom, plan_nominal
from service.storage.schemas.nominal import NominalRead
from service.storage.tables import NominalTemp


def nominal_of(session: Session, store_id: UUID) -> list[NominalRead]:
    """All that was said of a store, the latest first; three statements. Raises `NoSuchStore`."""
    get_store(session, store_id)
    rows = session.execute(
        select(NominalTemp)
        .where(col(NominalTemp.store_id) == store_id)
        .order_by(col(NominalTemp.from_at).desc(), col(NominalTemp.seq).desc())
    ).scalars()
    return [NominalRead.model_validate(row.model_dump()) for row in rows]


def nominal_in(session: Session, store_ids: Iterable[UUID]) -> dict[UUID, tuple[NominalFrom, ...]]:
    """By store; one statement."""
    told: dict[UUID, list[tuple[int, int, float | None]]] = {}
    for row in session.execute(
        select(NominalTemp).where(col(NominalTemp.store_id).in_(list(store_ids)))
    ).scalars():
        hour = (second_of(row.from_at) + HOUR_SECONDS // 2) // HOUR_SECONDS
        told.setdefault(row.store_id, []).append((hour, row.seq or 0, row.temp_c))
    return {store_id: plan_nominal(each) for store_id, each in told.items()}
