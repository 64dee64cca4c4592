"""Writing down the air temperature of a site, day by day."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from uuid import UUID

from sqlalchemy import bindparam, update
from sqlmodel import Session, col

from service.lib.clock import check_day
from service.lib.write import insert_rows, recorded_at
from service.members import queries as members
from service.members.rules import Member
from service.trees import queries
from service.trees.rules.air import AirDays, AirPlan, check_over, plan_air
from service.trees.schemas import AirRecordCreate, AirRecordRead, AirTaken
from service.trees.tables import AirDay, AirRecord


def record_air(session: Session, member: Member, site_id: UUID, body: AirRecordCreate) -> AirTaken:
    """Enter days of a site's air, whole or not at all; a day told before takes the new values unless it is said otherwise.

    Raises `NoSuchSite`, `InTheFuture` for a day that has not come, `DayNotOver` for today, and `AirDiffers`.
    """
    queries.get_site(session, site_id)
    now = recorded_at(session)
    newest, zone = max(each.day for each in body.days), members.club(session).zone
    check_day(newest, now, zone, field="days")
    check_over(newest, now, zone)
    told = {each.day: (each.lowest_c, each.highest_c) for each in body.days}
    plan = plan_air(told, queries.days_that_stand(session, site_id, told), body.where_differing)
    return keep_air(session, member, site_id, (body.id, body.measured), told, plan)


def keep_air(
    session: Session, member: Member, site_id: UUID, known_as: tuple[UUID, str], told: AirDays, plan: AirPlan,
    hours: Mapping[date, bytes] | None = None,
) -> AirTaken:  # fmt: skip
    """Write days by a plan, under a record's identity and where they were measured; by the hour, where `hours` has them."""
    record_id, measured = known_as
    new, changed, own = plan.new, plan.changed, hours or {}
    record = {
        "id": record_id, "site_id": site_id, "measured": measured, "recorded_at": recorded_at(session),
        "by_party_id": member.party_id, "for_party_id": member.acting_for_id,
    }  # fmt: skip
    if new or changed:
        insert_rows(session, AirRecord, [record])
    insert_rows(
        session, AirDay,
        [
            {
                "site_id": site_id, "day": day, "lowest_c": told[day][0], "highest_c": told[day][1], "record_id": record_id,
                "hours": own.get(day),
            }
            for day in new
        ],
    )  # fmt: skip
    if changed:
        session.connection().execute(
            update(AirDay.__table__)  # type: ignore[attr-defined]
            .where(col(AirDay.site_id) == site_id, col(AirDay.day) == bindparam("of_day"))
            .values(
                lowest_c=bindparam("low"),
                highest_c=bindparam("high"),
                record_id=record_id,
                hours=bindparam("own"),
            ),
            [
                {"of_day": day, "low": told[day][0], "high": told[day][1], "own": own.get(day)}
                for day in changed
            ],
        )
    counted = AirRecordRead.model_validate({**record, "days": len(new) + len(changed)})
    return AirTaken(record=counted, new=len(new), same=plan.same, changed=len(changed), kept=plan.kept)
