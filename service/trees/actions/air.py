"""Writing down the air temperature of a site, day by day."""

from __future__ import annotations

from uuid import UUID

from sqlalchemy import bindparam, update
from sqlmodel import Session, col

from service.lib.clock import check_day
from service.lib.write import insert_rows, recorded_at
from service.members import queries as members
from service.members.rules import Member
from service.trees import queries
from service.trees.schemas import AirRecordCreate, AirRecordRead, AirTaken
from service.trees.tables import AirDay, AirRecord


def record_air(session: Session, member: Member, site_id: UUID, body: AirRecordCreate) -> AirTaken:
    """Enter days of a site's air, whole or not at all; a day told before takes the new values.

    Raises `NoSuchSite`, and `InTheFuture` for a day that has not come.
    """
    queries.get_site(session, site_id)
    now = recorded_at(session)
    check_day(max(each.day for each in body.days), now, members.club(session).zone, field="days")
    told = {each.day: (each.lowest_c, each.highest_c) for each in body.days}
    stood = queries.days_that_stand(session, site_id, told)
    new = [day for day in told if day not in stood]
    changed = [day for day in told if day in stood and stood[day] != told[day]]
    record = {
        "id": body.id, "site_id": site_id, "measured": body.measured, "recorded_at": now,
        "by_party_id": member.party_id, "for_party_id": member.acting_for_id,
    }  # fmt: skip
    if new or changed:
        insert_rows(session, AirRecord, [record])
    insert_rows(
        session, AirDay,
        [
            {"site_id": site_id, "day": day, "lowest_c": told[day][0], "highest_c": told[day][1], "record_id": body.id}
            for day in new
        ],
    )  # fmt: skip
    if changed:
        session.connection().execute(
            update(AirDay.__table__)  # type: ignore[attr-defined]
            .where(col(AirDay.site_id) == site_id, col(AirDay.day) == bindparam("of_day"))
            .values(lowest_c=bindparam("low"), highest_c=bindparam("high"), record_id=body.id),
            [{"of_day": day, "low": told[day][0], "high": told[day][1]} for day in changed],
        )
    counted = AirRecordRead.model_validate({**record, "days": len(new) + len(changed)})
    return AirTaken(
        record=counted, new=len(new), same=len(told) - len(new) - len(changed), changed=len(changed)
    )
