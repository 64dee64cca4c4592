"""Keeping a store's hours up with its readings, and how its wood keeps with those: asked for where they change, done by jobs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import delete, update
from sqlalchemy.dialects.postgresql import insert as postgres_insert
from sqlalchemy.dialects.sqlite import insert as sqlite_insert
from sqlmodel import Session, col

from service.lib.jobs import Ending, Kind, Task, TryLater, enqueue
from service.lib.write import recorded_at
from service.storage.queries.doses import StoreDays, see_days
from service.storage.queries.keeping import bundles_that_lay_in, reckon
from service.storage.schemas.keeping import KeepingRead
from service.storage.tables import BundleKeeping, StoreDay, StoreRecord

DOSES = "doses"
KEEPING = "keeping"
AT_ONCE = 1_000


def ask_for_doses(session: Session, store_id: UUID) -> None:
    """What was measured in a store changed: its hours are put together anew once this is saved. One statement."""
    enqueue(session, DOSES, {"store": str(store_id)}, once=f"doses:{store_id}")


def dosing() -> Kind:
    """The kind of job that puts a store's hours together."""

    def do(task: Task) -> Ending | None:
        with task.database.reading() as session:
            seen = see_days(session, UUID(task.what["store"]))

        def end(session: Session) -> None:
            record_days(session, seen)
            if seen.first is not None:
                ask_for_store(session, seen.store_id)

        return end

    return Kind(DOSES, do)


def ask_for_store(session: Session, store_id: UUID) -> None:
    """What the wood of a store ages by changed: how it keeps is reckoned anew. One statement."""
    enqueue(session, KEEPING, {"store": str(store_id)}, once=f"keeping:{store_id}")


def ask_for_bundles(session: Session, bundle_ids: Iterable[UUID]) -> None:
    """Bundles were moved, looked at or weighed: how they keep is reckoned anew. One statement, none for none."""
    ids = sorted(str(one) for one in bundle_ids)
    if ids:
        enqueue(session, KEEPING, {"bundles": ids})


def keeping() -> Kind:
    """The kind of job that reckons how bundles keep."""

    def do(task: Task) -> Ending | None:
        with task.database.reading() as session:
            ids = (
                bundles_that_lay_in(session, UUID(task.what["store"]))
                if "store" in task.what
                else [UUID(each) for each in task.what["bundles"]]
            )
            found = [
                one
                for part in range(0, len(ids), AT_ONCE)
                for one in reckon(session, ids[part : part + AT_ONCE], task.now).values()
            ]
        rows = keeping_rows(found)
        return lambda session: record_keeping(session, rows)

    return Kind(KEEPING, do, lease=timedelta(minutes=30))


def keeping_rows(found: Iterable[KeepingRead]) -> list[dict[str, Any]]:
    return [
        {
            "bundle_id": one.bundle_id, "store_id": one.store_id, "sort_on": one.keeps_until or one.usual_until, "as_of": one.as_of,
            "told": one.model_dump(mode="json"),
        }
        for one in found
    ]  # fmt: skip


def record_keeping(session: Session, rows: Sequence[dict[str, Any]]) -> None:
    """One statement whatever their number; what was reckoned later stands."""
    if rows:
        statement = _insert(session, BundleKeeping)
        new = statement.excluded
        session.connection().execute(
            statement.on_conflict_do_update(
                index_elements=["bundle_id"],
                set_={name: new[name] for name in ("store_id", "sort_on", "as_of", "told")},
                where=new.as_of >= col(BundleKeeping.as_of),
            ),
            rows,
        )


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
