"""Keeping forecasts as they stood when they mattered, so that what was told in February can be explained in June."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.bundles.rules import MoveKind
from service.lib.database import insert_of, new_id
from service.lib.jobs import Ending, Kind, Task, Wanted, enqueue
from service.lib.write import recorded_at
from service.storage.actions.learned import record_numbers
from service.storage.queries.forecasts import AT_ONCE, LATEST, WHY, moves_to_keep
from service.storage.queries.grafted import keeping_then
from service.storage.schemas.keeping import KeepingRead
from service.storage.tables import ForecastKept

FORECASTS = "forecasts"


def forecasts_wanted(session: Session, now: datetime) -> Iterable[Wanted]:
    """Sticks went to somebody, or were grafted: how they were to keep is written down. One statement."""
    return [Wanted(FORECASTS, {}, FORECASTS)] if moves_to_keep(session, now - LATEST, 1) else []


def ask_for_forecasts(session: Session, days: int) -> None:
    """Of moves of so many days back, where nobody kept them meanwhile. One statement."""
    enqueue(session, FORECASTS, {"days": days}, once=FORECASTS)


def forecasting() -> Kind:
    """The kind of job that keeps forecasts of moves of the last days; `days` looks farther back."""

    def do(task: Task) -> Ending | None:
        since = task.now - timedelta(days=task.what["days"]) if "days" in task.what else task.now - LATEST
        with task.database.reading() as session:
            moves = moves_to_keep(session, since)
            wanted: dict[UUID, set[datetime]] = {}
            for move in moves:
                wanted.setdefault(move.bundle_id, set()).add(move.done_at)
            told = keeping_then(session, wanted) if wanted else {}
        rows = [
            {
                **forecast_row(told[move.bundle_id, move.done_at], WHY[MoveKind(move.kind)]),
                "move_seq": move.seq,
            }
            for move in moves
        ]

        def end(session: Session) -> None:
            record_forecasts(session, rows)
            if len(rows) == AT_ONCE:
                enqueue(session, FORECASTS, dict(task.what), once=FORECASTS)

        return end

    return Kind(FORECASTS, do, lease=timedelta(minutes=30))


def forecast_row(told: KeepingRead, why: str) -> dict[str, Any]:
    share = told.share
    return {
        "bundle_id": told.bundle_id, "move_seq": None, "why": why, "as_of": told.as_of, "share": share and share.expected,
        "low": share and share.low, "high": share and share.high, "hazard": told.hazard,
        "doses": told.doses.model_dump() if told.doses else None, "keeps_until": told.keeps_until,
        "keeps_from": told.keeps_from, "keeps_to": told.keeps_to, "ageing_version": told.ageing_version,
        "numbers_digest": told.numbers_digest, "digest": told.digest,
    }  # fmt: skip


def changed_by_a_step(
    found: Iterable[KeepingRead], before: Mapping[UUID, int | None]
) -> list[dict[str, Any]]:
    """What is to be kept of forecasts made anew: those whose share lies in another step than before, and first ones."""
    from service.science.learning import share_step

    return [
        forecast_row(one, "changed")
        for one in found
        if one.share is not None and before.get(one.bundle_id) != share_step(one.share.expected)
    ]


def record_forecasts(session: Session, rows: Sequence[dict[str, Any]]) -> None:
    """Two statements whatever their number, none for none. What is kept for a move already stays as it is."""
    if not rows:
        return
    statement = insert_of(session, ForecastKept).on_conflict_do_nothing(index_elements=["move_seq"])
    at = recorded_at(session)
    session.connection().execute(statement, [{**row, "id": new_id(), "made_at": at} for row in rows])
    record_numbers(session)
