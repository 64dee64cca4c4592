"""The hours of stores that wood ages by: as they are kept, and as the readings of now make them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.lib.readings import DAY_SECONDS
from service.storage.queries.hand import dials_between
from service.storage.queries.loggers import spells_of_loggers
from service.storage.queries.readings import records_in_store
from service.storage.rules import Sensor, Span, day_of, number_of, second_of
from service.storage.tables import StoreDay, StoreRecord

if TYPE_CHECKING:
    from service.storage.rules.doses import DayHours


@dataclass(frozen=True)
class StoreDays:
    """What is to be written of a store's hours: days anew or changed, and days that are gone. `version`: as it was read."""

    store_id: UUID
    version: int
    changed: Mapping[date, tuple[int, bytes]]
    gone: frozenset[date]

    @property
    def first(self) -> date | None:
        return min([*self.changed, *self.gone], default=None)


def see_days(session: Session, store_id: UUID) -> StoreDays:
    """A store's hours put together from all that was measured there, held against those kept; at most eight statements."""
    from service.storage.rules.doses import days_of_store, dry_hours, pack_hours, without_hours

    version = session.execute(
        select(col(StoreRecord.version)).where(col(StoreRecord.store_id) == store_id)
    ).scalar()
    kept = {
        row.day: row.data
        for row in session.execute(
            select(col(StoreDay.day), col(StoreDay.data)).where(col(StoreDay.store_id) == store_id)
        )
    }
    records = records_in_store(session, store_id, Span())
    told = [(one.sensor, one.hours()) for one in records]
    air = [hours for sensor, hours in told if sensor is Sensor.AIR]
    # What hangs in a pack is as warm as the air in the end; it stands in for the hours in which nothing hung in the air.
    # How damp it is in there is its own wood's alone: of the store's air it says nothing.
    packs = without_hours((dry_hours(hours) for sensor, hours in told if sensor is not Sensor.AIR), air)
    dials = [
        (second_of(one.read_at), float(one.now_c))
        for one in dials_between(session, [store_id], Span()).get(store_id, [])
        if one.now_c is not None
    ]
    days = days_of_store([*air, *packs], dials)
    packed = {day_of(day): (hours.measured, pack_hours(hours)) for day, hours in days.items()}
    changed = {day: told for day, told in packed.items() if kept.get(day) != told[1]}
    return StoreDays(store_id, version or 0, changed, frozenset(kept) - frozenset(packed))


def days_of_stores(
    session: Session, store_ids: Iterable[UUID], first_hour: int, last_hour: int
) -> dict[UUID, dict[int, DayHours]]:
    """The kept hours of stores by day (since the beginning of 1970); one statement."""
    from service.storage.rules.doses import unpack_hours

    found: dict[UUID, dict[int, DayHours]] = {}
    rows = session.execute(
        select(col(StoreDay.store_id), col(StoreDay.day), col(StoreDay.data)).where(
            col(StoreDay.store_id).in_(list(store_ids)),
            col(StoreDay.day).between(
                day_of(first_hour * 3600 // DAY_SECONDS), day_of(last_hour * 3600 // DAY_SECONDS)
            ),
        )
    )
    for row in rows:
        found.setdefault(row.store_id, {})[number_of(row.day)] = unpack_hours(row.data)
    return found


def stores_of_loggers_ever(session: Session, logger_ids: Iterable[UUID]) -> list[UUID]:
    """Every store where one of these ever hung; two statements."""
    spells = spells_of_loggers(session, logger_ids)
    return sorted({spell.store_id for spell in spells if spell.store_id is not None})
