"""The club's settings, plant-health areas, and the authority's answers on crossing them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy import Select, func, or_, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.lib.errors import NotFound
from service.lib.paging import Page, Paging, page_of
from service.members.rules import AreaFacts, AreaPermitFacts, decide_permit
from service.members.schemas import AreaPermitRead, AreaRead, ClubRead
from service.members.tables import Area, AreaPermit, Club

CLUB_ZONE = select(col(Club.zone)).limit(1).scalar_subquery().label("zone")  # none where nobody set one: UTC
CLUB_DAYS = (
    select(col(Club.exchange_on)).limit(1).scalar_subquery().label("exchange_on"),
    select(col(Club.grafting_on)).limit(1).scalar_subquery().label("grafting_on"),
)


def club(session: Session) -> ClubRead:
    """The club's settings; the defaults where nobody has set any yet."""
    row = session.execute(
        select(
            Club.name,
            Club.short_name,
            Club.zone,
            Club.recall_look_back_winters,
            Club.weekly_on,
            Club.weekly_hour,
            Club.exchange_on,
            Club.grafting_on,
            Club.last_backup_at,
            Club.version,
        )  # type: ignore[call-overload]
    ).first()
    return ClubRead() if row is None else ClubRead.model_validate(row)


def _areas() -> Select[Any]:
    return select(Area.id, Area.name, Area.authority, Area.note, Area.checked_on, Area.version)  # type: ignore[call-overload,no-any-return]


def get_area(session: Session, area_id: UUID) -> AreaRead:
    row = session.execute(_areas().where(col(Area.id) == area_id)).first()
    if row is None:
        raise NotFound("There is no such area.", id=str(area_id))
    return AreaRead.model_validate(row)


def list_areas(session: Session, paging: Paging) -> Page[AreaRead]:
    return page_of(
        session, _areas(), [(col(Area.name), False), (col(Area.id), False)], paging, AreaRead.model_validate
    )


def knows_several_areas(session: Session) -> bool:
    return len(session.execute(select(col(Area.id)).limit(2)).all()) > 1


def facts_for_areas(session: Session, area_ids: Iterable[UUID]) -> dict[UUID, AreaFacts]:
    wanted = set(area_ids)
    if not wanted:
        return {}
    rows = session.execute(
        select(Area.id, Area.name, Area.authority, Area.checked_on).where(col(Area.id).in_(wanted))  # type: ignore[call-overload]
    )
    return {row.id: AreaFacts(row.id, row.name, row.authority, row.checked_on) for row in rows}


def only_area(session: Session) -> AreaFacts | None:
    """The one area of a club that knows no other; None where there are several, or none."""
    rows = session.execute(select(Area.id, Area.name, Area.authority, Area.checked_on).limit(2)).all()  # type: ignore[call-overload]
    return (
        AreaFacts(rows[0].id, rows[0].name, rows[0].authority, rows[0].checked_on) if len(rows) == 1 else None
    )


def permit_for(
    session: Session, from_area: UUID, to_area: UUID, genus: str, day: date
) -> AreaPermitFacts | None:
    """The authority’s answer that counts on this day for wood of this genus between two areas, if there is one."""
    fits = (
        col(AreaPermit.from_area_id) == from_area,
        col(AreaPermit.to_area_id) == to_area,
        col(AreaPermit.answered_on) <= day,
        or_(col(AreaPermit.valid_until).is_(None), col(AreaPermit.valid_until) >= day),
        func.lower(AreaPermit.genus).in_(("", genus.lower())),
    )
    rows = session.execute(
        select(
            AreaPermit.id, AreaPermit.from_area_id, AreaPermit.to_area_id, AreaPermit.reference,
            AreaPermit.allows, AreaPermit.genus, AreaPermit.answered_on, AreaPermit.valid_until,
        ).where(*fits)  # type: ignore[call-overload]
    )  # fmt: skip
    return decide_permit(AreaPermitFacts(**row._asdict()) for row in rows)


def list_permits(session: Session, paging: Paging) -> Page[AreaPermitRead]:
    """All answers, the newest first."""
    there, here = aliased(Area), aliased(Area)
    statement: Select[Any] = (
        select(
            AreaPermit.id, AreaPermit.from_area_id, AreaPermit.to_area_id, AreaPermit.reference,
            AreaPermit.allows, AreaPermit.genus, AreaPermit.answered_on, AreaPermit.valid_until, AreaPermit.recorded_at,
            col(here.name).label("from_area_name"), col(there.name).label("to_area_name"),
        )  # type: ignore[call-overload]
        .join(here, here.id == AreaPermit.from_area_id)
        .join(there, there.id == AreaPermit.to_area_id)
    )  # fmt: skip
    keys = [(col(AreaPermit.recorded_at), True), (col(AreaPermit.id), False)]
    return page_of(session, statement, keys, paging, AreaPermitRead.model_validate)
