"""A stop binds bundles and lets them go; no stick moves."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from sqlalchemy import select, update
from sqlmodel import Session, col

from service.bundles.tables import Bundle, BundleStop
from service.lib.write import insert_rows, recorded_at, touch_bundles
from service.members.rules import Member

_AT_ONCE = 500  # ids in one list: below every database's limit of parameters


def bind_bundle_stop(
    session: Session, member: Member, stop_id: UUID, bundles: Iterable[tuple[UUID, str]]
) -> list[UUID]:
    """Bind bundles to a stop, each with why; gives those that were not bound by it before.

    One insert and, per 500 bundles, one look and one update.
    """
    why = dict(bundles)
    bound = _bound(session, stop_id)
    new = [bundle_id for bundle_id in why if bundle_id not in bound]
    at = recorded_at(session)
    rows = [
        {
            "stop_id": stop_id,
            "bundle_id": bundle_id,
            "why": why[bundle_id],
            "placed_at": at,
            "lifted_at": None,
        }
        for bundle_id in new
    ]
    insert_rows(session, BundleStop, rows)
    _count(session, new, 1)
    return new


def lift_bundle_stop(session: Session, member: Member, stop_id: UUID) -> list[UUID]:
    """Let go all that this stop binds; what another stop binds too stays bound by that one."""
    bound = sorted(_bound(session, stop_id))
    session.execute(
        update(BundleStop)
        .where(col(BundleStop.stop_id) == stop_id, col(BundleStop.lifted_at).is_(None))
        .values(lifted_at=recorded_at(session))
        .execution_options(synchronize_session=False)
    )
    _count(session, bound, -1)
    return bound


def _bound(session: Session, stop_id: UUID) -> set[UUID]:
    rows = session.execute(
        select(col(BundleStop.bundle_id)).where(
            col(BundleStop.stop_id) == stop_id, col(BundleStop.lifted_at).is_(None)
        )
    )
    return set(rows.scalars())


def _count(session: Session, bundle_ids: list[UUID], step: int) -> None:
    for start in range(0, len(bundle_ids), _AT_ONCE):
        session.execute(
            update(Bundle)
            .where(col(Bundle.id).in_(bundle_ids[start : start + _AT_ONCE]))
            .values(open_stops=Bundle.open_stops + step, version=Bundle.version + 1)
            .execution_options(synchronize_session=False)
        )
    touch_bundles(session, bundle_ids)
