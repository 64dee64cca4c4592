"""Forecasts that are to be kept, and those that were."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import func, select
from sqlmodel import Session, col

from service.bundles.rules import MoveKind
from service.bundles.tables import Bundle, StickMove
from service.lib.clock import local_day
from service.lib.given import these
from service.storage.queries.learned import ageing_known
from service.storage.rules import NoSuchBundle
from service.storage.rules.keeping_words import HAZARD_WORDS, share_words, until_told_then
from service.storage.rules.learned import FIRST_RECKONED, WHY_KEPT, why_then
from service.storage.schemas.keeping import KeepingShare
from service.storage.schemas.learned import ForecastRead, ToldBefore
from service.storage.tables import BundleKeeping, ForecastKept

# Wood that goes to somebody, and wood that is grafted: the child bundle's own line stands for what was split off for it.
WHY = {
    MoveKind.HANDED_IN: "handed_over", MoveKind.TABLE_OUT: "handed_over", MoveKind.GIVEN_OUTSIDE: "handed_over",
    MoveKind.GRAFTED: "grafted",
}  # fmt: skip
# Older moves keep no forecast: what is reckoned long after was shown to nobody.
LATEST = timedelta(days=2)
# Lines of the ledger are saved nearly in the order of their numbers.
OUT_OF_ORDER, AT_ONCE, MOST_TOLD = 1_000, 1_000, 50


def moves_to_keep(session: Session, since: datetime, most: int = AT_ONCE) -> list[Any]:
    """Lines of the ledger since a moment for which no forecast is kept yet, the first first; one statement."""
    last = select(func.coalesce(func.max(col(ForecastKept.move_seq)), 0)).scalar_subquery()
    statement = (
        select(col(StickMove.seq), col(StickMove.bundle_id), col(StickMove.kind), col(StickMove.done_at))
        .outerjoin(ForecastKept, col(ForecastKept.move_seq) == col(StickMove.seq))
        .where(
            col(StickMove.seq) > last - OUT_OF_ORDER, col(StickMove.kind).in_(list(WHY)), col(StickMove.recorded_at) >= since,
            col(ForecastKept.id).is_(None),
        )
        .order_by(col(StickMove.seq))
        .limit(most)
    )  # fmt: skip
    return list(session.execute(statement))


def steps_of(session: Session, bundle_ids: Iterable[UUID]) -> dict[UUID, int | None]:
    """The step in which the share of each lay when it was last reckoned; one statement. What never was is missing."""
    kept = col(BundleKeeping.bundle_id).in_(these(session, bundle_ids))
    rows = session.execute(select(col(BundleKeeping.bundle_id), col(BundleKeeping.share_step)).where(kept))
    return {row.bundle_id: row.share_step for row in rows}


def forecasts_at_grafting(session: Session, bundle_ids: Iterable[UUID]) -> dict[tuple[UUID, datetime], float]:
    """The share that was told of wood as it was grafted, by bundle and moment; one statement."""
    rows = session.execute(
        select(col(ForecastKept.bundle_id), col(ForecastKept.as_of), col(ForecastKept.share)).where(
            col(ForecastKept.bundle_id).in_(these(session, bundle_ids)), col(ForecastKept.why) == "grafted",
            col(ForecastKept.share).is_not(None),
        )
    )  # fmt: skip
    return {(row.bundle_id, row.as_of): row.share for row in rows}


def forecasts_of(session: Session, bundle_id: UUID) -> list[ForecastRead]:
    """All that was kept of a bundle, the latest first; one statement."""
    statement = (
        select(ForecastKept)
        .where(col(ForecastKept.bundle_id) == bundle_id)
        .order_by(col(ForecastKept.as_of).desc(), col(ForecastKept.made_at).desc(), col(ForecastKept.id))
    )
    return [_forecast(row) for row in session.execute(statement).scalars()]


def _forecast(kept: ForecastKept) -> ForecastRead:
    """Of the first that were kept only the share is known, without its band."""
    share = None
    if kept.share is not None:
        high = kept.share if kept.high is None else kept.high
        share = KeepingShare(expected=kept.share, low=kept.low or 0.0, high=high)
    return ForecastRead.model_validate({**kept.model_dump(), "share": share})


def told_before(session: Session, bundle_id: UUID, zone: str, most: int = MOST_TOLD) -> list[ToldBefore]:
    """What was told of a bundle before and by what, in words, the latest first; two statements, one where nothing was kept."""
    from service.science.parameters import numbers_digest

    every = forecasts_of(session, bundle_id)
    if not every:
        return []
    kept, first = every[:most], every[-1]
    known, numbers = ageing_known(session), numbers_digest()
    return [
        ToldBefore(
            as_of=one.as_of, share_words="" if one.share is None else share_words(one.share.expected, one.share.low, one.share.high),
            limits_words=HAZARD_WORDS.get(one.hazard, ""),
            keeps_words=until_told_then(one.keeps_until, one.keeps_from, one.keeps_to, local_day(one.as_of, zone))
            if one.keeps_until else "",
            why_words=FIRST_RECKONED if one is first and one.why == "changed" else WHY_KEPT[one.why],
            by_words=why_then(one.ageing_version, one.numbers_digest, known, numbers),
        )
        for one in kept
    ]  # fmt: skip


def get_forecasts(session: Session, bundle_id: UUID) -> list[ForecastRead]:
    """The same of a bundle that there is; two statements. Raises `NoSuchBundle`."""
    if session.execute(select(col(Bundle.id)).where(col(Bundle.id) == bundle_id)).first() is None:
        raise NoSuchBundle("There is no bundle under this id.")
    return forecasts_of(session, bundle_id)
