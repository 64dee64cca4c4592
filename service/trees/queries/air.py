"""The air at a site, day by day."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy import func, select
from sqlmodel import Session, col

from service.trees.queries.sites import get_site
from service.trees.rules.air_hours import DayOfAir
from service.trees.schemas import AirDayRead, AirRecordRead, SiteAirRead
from service.trees.tables import AirDay, AirRecord


def air_at_site(session: Session, site_id: UUID, first: date, last: date) -> SiteAirRead:
    """The days from the first to the last, both with it; three statements. Raises `NoSuchSite`."""
    get_site(session, site_id, exact=False)
    days = session.execute(
        select(*_columns(), col(AirDay.hours).is_not(None).label("by_hour"))
        .where(col(AirDay.site_id) == site_id, col(AirDay.day).between(first, last))
        .order_by(col(AirDay.day))
    )
    return SiteAirRead(
        site_id=site_id,
        records=air_records(session, site_id),
        days=[AirDayRead.model_validate(row) for row in days],
    )


def _columns() -> list[Any]:
    return [col(AirDay.day), col(AirDay.lowest_c), col(AirDay.highest_c), col(AirDay.record_id)]


def air_days(session: Session, site_id: UUID, first: date, last: date) -> dict[date, DayOfAir]:
    """Each day that was measured, with its hours where they were, the oldest first; one statement, rows and no more."""
    rows = session.execute(
        select(*_columns(), col(AirDay.hours))
        .where(col(AirDay.site_id) == site_id, col(AirDay.day).between(first, last))
        .order_by(col(AirDay.day))
    )
    return {day: DayOfAir(*told) for day, *told in rows}


def air_days_of_sites(
    session: Session, site_ids: Collection[UUID], first: date, last: date
) -> dict[UUID, dict[date, DayOfAir]]:
    """Each day that was measured at each of these, with its hours where they were; one statement, none for none."""
    found: dict[UUID, dict[date, DayOfAir]] = {}
    if site_ids:
        rows = session.execute(
            select(col(AirDay.site_id), *_columns(), col(AirDay.hours)).where(
                col(AirDay.site_id).in_(list(site_ids)), col(AirDay.day).between(first, last)
            )
        )
        for site_id, day, *told in rows:
            found.setdefault(site_id, {})[day] = DayOfAir(*told)
    return found


def air_records(session: Session, site_id: UUID) -> list[AirRecordRead]:
    """What was told of a site's air and still counts, the newest first; one statement."""
    return [
        AirRecordRead.model_validate(row)
        for row in session.execute(
            _records().where(col(AirRecord.site_id) == site_id).order_by(col(AirRecord.recorded_at).desc())
        )
    ]


def _records() -> Any:
    columns = AirRecord.__table__.columns  # type: ignore[attr-defined]
    return (
        select(*columns, func.count().label("days"))
        .join(AirDay, col(AirDay.record_id) == col(AirRecord.id))
        .group_by(*columns)
    )


def last_air(session: Session, site_id: UUID) -> tuple[date | None, str]:
    """The last day of a site's air, and where it was measured; one statement."""
    row = session.execute(
        select(col(AirDay.day), col(AirRecord.measured))
        .join(AirRecord, col(AirRecord.id) == col(AirDay.record_id))
        .where(col(AirDay.site_id) == site_id)
        .order_by(col(AirDay.day).desc())
        .limit(1)
    ).first()
    return (row.day, row.measured) if row else (None, "")


def days_that_stand(
    session: Session, site_id: UUID, days: Collection[date]
) -> dict[date, tuple[float, float]]:
    """Lowest and highest of each of these days that was told before; one statement."""
    rows = session.execute(
        select(col(AirDay.day), col(AirDay.lowest_c), col(AirDay.highest_c)).where(
            col(AirDay.site_id) == site_id, col(AirDay.day).between(min(days), max(days))
        )
    )
    wanted = set(days)
    return {row.day: (row.lowest_c, row.highest_c) for row in rows if row.day in wanted}
