"""Proof that the counters are the ledger's sums, and that no stick was lost."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from sqlalchemy import case, func, or_, select
from sqlmodel import Session, col

from service.bundles.queries.counters import ON_HAND
from service.bundles.rules import Balance, MoveKind
from service.bundles.schemas import AuditRead
from service.bundles.tables import Bundle, BundleStop, StickMove

_SUMMED = ("came_in", "passed_on", "grafted", "discarded", "promised", "claimed")


def audit(session: Session, *, most: int = 50) -> AuditRead:
    """Compare every bundle with its ledger and every collection with conservation. Reads the whole ledger."""
    return AuditRead(
        bundles=session.execute(select(func.count()).select_from(Bundle)).scalar_one(),
        moves=session.execute(select(func.count()).select_from(StickMove)).scalar_one(),
        wrong_counters=_wrong_counters(session, most),
        wrong_stops=_wrong_stops(session, most),
        wrong_balances=_wrong_balances(session, most),
    )


def _wrong_counters(session: Session, most: int) -> list[str]:
    sums = (
        select(StickMove.bundle_id, *(func.sum(getattr(StickMove, name)).label(name) for name in _SUMMED))
        .group_by(col(StickMove.bundle_id))
        .subquery()
    )
    differs = or_(*(getattr(Bundle, name) != func.coalesce(sums.c[name], 0) for name in _SUMMED))
    rows = session.execute(
        select(Bundle.id, Bundle.code)
        .outerjoin(sums, sums.c.bundle_id == col(Bundle.id))
        .where(differs)
        .limit(most)
    )
    return [f"{row.code or row.id}: counters differ from the ledger" for row in rows]


def _wrong_stops(session: Session, most: int) -> list[str]:
    bound = (
        select(BundleStop.bundle_id, func.count().label("n"))
        .where(col(BundleStop.lifted_at).is_(None))
        .group_by(col(BundleStop.bundle_id))
        .subquery()
    )
    rows = session.execute(
        select(Bundle.id, Bundle.code)
        .outerjoin(bound, bound.c.bundle_id == col(Bundle.id))
        .where(col(Bundle.open_stops) != func.coalesce(bound.c.n, 0))
        .limit(most)
    )
    return [f"{row.code or row.id}: its count of stops differs from the stops that bind it" for row in rows]


def _sum_of(kinds: tuple[MoveKind, ...], counter: Any) -> Any:
    return func.coalesce(func.sum(case((col(StickMove.kind).in_(kinds), counter), else_=0)), 0)


def _balances() -> Any:
    """Per collection: what came by kind, and where it went, both from the ledger alone."""
    move = StickMove
    return (
        select(
            Bundle.collection_id,
            _sum_of((MoveKind.COLLECTED, MoveKind.RECEIVED), move.came_in).label("collected"),
            _sum_of((MoveKind.CUT_TO_LENGTH,), move.came_in).label("gained"),
            _sum_of((MoveKind.CORRECTED,), move.came_in).label("corrections"),
            _sum_of((MoveKind.GRAFTED, MoveKind.GRAFT_UNDONE), move.grafted).label("grafted"),
            _sum_of((MoveKind.DISCARDED,), move.discarded).label("discarded"),
            _sum_of((MoveKind.TABLE_OUT, MoveKind.TABLE_BACK, MoveKind.GIVEN_OUTSIDE), move.passed_on).label(
                "given_outside"
            ),
            _sum_of((MoveKind.NOT_REPORTED,), move.passed_on).label("not_reported"),
        )
        .join(Bundle, col(Bundle.id) == col(move.bundle_id))
        .group_by(col(Bundle.collection_id))
    )  # type: ignore[call-overload]


def _on_hand_of_collections() -> Any:
    return select(Bundle.collection_id, func.sum(ON_HAND).label("on_hand")).group_by(
        col(Bundle.collection_id)
    )


def _wrong_balances(session: Session, most: int) -> list[str]:
    moved, here = _balances().subquery(), _on_hand_of_collections().subquery()
    came = moved.c.collected + moved.c.gained + moved.c.corrections
    went = here.c.on_hand + moved.c.grafted + moved.c.discarded + moved.c.given_outside + moved.c.not_reported
    rows = session.execute(
        select(moved.c.collection_id, came.label("came"), went.label("went"))
        .join(here, here.c.collection_id == moved.c.collection_id)
        .where(came != went)
        .limit(most)
    )
    return [f"collection {row.collection_id}: {row.came} came, {row.went} accounted for" for row in rows]


def balance_of_collection(session: Session, collection_id: UUID) -> Balance:
    """The sticks of one collection and all its descendants; two statements."""
    row = session.execute(_balances().where(col(Bundle.collection_id) == collection_id)).first()
    here = session.execute(
        _on_hand_of_collections().where(col(Bundle.collection_id) == collection_id)
    ).first()
    if row is None or here is None:
        return Balance(0, 0, 0, 0, 0, 0, 0, 0)
    return Balance(
        row.collected,
        row.gained,
        row.corrections,
        here.on_hand,
        row.grafted,
        row.discarded,
        row.given_outside,
        row.not_reported,
    )
