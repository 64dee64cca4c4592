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
from service.lib.readings import HOUR_SECONDS
from service.members.queries import club
from service.storage.queries.contents import wood_in
from service.storage.queries.doses import days_of_stores
from service.storage.queries.hand import dials_between
from service.storage.queries.learned import ageing_known
from service.storage.queries.readings import Record, records_in_store
from service.storage.queries.stores import get_store
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
from service.storage.schemas.temps import CostRead

MOST_PRICED = 4
NOTHING_KNOWN_C = 5.0


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
    """The last so many days, today among them; at most twelve statements. Raises `NoSuchStore`."""
    zone = club(session).zone
    store, lying = get_store(session, store_id), wood_in(session, store_id)
    limits = limits_of(session, [each.bundle_id for each in lying])
    last = local_day(now, zone)
    first = last - timedelta(days=days - 1)
    span = Span(start_of_day(first, zone), now + timedelta(seconds=1))
    records = [one for one in records_in_store(session, store_id, span) if one.sensor is Sensor.AIR]
    dials = dials_between(session, [store_id], span).get(store_id, [])
    groups, limits = limits.groups, limits_to_draw(limits, store.kind)
    told = plan_days(_measured(records, zone), _by_hand(dials, zone), first, last, limits)
    found = join_alarms(alarms_of(records, dials, limits.freezing_c))
    alarms = [_alarm_read(alarm, second_of(now)) for alarm in found]
    _price(session, store_id, alarms, groups, (span.from_at or now, now))
    return StoreTempsRead(
        store_id=store_id, days=[DayTempsRead.model_validate(day) for day in told], low_c=limits.low_c, high_c=limits.high_c,
        freezing_c=limits.freezing_c, agree=limits.agree, mark=limits.mark, source=limits.source,
        alarms=sorted(alarms, key=lambda one: one.began_at), words=days_words(told, limits),
    )  # fmt: skip


def _price(
    session: Session, store_id: UUID, alarms: Sequence[AlarmRead], groups: Sequence[str], during: tuple[datetime, datetime]
) -> None:  # fmt: skip
    """What each of the latest spells cost the kinds of wood that lie here; two statements, none where nothing rang."""
    if not alarms or not groups:
        return
    from service.storage.rules.costs import cost_words, costs_of
    from service.storage.rules.doses import run_of

    first, last = (second_of(at) // HOUR_SECONDS for at in during)
    days = days_of_stores(session, [store_id], first, last).get(store_id, {})
    if not days:
        return
    # Hours of which nothing is known are no part of a spell; what they count as is the same with it and without.
    run, known = run_of(days, first, last, NOTHING_KNOWN_C), ageing_known(session)
    for alarm in sorted(alarms, key=lambda one: one.began_at)[-MOST_PRICED:]:
        begin = second_of(alarm.began_at) // HOUR_SECONDS
        ended = second_of(alarm.ended_at or during[1])
        costs = costs_of(run, begin, -(-ended // HOUR_SECONDS), groups, known)
        alarm.costs = [CostRead(group=one.group, days=round(one.days, 1), more=one.more) for one in costs]
        alarm.cost_words = cost_words(costs)


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
