"""What was measured in a store over some weeks, against what its wood bears."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlmodel import Session, col

from service.bundles.tables import Bundle
from service.catalogue.tables import StorageLimit, Taxon
from service.collection.tables import Collection
from service.lib.clock import local_day, start_of_day
from service.members.queries import club
from service.storage.queries.contents import lying_in_store
from service.storage.queries.hand import dials_between
from service.storage.queries.readings import Record, records_in_store
from service.storage.rules import (
    UNKNOWN_WOOD,
    Alarm,
    DialAt,
    GroupLimit,
    Sensor,
    Span,
    StoreLimits,
    days_words,
    dial_alarms,
    find_alarms,
    instant_of,
    join_alarms,
    limits_for,
    limits_to_draw,
    plan_days,
    second_of,
)
from service.storage.schemas import AlarmRead, DayTempsRead, DialReadingRead, StoreTempsRead


def limits_of(session: Session, bundle_ids: Sequence[UUID]) -> StoreLimits:
    """What all of these bundles bear; fruit and nut scions in general where no group of them is known. One statement."""
    if not bundle_ids:
        return limits_for([])
    statement = (
        select(StorageLimit)
        .join(Taxon, col(Taxon.species_group) == col(StorageLimit.species_group))
        .join(Collection, col(Collection.taxon_id) == col(Taxon.id))
        .join(Bundle, col(Bundle.collection_id) == col(Collection.id))
        .where(col(Bundle.id).in_(list(bundle_ids)))
    )
    rows = {row.species_group: row for row in session.execute(statement).scalars()}
    if not rows:
        return UNKNOWN_WOOD
    return limits_for(
        GroupLimit(
            row.species_group, row.store_temp_min_c, row.store_temp_max_c, row.store_temp_mark, row.store_temp_source,
            row.freeze_kill10_c, row.freeze_mark, row.keep_weeks_min, row.keep_weeks_max, row.keep_mark, row.keep_source,
        )
        for row in rows.values()
    )  # fmt: skip


def store_temps(session: Session, store_id: UUID, now: datetime, days: int) -> StoreTempsRead:
    """The last so many days, today among them; at most eleven statements. Raises `NoSuchStore`."""
    zone = club(session).zone
    lying = lying_in_store(session, store_id)
    limits = limits_of(session, [each.bundle_id for each in lying])
    last = local_day(now, zone)
    first = last - timedelta(days=days - 1)
    span = Span(start_of_day(first, zone), now + timedelta(seconds=1))
    records = [one for one in records_in_store(session, store_id, span) if one.sensor is Sensor.AIR]
    dials = dials_between(session, [store_id], span).get(store_id, [])
    limits = limits_to_draw(limits)
    told = plan_days(_measured(records, zone), _by_hand(dials, zone), first, last, limits)
    alarms = [
        _alarm_read(alarm, second_of(now))
        for alarm in join_alarms(alarms_of(records, dials, limits.freezing_c))
    ]
    return StoreTempsRead(
        store_id=store_id, days=[DayTempsRead.model_validate(day) for day in told], low_c=limits.low_c, high_c=limits.high_c,
        freezing_c=limits.freezing_c, agree=limits.agree, mark=limits.mark, source=limits.source,
        alarms=sorted(alarms, key=lambda one: one.began_at), words=days_words(told, limits),
    )  # fmt: skip


def dials_at(dials: Iterable[DialReadingRead]) -> list[DialAt]:
    return [
        DialAt(one.read_at, one.now_c, one.lowest_c, one.highest_c, one.reset_done, one.place_id)
        for one in dials
    ]


def alarms_of(
    records: Iterable[Record], dials: Iterable[DialReadingRead], freezing_c: float | None
) -> list[Alarm]:
    """What loggers in the air of a store, and thermometers read by hand, tell of."""
    found = dial_alarms(dials_at(dials), freezing_c)
    for record in records:
        if record.sensor is Sensor.AIR:
            found += find_alarms(record.at, record.temp_c, freezing_c)
    return found


def _measured(records: Sequence[Record], zone: str) -> list[tuple[date, float]]:
    """The lowest and the highest of each day of each logger, by the club's days."""
    import numpy as np

    found = []
    for record in records:
        days = [instant_of(at).astimezone(ZoneInfo(zone)).date().toordinal() for at in record.at.tolist()]
        _, begins = np.unique(np.array(days), return_index=True)
        lows = np.minimum.reduceat(record.temp_c, begins).tolist()
        highs = np.maximum.reduceat(record.temp_c, begins).tolist()
        for begin, low, high in zip(begins.tolist(), lows, highs, strict=True):
            day = date.fromordinal(days[begin])
            found += [(day, low), (day, high)]
    return found


def _by_hand(dials: Sequence[DialReadingRead], zone: str) -> list[tuple[date, float, float]]:
    found = []
    for dial in dials:
        numbers = [value for value in (dial.now_c, dial.lowest_c, dial.highest_c) if value is not None]
        found.append((local_day(dial.read_at, zone), min(numbers), max(numbers)))
    return found


def _alarm_read(alarm: Alarm, now: int) -> AlarmRead:
    return AlarmRead(
        kind=alarm.kind, began_at=instant_of(alarm.began), rang_at=instant_of(alarm.rang),
        ended_at=None if alarm.ended is None else instant_of(alarm.ended), extreme_c=round(alarm.extreme_c, 2),
        hours=round(alarm.hours, 1), rings=alarm.rings_at(now),
    )  # fmt: skip
