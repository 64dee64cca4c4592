"""What a week was in the stores of a host."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlmodel import Session, col

from service.bundles.tables import Bundle
from service.catalogue.tables import StorageLimit, Taxon
from service.collection.tables import Collection
from service.lib.clock import local_day
from service.lib.codes import group_code
from service.lib.logged import HELD_HOURS, find_gaps
from service.lib.readings import HOUR_SECONDS, Column
from service.members import queries as member_queries
from service.members.queries import club
from service.members.rules import LetterKind
from service.members.tables import Party
from service.storage.queries.contents import lying_in_store
from service.storage.queries.due import checks_due
from service.storage.queries.hand import dials_between, fruit_in
from service.storage.queries.keeping import keeping_of_all
from service.storage.queries.loggers import loggers_in_store, spells_of_loggers
from service.storage.queries.looks import last_checks
from service.storage.queries.own_limits import own_through
from service.storage.queries.pricing import price_spells
from service.storage.queries.quiet import silent_of
from service.storage.queries.readings import Record, records_in_store
from service.storage.queries.ringing import list_rings
from service.storage.queries.stores import stores_of_host
from service.storage.queries.temps import alarms_of, limits_of, spell_read, too_cold_in, too_warm_in
from service.storage.rules import (
    Call,
    FruitHere,
    Gap,
    KeptWood,
    Rang,
    Sensor,
    Span,
    StoreLimits,
    StoreWeek,
    WeekTemps,
    instant_of,
    is_letter_due,
    join_alarms,
    limits_to_draw,
    plan_late,
    plan_use_first,
    second_of,
    week_temps,
    worst_of,
)
from service.storage.rules.beyond import least_of, most_of
from service.storage.rules.own_limits import held_through, in_force
from service.storage.rules.reaching import club_days
from service.storage.rules.weekly import Silent, ToldSpell, last_moment, next_moment
from service.storage.schemas import ContentRead, DialReadingRead, StoreRead
from service.storage.schemas.temps import SpellRead
from service.storage.tables import Logger, Store


def hosts_to_write_to(session: Session, now: datetime) -> dict[UUID, datetime]:
    """Whose weekly letter is to be written, and when: now, or the next moment where it is their first. Three statements."""
    settings = club(session)
    hosts = list(
        session.execute(
            select(col(Store.host_id))
            .join(Party, col(Party.id) == col(Store.host_id))
            .where(col(Store.closed_at).is_(None), col(Party.forgotten_at).is_(None))
            .distinct()
        ).scalars()
    )
    if not hosts:
        return {}
    last = member_queries.last_made(session, LetterKind.WEEKLY, hosts)
    when = (settings.weekly_on, settings.weekly_hour, settings.zone)
    return {
        host: now if host in last else next_moment(now, *when)
        for host in hosts
        if is_letter_due(now, last.get(host), *when)
    }


def last_weekly_moment(session: Session, now: datetime) -> datetime:
    """The latest moment for letters by now, as the club has it today; one statement."""
    settings = club(session)
    return last_moment(now, settings.weekly_on, settings.weekly_hour, settings.zone)


def weeks_of_host(session: Session, host_id: UUID, begins: datetime, ends: datetime) -> list[StoreWeek]:
    """The week of each open store of a host, by name; some twenty statements a store."""
    return [_week(session, store, begins, ends) for store in stores_of_host(session, host_id)]


def _week(session: Session, store: StoreRead, begins: datetime, ends: datetime) -> StoreWeek:
    settings = club(session)
    zone = settings.zone
    lying = lying_in_store(session, store.id)
    wood, own = limits_of(session, [each.bundle_id for each in lying]), own_through(session, store.id)
    limits = limits_to_draw(in_force(wood, own[-1].own) if own else wood, store.kind)
    span = Span(begins, ends)
    hung = records_in_store(session, store.id, span)
    records = [one for one in hung if one.sensor is Sensor.AIR]
    rings = [one for one in list_rings(session, begins, [store.id]) if one.withdrawn_at is None and one.recorded_at < ends]  # fmt: skip
    today, since = local_day(ends, zone), local_day(begins, zone)
    kept = _kept_wood(session, lying)
    dials = dials_between(session, [store.id], span).get(store.id, [])
    rang = join_alarms(alarms_of(records, dials, held_through(wood, own)))
    cold = [spell_read(one, least_of(limits)) for one in too_cold_in(records, dials, limits, rang)]
    warm = [spell_read(one, most_of(limits)) for one in too_warm_in(records, dials, limits, rang)]
    price_spells(session, store.id, [cold, warm], limits, wood.groups, ends, ends)
    silent = silent_of(session, loggers_in_store(session, store.id), ends)
    return StoreWeek(
        store.name, limits, len(lying), _logged(records, limits),
        _dialled(dials),
        [
            Rang(one.kind, _local(one.began_at, zone), one.ended_at and _local(one.ended_at, zone), one.extreme_c, one.told_at is not None)
            for one in rings
        ],
        _gaps(session, store.id, hung, span, zone, {one.logger_id for one in silent}),
        [f"{each.variety} ({_code(each.code or each.parent_code)}): {each.words}" for each in checks_due(session, store.id, ends)],
        [
            FruitHere(each.what, each.from_on, each.until_on)
            for each in fruit_in(session, [store.id]).get(store.id, [])
            if each.from_on <= today and (each.until_on is None or each.until_on >= since)
        ],
        plan_use_first(kept, today), plan_late(kept, club_days(settings.exchange_on, settings.grafting_on), today),
        [_spell(one, zone) for one in cold],
        [Silent(one.logger_name, _local(one.from_at, zone)) for one in silent],
        [_spell(one, zone) for one in warm],
    )  # fmt: skip


def _spell(one: SpellRead, zone: str) -> ToldSpell:
    ended = None if one.ended_at is None else _local(one.ended_at, zone)
    return ToldSpell(_local(one.began_at, zone), ended, one.extreme_c, one.words, one.cost_words)


def _local(at: datetime, zone: str) -> datetime:
    return at.astimezone(ZoneInfo(zone))


def _code(code: str | None) -> str:
    return group_code(code) if code else "a stick flag"


def _logged(records: Sequence[Record], limits: StoreLimits) -> WeekTemps | None:
    """Of several loggers the lowest and the highest of all, and of the hours beyond the most that one of them tells."""
    told = [one for record in records if (one := week_temps(record.at, record.temp_c, limits)) is not None]
    if not told:
        return None
    hours = sum(one.hours for one in told)
    mean = sum(one.mean_c * one.hours for one in told) / hours if hours else told[0].mean_c
    return WeekTemps(
        min(one.low_c for one in told), mean, max(one.high_c for one in told), max(one.hours for one in told),
        max(one.hours_above for one in told), max(one.hours_below for one in told),
    )  # fmt: skip


def _dialled(dials: Iterable[DialReadingRead]) -> tuple[float, float] | None:
    numbers = [
        value for one in dials for value in (one.now_c, one.lowest_c, one.highest_c) if value is not None
    ]
    return (min(numbers), max(numbers)) if numbers else None


def _gaps(
    session: Session, store_id: UUID, records: Sequence[Record], span: Span, zone: str, silent: set[UUID]
) -> list[Gap]:  # fmt: skip
    """Where a logger in use that hung there wrote nothing for more than three hours (judgement), up to both ends.

    Of one that is `silent` its silence is told instead.
    """
    spells = [
        (spell.logger_id, during)
        for spell in spells_of_loggers(session)
        if spell.store_id == store_id and (during := spell.span.overlap(span)) is not None
    ]
    names = _in_use(session, {logger_id for logger_id, _ in spells})
    found = []
    for logger_id, during in spells:
        if logger_id in names and during.from_at is not None and during.until_at is not None:
            begin, end = second_of(during.from_at), second_of(during.until_at)
            found += [
                Gap(names[logger_id], _local(instant_of(first), zone), _local(instant_of(last), zone))
                for first, last in _unwritten(_at_of(records, logger_id), begin, end)
                if logger_id not in silent or last < end
            ]
    return sorted(found, key=lambda gap: (gap.begin, gap.logger))


def _in_use(session: Session, logger_ids: set[UUID]) -> dict[UUID, str]:
    """Names of those that are not retired; one statement."""
    rows = session.execute(
        select(col(Logger.id), col(Logger.name)).where(
            col(Logger.id).in_(logger_ids), col(Logger.retired_at).is_(None)
        )
    )
    return {row.id: row.name for row in rows}


def _at_of(records: Sequence[Record], logger_id: UUID) -> Column:
    import numpy as np

    return np.concatenate([np.empty(0, np.int64), *(one.at for one in records if one.logger_id == logger_id)])


def _unwritten(at: Column, begin: int, end: int) -> list[tuple[int, int]]:
    within = at[(at >= begin) & (at <= end)]
    if not len(within):
        return [(begin, end)]
    edges = [(begin, int(within[0])), (int(within[-1]), end)]
    outer = [edge for edge in edges if edge[1] - edge[0] > HELD_HOURS * HOUR_SECONDS]
    return sorted({*find_gaps(within), *outer})


def _kept_wood(session: Session, lying: Sequence[ContentRead]) -> list[KeptWood]:
    lying = [each for each in lying if not each.open_stops]
    if not lying:
        return []
    looks = last_checks(session, [each.bundle_id for each in lying])
    kept = _kept_for(session, [each.bundle_id for each in lying])
    reckoned = keeping_of_all(session, [each.bundle_id for each in lying])
    wood = []
    for each in lying:
        told = reckoned.get(each.bundle_id)
        findings = looks[each.bundle_id].findings if each.bundle_id in looks else []
        worst = worst_of(finding.call for finding in findings)
        words = " ".join(
            finding.words for finding in findings if finding.call is worst and worst is not Call.FINE
        )
        if not findings and told is not None and told.found:
            # Of wood that was split since, what was seen of the whole.
            worst, words = Call(told.found), told.found_words
        weeks, mark, source = kept.get(each.bundle_id, (None, "", ""))
        name = f"{each.variety} ({_code(each.code or each.parent_code)})"
        known = told is not None and told.share is not None
        ends = (None, None, None) if told is None else (told.keeps_until, told.keeps_from, told.keeps_to)
        wood.append(KeptWood(name, each.cut_on, worst, words, weeks, mark, source, known, *ends))
    return wood


def _kept_for(session: Session, bundle_ids: Sequence[UUID]) -> dict[UUID, tuple[tuple[int, int], str, str]]:
    """From how many to how many weeks wood of each bundle’s group is usually kept, how that is known, and from whom; one statement."""
    rows = session.execute(
        select(
            col(Bundle.id),
            col(StorageLimit.keep_weeks_min),
            col(StorageLimit.keep_weeks_max),
            col(StorageLimit.keep_mark),
            col(StorageLimit.keep_source),
        )
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .join(StorageLimit, col(StorageLimit.species_group) == col(Taxon.species_group))
        .where(col(Bundle.id).in_(list(bundle_ids)))
    )
    return {
        row.id: ((row.keep_weeks_min, row.keep_weeks_max), row.keep_mark, row.keep_source) for row in rows
    }
