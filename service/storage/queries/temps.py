"""What was measured in a store over some days, against what its wood bears."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import TypeAlias
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.bundles.tables import Bundle
from service.catalogue.tables import StorageLimit, Taxon
from service.collection.tables import Collection
from service.lib.clock import local_day, start_of_day
from service.lib.readings import DAY_SECONDS, HOUR_SECONDS, Column
from service.members.queries import club
from service.storage.queries.contents import groups_lying_in, wood_in
from service.storage.queries.hand import dials_at, dials_between
from service.storage.queries.own_limits import own_through
from service.storage.queries.pricing import price_spells
from service.storage.queries.readings import Record, records_in_store
from service.storage.queries.stores import get_store
from service.storage.rules import (
    UNKNOWN_WOOD,
    Alarm,
    AlarmKind,
    Excursion,
    GroupLimit,
    Sensor,
    Span,
    StoreLimits,
    days_words,
    dial_alarms,
    excursions,
    find_alarms,
    instant_of,
    join_alarms,
    limits_for,
    limits_to_draw,
    plan_days,
    second_of,
)
from service.storage.rules.beyond import (
    Beyond,
    KindsLimit,
    beyond_words,
    find_beyond,
    least_of,
    most_of,
    without_dials,
    without_hours,
)
from service.storage.rules.excursions import RingsBy, find_cold, find_warm
from service.storage.rules.own_limits import (
    Held,
    alarms_through,
    beside_rings,
    held_through,
    in_force,
    limits_told,
)
from service.storage.rules.ringing import dial_cold, dial_warm
from service.storage.rules.spans import MOST_IN_HOURS, DaysShown, plan_days_shown
from service.storage.rules.temps import (
    excursion_words,
    humidity_words,
    joined_excursions,
    measured_between,
    plan_hours,
)
from service.storage.schemas import AlarmRead, DayTempsRead, DialReadingRead, StoreTempsRead
from service.storage.schemas.temps import ExcursionRead, HourTempsRead, KindsBeyond, LimitRead, SpellRead

Series: TypeAlias = tuple[Column, Column]  # instants, and what was measured at them
MOST_EXCURSIONS = 200
WARMS_UP_SECONDS = (
    2 * DAY_SECONDS
)  # a store warms up slowly: so much before and after it is the heat that rang (judgement)
DAYS_AROUND = 8  # heat rings by the hours of seven days


def limits_of(session: Session, bundle_ids: Sequence[UUID]) -> StoreLimits:
    """What all of these bundles bear, and of how many nothing is known; as the tenderest where of none is. One statement."""
    if not bundle_ids:
        return limits_for([])
    statement = (
        select(col(Bundle.id), StorageLimit)
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .outerjoin(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(StorageLimit, col(StorageLimit.species_group) == col(Taxon.species_group))
        .where(col(Bundle.id).in_(list(bundle_ids)))
    )
    found = {row[0]: row[1] for row in session.execute(statement)}
    known = [limit for limit in found.values() if limit is not None]
    return replace(_limits(known), bundles=len(found), not_known=len(found) - len(known))


def limits_here(session: Session, store_ids: Iterable[UUID]) -> dict[UUID, StoreLimits]:
    """What all that lies in each of these stores now bears; at most two statements, none without a store."""
    ids = list(dict.fromkeys(store_ids))
    if not ids:
        return {}
    lying = groups_lying_in(session, ids)
    groups = sorted(set().union(*lying.values()))
    statement = select(StorageLimit).where(col(StorageLimit.species_group).in_(groups))
    rows = list(session.execute(statement).scalars()) if groups else []
    return {
        store_id: _limits(row for row in rows if row.species_group in lying[store_id]) if store_id in lying else limits_for([])
        for store_id in ids
    }  # fmt: skip


def _limits(found: Iterable[StorageLimit]) -> StoreLimits:
    rows = {row.species_group: row for row in found}
    if not rows:
        return UNKNOWN_WOOD
    return limits_for(
        GroupLimit(
            row.species_group, row.store_temp_min_c, row.store_temp_max_c, row.store_temp_mark, row.store_temp_source,
            row.freeze_kill10_c, row.freeze_mark, row.keep_weeks_min, row.keep_weeks_max, row.keep_mark, row.keep_source,
            row.humidity_rh_min_pct, row.humidity_mark, row.freeze_source,
        )
        for row in rows.values()
    )  # fmt: skip


def store_temps(
    session: Session, store_id: UUID, now: datetime, days: int, from_on: date | None = None
) -> StoreTempsRead:
    """So many days from a first on, or else the last so many; at most thirteen statements. Raises `NoSuchStore`, `NoSuchDays`."""
    zone = club(session).zone
    shown = plan_days_shown(from_on, days, local_day(now, zone))
    store, lying = get_store(session, store_id), wood_in(session, store_id)
    wood, told_own = limits_of(session, [each.bundle_id for each in lying]), own_through(session, store_id)
    limits = in_force(wood, told_own[-1].own) if told_own else wood
    groups, limits = limits.groups, limits_to_draw(limits, store.kind)
    around = _around(shown, zone, now)
    records = records_in_store(session, store_id, around)
    air = [(one.at, one.temp_c) for one in records if one.sensor is Sensor.AIR]
    dials = dials_between(session, [store_id], around).get(store_id, [])
    edges = [start_of_day(shown.first + timedelta(days=n), zone) for n in range(shown.count + 1)]
    damp, humidity_of = _damp(records, edges)
    told = plan_days(
        _by_day(air, shown, edges), _by_hand(dials, zone), shown.first, shown.last, limits, _by_day(damp, shown, edges)
    )  # fmt: skip
    rang = join_alarms(alarms_of(records, dials, held_through(wood, told_own)))
    alarms = [_alarm_read(alarm, second_of(now)) for alarm in rang if _is_within(alarm, edges)]
    too_cold, too_warm = (
        [spell_read(one, of) for one in found if _is_within(one.alarm, edges)]
        for found, of in (
            (too_cold_in(records, dials, limits, rang), least_of(limits)), (too_warm_in(records, dials, limits, rang), most_of(limits)),
        )
    )  # fmt: skip
    price_spells(session, store_id, [alarms, too_cold, too_warm], limits, groups, now, around.until_at or now)
    beyond = _beyond(air, edges, limits)
    return StoreTempsRead(
        store_id=store_id, from_at=edges[0], until_at=edges[-1], days=[DayTempsRead.model_validate(day) for day in told],
        hours=_hours(air, damp, edges, now, limits), low_c=limits.low_c, high_c=limits.high_c,
        freezing_c=limits.freezing_c, agree=limits.agree, mark=limits.mark, source=limits.source,
        humidity_of=humidity_of, humidity_min_pct=limits.humidity_min_pct, humidity_mark=limits.humidity_mark,
        excursions=_excursions_read(beyond), excursions_in_all=len(beyond),
        alarms=sorted(alarms, key=lambda one: one.began_at), words=days_words(told, limits),
        too_cold=sorted(too_cold, key=lambda one: one.began_at), cold_c=limits.cold_c,
        bundles=limits.bundles, not_known=limits.not_known,
        too_warm=sorted(too_warm, key=lambda one: one.began_at), warm_c=limits.warm_c, in_general=limits.in_general,
        limits=[LimitRead(name=one.name, words=one.words, whose=one.whose) for one in limits_told(limits)],
        excursion_words=excursion_words(beyond, limits) if any(day.low_c is not None and not day.by_hand for day in told) else "",
        humidity_words=humidity_words(told, humidity_of, limits) if humidity_of else "",
    )  # fmt: skip


def _around(shown: DaysShown, zone: str, now: datetime) -> Span:
    """The days with some around them: what rings may have gathered before, and goes on after."""
    begin = start_of_day(shown.first - timedelta(days=DAYS_AROUND), zone)
    end = start_of_day(shown.last + timedelta(days=1 + DAYS_AROUND), zone)
    return Span(begin, min(end, now + timedelta(seconds=1)))


def _is_within(alarm: Alarm, edges: Sequence[datetime]) -> bool:
    return alarm.last >= second_of(edges[0]) and alarm.began < second_of(edges[-1])


def _damp(records: Sequence[Record], edges: Sequence[datetime]) -> tuple[list[Series], Sensor | None]:
    """The instants and humidities of loggers in packs, or where no pack's is measured, of those in the store's air."""
    seconds = [second_of(at) for at in (edges[0], edges[-1])]
    for sensor in (Sensor.PACK, Sensor.AIR):
        found = [(one.at, one.humidity) for one in records if one.sensor is sensor]
        if any(measured_between(at, values, seconds) for at, values in found):
            return found, sensor
    return [], None


def alarms_of(
    records: Sequence[Record], dials: Iterable[DialReadingRead], held: Iterable[Held]
) -> list[Alarm]:
    """What loggers in the air of a store, and thermometers read by hand, tell of, by the limits that held then."""
    read = dials_at(dials)

    def find(by: RingsBy, until: int | None) -> list[Alarm]:
        found = dial_alarms([one for one in read if until is None or second_of(one.at) < until], by)
        for record in records:
            if record.sensor is Sensor.AIR:
                end = len(record.at) if until is None else int(record.at.searchsorted(until))
                found += find_alarms(record.at[:end], record.temp_c[:end], by)
        return found

    return alarms_through(held, find)


def too_cold_in(
    records: Sequence[Record], dials: Iterable[DialReadingRead], limits: StoreLimits, rang: Sequence[Alarm]
) -> list[Beyond]:
    """Where they tell of colder than kinds here like, beside what rang."""
    read = dials_at(dials)

    def find(cold_c: float) -> list[Alarm]:
        found = dial_cold(read, cold_c)
        for record in records:
            if record.sensor is Sensor.AIR:
                found += find_cold(record.at, record.temp_c, cold_c)
        return beside_rings(join_alarms(found), rang)

    return find_beyond(least_of(limits), find)


def too_warm_in(
    records: Sequence[Record], dials: Iterable[DialReadingRead], limits: StoreLimits, rang: Sequence[Alarm]
) -> list[Beyond]:
    """Where they tell of warmer than kinds here like, for so long that it is told, without the days around heat that rang."""
    read = dials_at(dials)
    heat = [
        (one.began - WARMS_UP_SECONDS, one.last + WARMS_UP_SECONDS)
        for one in rang
        if one.kind is AlarmKind.HEAT
    ]

    def find(warm_c: float) -> list[Alarm]:
        found = dial_warm(without_dials(read, heat, warm_c), warm_c)
        for record in records:
            if record.sensor is Sensor.AIR:
                temp_c = without_hours(record.at, record.temp_c, heat, warm_c)
                found += find_warm(record.at, temp_c, warm_c, limits.warm_hours)
        return join_alarms(found)

    return find_beyond(most_of(limits), find)


def _by_day(
    columns: Sequence[Series], shown: DaysShown, edges: Sequence[datetime]
) -> list[tuple[date, float]]:
    """The lowest and the highest of each day of each logger, by the club's days."""
    found = []
    seconds = [second_of(at) for at in edges]
    for at, values in columns:
        for one in measured_between(at, values, seconds):
            day = shown.first + timedelta(days=one.place)
            found += [(day, one.low), (day, one.high)]
    return found


def _hours(
    air: Sequence[Series], damp: Sequence[Series], edges: Sequence[datetime], now: datetime, limits: StoreLimits
) -> list[HourTempsRead]:  # fmt: skip
    """Hour by hour, where the days are few and a logger measured in them."""
    if len(edges) - 1 > MOST_IN_HOURS:
        return []
    end = min(second_of(edges[-1]), second_of(now))
    begins = list(range(second_of(edges[0]), end, HOUR_SECONDS))
    ends = [*begins, begins[-1] + HOUR_SECONDS] if begins else [end, end]
    measured = [one for at, temps in air for one in measured_between(at, temps, ends)]
    wet = [one for at, values in damp for one in measured_between(at, values, ends)]
    if not measured and not wet:
        return []
    told = plan_hours(measured, wet, [instant_of(at) for at in begins], limits)
    return [HourTempsRead.model_validate(hour) for hour in told]


def _beyond(air: Sequence[Series], edges: Sequence[datetime], limits: StoreLimits) -> list[Excursion]:  # fmt: skip
    """What loggers told beyond good storage in these days, each stretch once."""
    found = []
    for at, temps in air:
        there = (at >= second_of(edges[0])) & (at < second_of(edges[-1]))
        found += excursions(at[there], temps[there], limits)
    return joined_excursions(found)


def _excursions_read(found: Sequence[Excursion]) -> list[ExcursionRead]:
    longest = sorted(found, key=lambda one: -one.hours)[:MOST_EXCURSIONS]
    return [
        ExcursionRead(
            began_at=instant_of(one.begin), ended_at=instant_of(one.end) if one.ended else None, hours=round(one.hours, 1),
            extreme_c=round(one.extreme_c, 2), above=one.above,
        )
        for one in sorted(longest, key=lambda one: one.begin)
    ]  # fmt: skip


def _by_hand(dials: Sequence[DialReadingRead], zone: str) -> list[tuple[date, float, float]]:
    found = []
    for dial in dials:
        numbers = [value for value in (dial.now_c, dial.lowest_c, dial.highest_c) if value is not None]
        found.append((local_day(dial.read_at, zone), min(numbers), max(numbers)))
    return found


def spell_read(one: Beyond, of: Sequence[KindsLimit]) -> SpellRead:
    alarm = one.alarm
    return SpellRead(
        began_at=instant_of(alarm.began), ended_at=None if alarm.ended is None else instant_of(alarm.ended),
        extreme_c=round(alarm.extreme_c, 2), hours=round(alarm.hours, 1), by_hand=alarm.by_hand, remembered=alarm.remembered,
        words=beyond_words(one, of),
        kinds=[KindsBeyond(limit_c=each.limit_c, groups=list(each.groups), hours=round(hours, 1)) for each, hours in one.limits],
    )  # fmt: skip


def _alarm_read(alarm: Alarm, now: int) -> AlarmRead:
    return AlarmRead(
        kind=alarm.kind, began_at=instant_of(alarm.began), rang_at=instant_of(alarm.rang),
        ended_at=None if alarm.ended is None else instant_of(alarm.ended), extreme_c=round(alarm.extreme_c, 2),
        hours=round(alarm.hours, 1), by_hand=alarm.by_hand, remembered=alarm.remembered,
        rings=alarm.rings_at(now),
    )  # fmt: skip
