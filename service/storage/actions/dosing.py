"""Keeping a store's hours up with its readings: asked for where readings change, done by a job."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from sqlalchemy import delete, update
from sqlalchemy.dialects.postgresql import insert as postgres_insert
from sqlalchemy.dialects.sqlite import insert as sqlite_insert
from sqlmodel import Session, col

from service.lib.jobs import Ending, Kind, Task, TryLater, enqueue
from service.lib.write import recorded_at
from service.storage.queries.doses import StoreDays, see_days
from service.storage.tables import StoreDay, StoreRecord

DOSES = "doses"


def ask_for_doses(session: Session, store_id: UUID) -> None:
    """What was measured in a store changed: its hours are put together anew once this is saved. One statement."""
    enqueue(session, DOSES, {"store": str(store_id)}, once=f"doses:{store_id}")


def dosing() -> Kind:
    """The kind of job that puts a store's hours together."""

    def do(task: Task) -> Ending | None:
        with task.database.reading() as session:
            seen = see_days(session, UUID(task.what["store"]))
        return lambda session: record_days(session, seen)

    return Kind(DOSES, do)


def record_days(session: Session, seen: StoreDays) -> None:
    """Write the days that changed, and no other. Whoever saw less than stands by now begins anew: raises `TryLater`."""
    if seen.first is None:
        return
    _one_further(session, seen)
    if seen.gone:
        session.execute(
            delete(StoreDay)
            .where(col(StoreDay.store_id) == seen.store_id, col(StoreDay.day).in_(seen.gone))
            .execution_options(synchronize_session=False)
        )
    rows = [
        {"store_id": seen.store_id, "day": day, "measured": measured, "data": data}
        for day, (measured, data) in sorted(seen.changed.items())
    ]
    if rows:
        statement = _insert(session, StoreDay)
        new = statement.excluded
        kept = {"measured": new.measured, "data": new.data}
        session.connection().execute(
            statement.on_conflict_do_update(index_elements=["store_id", "day"], set_=kept), rows
        )


def _insert(session: Session, table: Any) -> Any:
    build: Any = sqlite_insert if session.get_bind().dialect.name == "sqlite" else postgres_insert
    return build(table.__table__)


def _one_further(session: Session, seen: StoreDays) -> None:
    at = recorded_at(session)
    session.execute(
        _insert(session, StoreRecord)
        .values(store_id=seen.store_id, version=0, renewed_at=at)
        .on_conflict_do_nothing()
    )
    mine = session.execute(
        update(StoreRecord)
        .where(col(StoreRecord.store_id) == seen.store_id, col(StoreRecord.version) == seen.version)
        .values(version=seen.version + 1, renewed_at=at)
        .returning(col(StoreRecord.version))
        .execution_options(synchronize_session=False)
    ).first()
    if mine is None:
        raise TryLater("The hours of this store were put together by another at the same time.")
