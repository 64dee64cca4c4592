"""What loggers of a store did not tell: gaps of the last week, and those that fell silent."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from uuid import UUID

from sqlalchemy import and_, or_, select
from sqlmodel import Session, col

from service.lib.logged import find_gaps, usual_step
from service.lib.readings import Readings, unpack_day
from service.storage.queries.loggers import loggers_in_store
from service.storage.queries.readings import readings_as_came
from service.storage.rules import Span, instant_of, second_of
from service.storage.rules.loggers import BY_PROGRAM, SILENT_AFTER, is_silent
from service.storage.schemas import LoggerSummary
from service.storage.schemas.loggers import QuietRead
from service.storage.tables import ReadingDay

LOOKED_BACK = timedelta(days=7)
STEP_SEEN_IN = timedelta(days=7)  # in these days before its last reading, how often a logger writes


def quiet_in_store(
    session: Session, store_id: UUID, now: datetime, loggers: Iterable[LoggerSummary] | None = None
) -> list[QuietRead]:
    """Of the loggers that hang in a store: which are silent, then their gaps of a week; at most eight statements.

    `loggers`: those of `loggers_in_store`, where they are known. None is asked for more than that where none hangs.
    """
    here = {
        one.id: one
        for one in (loggers_in_store(session, store_id) if loggers is None else loggers)
        if one.retired_at is None
    }
    if not here:
        return []
    gaps = []
    for logger_id, readings in readings_as_came(session, here, Span(now - LOOKED_BACK, now)).items():
        hangs = here[logger_id].hangs
        since = max(now - LOOKED_BACK, hangs.from_at) if hangs else now
        at = readings.at[(readings.at >= second_of(since)) & (readings.at <= second_of(now))]
        gaps += [_gap(here[logger_id], begin, end) for begin, end in find_gaps(at)]
    return [
        *silent_of(session, here.values(), now),
        *sorted(gaps, key=lambda one: (one.from_at, one.logger_name)),
    ]


def _step(days: Sequence[Readings]) -> int:
    import numpy as np

    return usual_step(np.concatenate([each.at for each in days]))


def _gap(logger: LoggerSummary, begin: int, end: int) -> QuietRead:
    return QuietRead(
        logger_id=logger.id, logger_name=logger.name, from_at=instant_of(begin), until_at=instant_of(end)
    )


def silent_of(session: Session, loggers: Iterable[LoggerSummary], now: datetime) -> list[QuietRead]:
    """Those that used to send by themselves and wrote nothing for three hours; one statement, none where all write.

    A logger whose last readings came by a file is carried indoors now and then, and is not silent.
    """
    late = {
        one.id: (one.name, one.last_at)
        for one in loggers
        if one.retired_at is None and one.last_at is not None and now - one.last_at > SILENT_AFTER
    }
    if not late:
        return []
    rows = session.execute(
        select(col(ReadingDay.logger_id), col(ReadingDay.data))
        .where(
            or_(
                *(
                    and_(col(ReadingDay.logger_id) == each, col(ReadingDay.day) >= (last_at - STEP_SEEN_IN).date())
                    for each, (_, last_at) in late.items()
                )
            )
        )
        .order_by(col(ReadingDay.day))
    )  # fmt: skip
    wrote: dict[UUID, list[Readings]] = {}
    for row in rows:
        wrote.setdefault(row.logger_id, []).append(unpack_day(row.data))
    sent = [
        each
        for each, days in wrote.items()
        if days[-1].source[-1] == BY_PROGRAM and is_silent(late[each][1], _step(days), now)
    ]
    return sorted(
        (
            QuietRead(logger_id=each, logger_name=late[each][0], from_at=late[each][1], until_at=None)
            for each in sent
        ),
        key=lambda one: one.logger_name,
    )
