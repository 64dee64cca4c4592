"""The readings of a site's air by the hour: kept file by file, so that a file can be taken back and a late one completes a day."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from uuid import UUID

from sqlalchemy import bindparam, delete, select, update
from sqlmodel import Session, col

from service.lib.readings import DAY_SECONDS, pack_day, unpack_day
from service.lib.write import insert_rows, recorded_at
from service.members import queries as members
from service.trees import queries
from service.trees.queries.air_hours import Beside, all_of, readings_of_site
from service.trees.rules.air import AirPlan, last_over
from service.trees.rules.air_hours import DayOfAir, HourlyDays, days_around, days_in, days_of
from service.trees.tables import AirDay, AirFile, AirReadings, AirRecord


def keep_readings(session: Session, file: AirFile, beside: Beside, plan: AirPlan) -> None:
    """Keep what a file read, and give days that stand already the hours that came with it or later."""
    if beside.out:
        _put_right(session, file.site_id, beside)
    insert_rows(
        session, AirReadings,
        [
            {"file_id": file.id, "day": day, "site_id": file.site_id, "block": pack_day(part)}
            for day, part in beside.kept.days()
        ],
    )  # fmt: skip
    told = {day: (*beside.days[day], beside.hours[day]) for day in beside.touched(plan.changed)}
    _rewrite(session, file.site_id, told)


def _put_right(session: Session, site_id: UUID, beside: Beside) -> None:
    """Take out of earlier files the instants that this one says are otherwise."""
    import numpy as np

    days = sorted({at // DAY_SECONDS for at in beside.out})
    rows = session.execute(
        select(AirReadings).where(
            col(AirReadings.site_id) == site_id, col(AirReadings.day).between(days[0], days[-1])
        )
    ).scalars()
    for row in list(rows):
        stood = unpack_day(row.block)
        left = stood.pick(~np.isin(stood.at, list(beside.out)))
        if not len(left):
            session.delete(row)
        elif len(left) < len(stood):
            row.block = pack_day(left)
    session.flush()


def _rewrite(session: Session, site_id: UUID, told: Mapping[date, tuple[float, float, bytes | None]]) -> None:
    if not told:
        return
    session.connection().execute(
        update(AirDay.__table__)  # type: ignore[attr-defined]
        .where(col(AirDay.site_id) == site_id, col(AirDay.day) == bindparam("of_day"))
        .values(lowest_c=bindparam("low"), highest_c=bindparam("high"), hours=bindparam("own")),
        [{"of_day": day, "low": low, "high": high, "own": hours} for day, (low, high, hours) in told.items()],
    )


def take_readings_out(session: Session, file: AirFile) -> int:
    """Take out what a file read; days are made anew of what the other files read. How many of its days stand again."""
    gone = session.execute(
        delete(AirReadings).where(col(AirReadings.file_id) == file.id).execution_options(synchronize_session=False)
    ).rowcount  # type: ignore[attr-defined]  # fmt: skip
    if not gone or file.first_on is None or file.last_on is None:
        return 0
    zone = members.club(session).zone
    span = (file.last_on - file.first_on).days + 1
    days = days_around([file.first_on + timedelta(days=place) for place in range(span)])
    files = readings_of_site(session, file.site_id, days)
    found = days_of(all_of(list(files.values())), days, last_over(recorded_at(session), zone), zone)
    stood = queries.air_days(session, file.site_id, days[0], days[-1])
    _make_anew(session, file.site_id, found, stood, set(files))
    back = {day: air for day, air in found.days.items() if day not in stood}
    _bring_back(
        session, file.site_id, found, back, {name: set(days_in(one, zone)) for name, one in files.items()}
    )
    return len(back)


def _make_anew(
    session: Session, site_id: UUID, found: HourlyDays, stood: Mapping[date, DayOfAir], files: set[UUID]
) -> None:
    """Days that stood by the hour: by what is left of their hours; told by hand too, they stay as they were told."""
    by_hour = {day: one for day, one in stood.items() if one.hours is not None}
    lost = [day for day, one in by_hour.items() if day not in found.days and one.record_id in files]
    if lost:
        session.execute(
            delete(AirDay)
            .where(col(AirDay.site_id) == site_id, col(AirDay.day).in_(lost))
            .execution_options(synchronize_session=False)
        )
    told: dict[date, tuple[float, float, bytes | None]] = {}
    for day, one in by_hour.items():
        air = found.days.get(day)
        if air is not None and (one.record_id in files or air == one[:2]):
            told[day] = (*air, found.hours[day])
        elif day not in lost:
            told[day] = (one.lowest_c, one.highest_c, None)
    _rewrite(session, site_id, told)


def _bring_back(
    session: Session, site_id: UUID, found: HourlyDays, back: Mapping[date, tuple[float, float]], files: Mapping[UUID, set[date]]
) -> None:  # fmt: skip
    """Days that other files read too stand again, each under the record of one that read it."""
    if not back:
        return
    of_day = {day: min(name for name, days in files.items() if day in days) for day in back}
    names = set(of_day.values())
    there = set(session.execute(select(col(AirRecord.id)).where(col(AirRecord.id).in_(names))).scalars())
    missing = session.execute(select(AirFile).where(col(AirFile.id).in_(names - there))).scalars()
    insert_rows(
        session, AirRecord,
        [
            {
                "id": one.id, "site_id": site_id, "measured": one.measured, "recorded_at": one.settled_at or one.sent_at,
                "by_party_id": one.by_party_id, "for_party_id": one.for_party_id,
            }
            for one in missing
        ],
    )  # fmt: skip
    insert_rows(
        session, AirDay,
        [
            {"site_id": site_id, "day": day, "lowest_c": low, "highest_c": high, "record_id": of_day[day], "hours": found.hours[day]}
            for day, (low, high) in back.items()
        ],
    )  # fmt: skip
