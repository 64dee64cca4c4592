"""Loggers: where they hang and hung, what is added to their readings, which stretches count for nothing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import func, select
from sqlmodel import Session, col

from service.lib.paging import Page, Paging, page_of
from service.storage.rules import (
    BoxStay,
    BundleStay,
    LoggerMoved,
    LoggerSpot,
    NoSuchLogger,
    OffsetFrom,
    Sensor,
    Span,
    plan_logger_stays,
    plan_offsets,
    plan_spells,
)
from service.storage.schemas import (
    LeftOutRead,
    LoggerOffsetRead,
    LoggerRead,
    LoggerStayRead,
    LoggerSummary,
)
from service.storage.tables import (
    Box,
    LeftOut,
    Logger,
    LoggerMove,
    LoggerOffset,
    Place,
    ReadingDay,
    Stay,
    Store,
)

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class LoggerSpell:
    """A time during which a logger hung in one box and on one place, either of which may be unknown."""

    logger_id: UUID
    sensor: Sensor
    box_id: UUID | None
    place_id: UUID | None
    store_id: UUID | None
    span: Span


def spells_of_loggers(session: Session, logger_ids: Iterable[UUID] | None = None) -> list[LoggerSpell]:
    """Where loggers hung through time, box moves and all; without ids, every logger there is. Two statements."""
    statement = select(
        col(LoggerMove.logger_id), col(LoggerMove.box_id), col(LoggerMove.place_id), col(LoggerMove.sensor), col(LoggerMove.from_at),
        col(LoggerMove.seq), col(Place.store_id),
    ).outerjoin(Place, col(Place.id) == col(LoggerMove.place_id))  # fmt: skip
    if logger_ids is not None:
        statement = statement.where(col(LoggerMove.logger_id).in_(list(logger_ids)))
    rows = session.execute(statement).all()
    stores = {row.place_id: row.store_id for row in rows}
    stays = plan_logger_stays(
        LoggerMoved(row.logger_id, LoggerSpot(row.box_id, row.place_id, Sensor(row.sensor)), row.from_at, row.seq)
        for row in rows
    )  # fmt: skip
    boxes = _box_stays(session, {stay.spot.box_id for stay in stays if stay.spot.box_id})
    found: list[LoggerSpell] = []
    for stay in stays:
        spot = stay.spot
        hung = BundleStay(stay.logger_id, spot.box_id, spot.place_id, stores.get(spot.place_id), stay.span)
        found += [
            LoggerSpell(stay.logger_id, spot.sensor, spell.box_id, spell.place_id, spell.store_id, spell.span)
            for spell in plan_spells([hung], boxes.get(spot.box_id, ()))
        ]
    return found


def loggers_in_boxes(session: Session, box_ids: Iterable[UUID]) -> set[UUID]:
    """Loggers that hang or ever hung in boxes; one statement, none for none."""
    ids = list(box_ids)
    if not ids:
        return set()
    statement = select(col(LoggerMove.logger_id)).where(col(LoggerMove.box_id).in_(ids)).distinct()
    return set(session.execute(statement).scalars())


def _box_stays(session: Session, box_ids: Iterable[UUID]) -> Mapping[UUID | None, list[BoxStay]]:
    ids = list(box_ids)
    found: dict[UUID | None, list[BoxStay]] = {}
    if ids:
        rows = session.execute(
            select(
                col(Stay.box_id),
                col(Stay.place_id),
                col(Place.store_id),
                col(Stay.from_at),
                col(Stay.until_at),
            )
            .join(Place, col(Place.id) == col(Stay.place_id))
            .where(col(Stay.box_id).in_(ids))
        )
        for row in rows:
            stay = BoxStay(row.box_id, row.place_id, row.store_id, Span(row.from_at, row.until_at))
            found.setdefault(row.box_id, []).append(stay)
    return found


def offsets_of(session: Session, logger_ids: Iterable[UUID]) -> dict[UUID, list[OffsetFrom]]:
    """What is added to readings from when on, by logger; one statement."""
    told: dict[UUID, list[OffsetFrom]] = {}
    rows = session.execute(select(LoggerOffset).where(col(LoggerOffset.logger_id).in_(list(logger_ids))))
    for one in rows.scalars():
        told.setdefault(one.logger_id, []).append(OffsetFrom(one.offset_c, one.from_at, one.seq or 0))
    return {logger_id: plan_offsets(offsets) for logger_id, offsets in told.items()}


def left_out_of(session: Session, logger_ids: Iterable[UUID]) -> dict[UUID, list[LeftOutRead]]:
    """Stretches that count for nothing now, by logger; one statement."""
    found: dict[UUID, list[LeftOutRead]] = {}
    rows = session.execute(
        select(LeftOut)
        .where(col(LeftOut.logger_id).in_(list(logger_ids)), col(LeftOut.ended_at).is_(None))
        .order_by(col(LeftOut.from_at), col(LeftOut.id))
    )
    for one in rows.scalars():
        found.setdefault(one.logger_id, []).append(LeftOutRead.model_validate(one))
    return found


def find_logger(session: Session, logger_id: UUID) -> Logger:
    """One logger's row; one statement. Raises `NoSuchLogger`."""
    logger = session.execute(select(Logger).where(col(Logger.id) == logger_id)).scalar_one_or_none()
    if logger is None:
        raise NoSuchLogger("There is no logger under this id.")
    return logger


def lock_logger(session: Session, logger_id: UUID) -> Logger:
    """One logger's row, kept from other writers until this action is saved. Raises `NoSuchLogger`."""
    logger = session.get(Logger, logger_id, with_for_update=True, populate_existing=True)
    if logger is None:
        raise NoSuchLogger("There is no logger under this id.")
    return logger


def get_logger(session: Session, logger_id: UUID) -> LoggerRead:
    """One logger with all that is known of it; at most eight statements."""
    logger = find_logger(session, logger_id)
    stays = _stays_read(session, spells_of_loggers(session, [logger_id]))
    summary = _summaries(session, [logger], stays)[0]
    offsets = session.execute(
        select(LoggerOffset)
        .where(col(LoggerOffset.logger_id) == logger_id)
        .order_by(col(LoggerOffset.from_at), col(LoggerOffset.seq))
    ).scalars()
    return LoggerRead(
        **summary.model_dump(),
        stays=stays,
        offsets=[LoggerOffsetRead.model_validate(one) for one in offsets],
        left_out=left_out_of(session, [logger_id]).get(logger_id, []),
    )


def list_loggers(session: Session, paging: Paging, *, used_only: bool = False) -> Page[LoggerSummary]:
    """Loggers by name, with where they hang; at most six statements."""
    statement = select(Logger)
    if used_only:
        statement = statement.where(col(Logger.retired_at).is_(None))
    page = page_of(
        session,
        statement,
        [(col(Logger.name), False), (col(Logger.id), False)],
        paging,
        lambda row: row.Logger,
    )
    ids = [one.id for one in page.items]
    stays = _stays_read(session, spells_of_loggers(session, ids)) if ids else []
    return Page(items=_summaries(session, page.items, stays), next=page.next, count=page.count)


def loggers_in_store(session: Session, store_id: UUID) -> list[LoggerSummary]:
    """The loggers that hang in a store now; at most six statements."""
    spells = [
        spell
        for spell in spells_of_loggers(session)
        if spell.store_id == store_id and spell.span.until_at is None
    ]
    if not spells:
        return []
    ids = {spell.logger_id for spell in spells}
    rows = session.execute(select(Logger).where(col(Logger.id).in_(ids)).order_by(col(Logger.name)))
    return _summaries(session, list(rows.scalars()), _stays_read(session, spells))


def _summaries(
    session: Session, loggers: Iterable[Logger], stays: Iterable[LoggerStayRead]
) -> list[LoggerSummary]:
    """One statement."""
    hangs = {stay.logger_id: stay for stay in stays if stay.until_at is None}
    standing = list(loggers)
    rows = session.execute(
        select(
            col(ReadingDay.logger_id),
            func.sum(ReadingDay.readings).label("readings"),
            func.max(ReadingDay.last_second).label("last_second"),
        )
        .where(col(ReadingDay.logger_id).in_([one.id for one in standing]))
        .group_by(col(ReadingDay.logger_id))
    )
    reach = {row.logger_id: row for row in rows}
    return [
        LoggerSummary(
            **one.model_dump(exclude={"file_form"}), hangs=hangs.get(one.id),
            readings=int(reach[one.id].readings) if one.id in reach else 0,
            last_at=_EPOCH + timedelta(seconds=int(reach[one.id].last_second)) if one.id in reach else None,
        )
        for one in standing
    ]  # fmt: skip


def _stays_read(session: Session, spells: Iterable[LoggerSpell]) -> list[LoggerStayRead]:
    """Spells with the names of where; at most two statements."""
    told = sorted(spells, key=lambda spell: spell.span.from_at or _EPOCH)
    places = {spell.place_id for spell in told if spell.place_id}
    boxes = {spell.box_id for spell in told if spell.box_id}
    of_place: dict[Any, Any] = {}
    of_box: dict[Any, Any] = {}
    if places:
        statement = (
            select(col(Place.id), col(Place.name), col(Store.name).label("store"))
            .join(Store, col(Store.id) == col(Place.store_id))
            .where(col(Place.id).in_(places))
        )
        of_place = {row.id: row for row in session.execute(statement)}
    if boxes:
        named = session.execute(select(col(Box.id), col(Box.name)).where(col(Box.id).in_(boxes)))
        of_box = {row.id: row.name for row in named}
    return [
        LoggerStayRead(
            logger_id=spell.logger_id, sensor=spell.sensor, box_id=spell.box_id, box_name=of_box.get(spell.box_id, ""),
            place_id=spell.place_id, place_name=of_place[spell.place_id].name if spell.place_id else "", store_id=spell.store_id,
            store_name=of_place[spell.place_id].store if spell.place_id else "", from_at=spell.span.from_at or _EPOCH,
            until_at=spell.span.until_at,
        )
        for spell in told
    ]  # fmt: skip
