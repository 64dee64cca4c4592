"""Keeping a store's hours up with its readings, and how its wood keeps with those: asked for where they change, done by jobs."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import delete, update
from sqlmodel import Session, col

from service.lib.database import insert_of
from service.lib.given import these
from service.lib.jobs import AT_ONE_GO, Ending, Kind, Task, TryLater, Wanted, enqueue
from service.lib.rubbish import not_swept
from service.lib.write import recorded_at
from service.storage.actions.forecasts import changed_by_a_step, record_forecasts
from service.storage.queries.doses import StoreDays, see_days
from service.storage.queries.forecasts import steps_of
from service.storage.queries.keeping import reckon
from service.storage.queries.renewing import (
    AT_ONCE,
    bundles_that_lay_in,
    stale_stores,
    told_since,
    used_up_in,
    with_children,
)
from service.storage.schemas.keeping import KeepingRead
from service.storage.tables import BundleKeeping, StoreDay, StoreRecord

DOSES = "doses"
KEEPING = "keeping"
TOLD = "keeping:told"
# A logger that writes every few minutes has a store's winter put together once an hour, not with each of its readings. Judgement.
FOR_COMPANY = timedelta(hours=1)
# Hands that go through a box look at one bundle after the other: what they told is reckoned together. Judgement.
FOR_HANDS = timedelta(minutes=10)
RENEWED_AFTER = timedelta(days=1)


def ask_for_doses(session: Session, store_id: UUID, wait: timedelta = FOR_COMPANY) -> None:
    """What was measured in a store changed: its hours are put together anew within the hour. One statement."""
    enqueue(session, DOSES, {"store": str(store_id)}, once=f"doses:{store_id}", wait=wait)


def keeping_wanted(session: Session, now: datetime) -> Iterable[Wanted]:
    """Wood ages where nothing is told of it, too: stores of which something was reckoned over a day ago, or never. One statement.

    Where a store's hours were never put together, as in a club that read its fridges before this was kept, those come first.
    """
    wanted = []
    for store_id, has_hours in stale_stores(session, now - RENEWED_AFTER):
        what = {"store": str(store_id)}
        wanted += [] if has_hours else [Wanted(DOSES, what, f"doses:{store_id}")]
        wanted.append(Wanted(KEEPING, what, f"keeping:{store_id}"))
    return wanted


def dosing() -> Kind:
    """The kind of job that puts a store's hours together."""

    def do(task: Task) -> Ending | None:
        with task.database.reading() as session:
            seen = see_days(session, UUID(task.what["store"]))

        def end(session: Session) -> None:
            record_days(session, seen)
            if seen.first is not None:
                ask_for_store(session, seen.store_id, AT_ONE_GO)

        return end

    return Kind(DOSES, do)


def ask_for_store(session: Session, store_id: UUID, wait: timedelta = FOR_COMPANY) -> None:
    """What the wood of a store ages by changed: how it keeps is reckoned anew within the hour. One statement."""
    enqueue(session, KEEPING, {"store": str(store_id)}, once=f"keeping:{store_id}", wait=wait)


def ask_for_bundles(session: Session, bundle_ids: Collection[UUID]) -> None:
    """Of bundles something was told that counts for how they keep: it is reckoned anew in some minutes. One statement, none for none.

    One job does it for all of whom something was told by then: it asks the record which they are.
    """
    if bundle_ids:
        enqueue(session, KEEPING, {}, once=TOLD, wait=FOR_HANDS)


def keeping() -> Kind:
    """The kind of job that reckons how bundles keep."""

    def do(task: Task) -> Ending | None:
        with task.database.reading() as session:
            ids = (
                bundles_that_lay_in(session, UUID(task.what["store"]))
                if "store" in task.what
                else told_since(session)
            )
            # What was seen of a bundle before it was split holds for its parts.
            ids = with_children(session, ids)
            found = list[KeepingRead]()
            for part in range(0, len(ids), AT_ONCE):
                with not_swept():
                    found += reckon(session, ids[part : part + AT_ONCE], task.now).values()
            used_up = used_up_in(session, UUID(task.what["store"])) if "store" in task.what else []
            before = steps_of(session, [one.bundle_id for one in found])
        with not_swept():
            rows, forecasts = keeping_rows(found), changed_by_a_step(found, before)

        def end(session: Session) -> None:
            forget_used_up(session, used_up)
            record_keeping(session, rows)
            record_forecasts(session, forecasts)

        return end

    return Kind(KEEPING, do, lease=timedelta(minutes=30))


def keeping_rows(found: Iterable[KeepingRead]) -> list[dict[str, Any]]:
    from service.science.learning import share_step

    return [
        {
            "bundle_id": one.bundle_id, "store_id": one.store_id, "sort_on": one.sort_on, "sort_rank": one.found_rank,
            "sort_end": one.sort_end, "as_of": one.as_of,
            "share_step": share_step(one.share.expected if one.share else None), "told": one.as_kept(),
        }
        for one in found
    ]  # fmt: skip


def forget_used_up(session: Session, bundle_ids: Collection[UUID]) -> None:
    """Wood of which no stick is left keeps no place among what is to be used first. One statement, none for none."""
    if bundle_ids:
        session.execute(
            update(BundleKeeping)
            .where(col(BundleKeeping.bundle_id).in_(these(session, bundle_ids)))
            .values(store_id=None)
            .execution_options(synchronize_session=False)
        )


def record_keeping(session: Session, rows: Sequence[dict[str, Any]]) -> None:
    """One statement whatever their number; what was reckoned later stands."""
    if rows:
        statement = insert_of(session, BundleKeeping)
        new = statement.excluded
        session.connection().execute(
            statement.on_conflict_do_update(
                index_elements=["bundle_id"],
                set_={
                    name: new[name]
                    for name in (
                        "store_id",
                        "sort_on",
                        "sort_rank",
                        "sort_end",
                        "as_of",
                        "share_step",
                        "told",
                    )
                },
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
        statement = insert_of(session, StoreDay)
        new = statement.excluded
        kept = {"measured": new.measured, "data": new.data}
        session.connection().execute(
            statement.on_conflict_do_update(index_elements=["store_id", "day"], set_=kept), rows
        )


def _one_further(session: Session, seen: StoreDays) -> None:
    at = recorded_at(session)
    session.execute(
        insert_of(session, StoreRecord)
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
