"""The hours of a site's air as files brought them, and what a new file makes of its days together with them."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.lib.clock import local_day
from service.lib.readings import Readings, merge, no_readings, unpack_day
from service.lib.temperatures import WhereDiffering
from service.lib.whole_times import instant_of
from service.trees.queries.air import air_days
from service.trees.rules.air_files import AirTold
from service.trees.rules.air_hours import DayOfAir, HourlyDays, days_around, days_in, days_of, utc_days
from service.trees.tables import AirReadings


@dataclass
class Beside:
    """A file's days beside what stands: what the record has of them, what differs, and their hours with those of other files."""

    days: dict[date, tuple[float, float]]
    stood: dict[date, DayOfAir]
    differing: list[date]
    hours: dict[date, bytes] = field(default_factory=dict)
    late: list[date] = field(default_factory=list)  # days by the hour that take in what came later
    clashing: set[date] = field(default_factory=set)  # days of which some instant says something else
    kept: Readings = field(default_factory=no_readings)  # of this file
    out: frozenset[int] = frozenset()  # instants of other files that this one puts right

    @property
    def new(self) -> int:
        return sum(day not in self.stood for day in self.days)

    def values(self) -> dict[date, tuple[float, float]]:
        """What stands of the file's days; a day by the hour goes along with what came later, unless it was said otherwise."""
        late = set(self.late) - (self.clashing if self.out else set())
        return {
            day: self.days[day] if day in late else one[:2]
            for day, one in self.stood.items()
            if day in self.days
        }

    def touched(self, changed: Collection[date]) -> list[date]:
        """Days that stand and only gain hours, or take in later ones."""
        gain = (
            day for day, one in self.stood.items()
            if one.hours is None and day in self.hours and self.days.get(day) == one[:2]
        )  # fmt: skip
        return sorted({*self.late, *gain} - set(changed))


def readings_of_site(session: Session, site_id: UUID, days: Collection[date]) -> dict[UUID, Readings]:
    """What each file read of these days and the hours around them; one statement."""
    first, last = utc_days(days)
    rows = session.execute(
        select(col(AirReadings.file_id), col(AirReadings.block))
        .where(col(AirReadings.site_id) == site_id, col(AirReadings.day).between(first, last))
        .order_by(col(AirReadings.day), col(AirReadings.file_id))
    )
    found: dict[UUID, list[Readings]] = {}
    for row in rows:
        found.setdefault(row.file_id, []).append(unpack_day(row.block))
    return {file_id: all_of(parts) for file_id, parts in found.items()}


def all_of(parts: Collection[Readings]) -> Readings:
    """Readings of several files as one; the same instant once."""
    found = no_readings()
    for part in parts:
        found = merge(found, part).readings
    return found


def look_beside(
    session: Session, site_id: UUID, told: AirTold, club_days: tuple[date, str], where: WhereDiffering
) -> Beside:
    """A file's days beside those that stand; two statements, one for a file by the day.

    `club_days`: the last day that is over, and the zone. `where`: which of two readings of one instant counts.
    """
    if not len(told.readings):
        stood = air_days(session, site_id, min(told.days), max(told.days)) if told.days else {}
        differing = [day for day, air in told.days.items() if day in stood and stood[day][:2] != air]
        return Beside(told.days, stood, differing)
    over_to, zone = club_days
    own = days_in(told.readings, zone)
    around = days_around(own)
    stood = air_days(session, site_id, around[0], around[-1])
    files = all_of(list(readings_of_site(session, site_id, around).values()))
    joined = merge(files, told.readings)
    clashing = [int(told.readings.at[place]) for place in joined.differing]
    kept, out = told.readings, frozenset[int]()
    if clashing and where is WhereDiffering.KEEP:
        kept = _without(kept, clashing)
    elif clashing:
        files, out = _without(files, clashing), frozenset(clashing)
    found = days_of(merge(files, kept).readings, around, over_to, zone)
    return _beside(found, stood, own, {local_day(instant_of(at), zone) for at in clashing}, kept, out)


def _beside(
    found: HourlyDays, stood: dict[date, DayOfAir], own: list[date], clashing: set[date], kept: Readings, out: frozenset[int]
) -> Beside:  # fmt: skip
    by_hour = {day for day, one in stood.items() if one.hours is not None}
    # A neighbour of the file's days takes in an hour at midnight; it is no day of the file.
    differing = clashing | {
        day for day, air in found.days.items()
        if day in own and day in stood and day not in by_hour and stood[day][:2] != air
    }  # fmt: skip
    late = [
        day for day in found.days
        if day in by_hour and stood[day] != (*found.days[day], stood[day].record_id, found.hours[day])
    ]  # fmt: skip
    days = {day: found.days[day] for day in found.days if day in own or day in late}
    return Beside(days, stood, sorted(differing), found.hours, late, clashing, kept, out)


def _without(readings: Readings, instants: Collection[int]) -> Readings:
    import numpy as np

    return readings.pick(~np.isin(readings.at, list(instants)))
