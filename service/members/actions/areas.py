"""The club's settings, plant-health areas, and what the authority answered."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from uuid import UUID

from sqlalchemy import update
from sqlmodel import Session

from service.lib.clock import check_day
from service.lib.database import insert_of, new_id
from service.lib.write import insert_rows, recorded_at
from service.members import queries
from service.members.actions.following import note_everything_changed
from service.members.actions.versions import change_row, remove_unused
from service.members.rules import Member, UnknownArea
from service.members.schemas import (
    AreaCreate,
    AreaPermitCreate,
    AreaPermitRead,
    AreaRead,
    AreaUpdate,
    ClubRead,
    ClubUpdate,
)
from service.members.tables import Area, AreaPermit, Club


def ensure_club(session: Session) -> ClubRead:
    """The club's one row, made where it is not there yet."""
    defaults = Club().model_dump(exclude_none=True)
    session.execute(insert_of(session, Club).values(**defaults).on_conflict_do_nothing())
    return queries.club(session)


def note_backup(session: Session, at: datetime) -> None:
    """Keep when the record was last backed up; no new version, so that an open form can still be sent."""
    noted = update(Club).values(last_backup_at=at).returning(Club.id)  # type: ignore[call-overload]
    if session.execute(noted).first() is None:
        ensure_club(session)
        session.execute(noted)


def change_club(session: Session, member: Member, body: ClubUpdate, version: int) -> ClubRead:
    ensure_club(session)
    zone = queries.club(session).zone
    change_row(session, Club, 1, version, body.told())
    if body.zone is not None and body.zone != zone:  # days are told in it
        note_everything_changed(session)
    return queries.club(session)


def add_areas(session: Session, member: Member, body: list[AreaCreate]) -> list[AreaRead]:
    rows = [{**area.model_dump(), "id": area.id or new_id(), "version": 1} for area in body]
    insert_rows(session, Area, rows)
    return [AreaRead.model_validate(row) for row in rows]


def remove_areas(session: Session, area_ids: Collection[UUID]) -> None:
    """Areas that were entered by mistake and are named nowhere."""
    remove_unused(session, Area, area_ids)


def change_area(session: Session, member: Member, area_id: UUID, body: AreaUpdate, version: int) -> AreaRead:
    change_row(session, Area, area_id, version, body.told())
    if body.name is not None:  # every answer tells in which area the wood grew
        note_everything_changed(session)
    return queries.get_area(session, area_id)


def record_permits(session: Session, member: Member, body: list[AreaPermitCreate]) -> list[AreaPermitRead]:
    """Record what the authority answered; never changed, only followed by newer answers."""
    now = recorded_at(session)
    zone = queries.club(session).zone
    areas = queries.facts_for_areas(
        session, {end for permit in body for end in (permit.from_area_id, permit.to_area_id)}
    )
    rows, answers = [], []
    for permit in body:
        check_day(permit.answered_on, now, zone, field="answered_on")
        for end in (permit.from_area_id, permit.to_area_id):
            if end not in areas:
                raise UnknownArea("An end of this crossing is not an area of the record.", id=str(end))
        row = {**permit.model_dump(), "id": permit.id or new_id(), "recorded_at": now}
        names = {
            "from_area_name": areas[permit.from_area_id].name,
            "to_area_name": areas[permit.to_area_id].name,
        }
        answers.append(AreaPermitRead.model_validate({**row, **names}))
        rows.append({**row, "by_party_id": member.party_id})
    insert_rows(session, AreaPermit, rows)
    return answers
