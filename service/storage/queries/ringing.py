"""Freezing and heat in stores: what the record of readings tells of, and the events that stand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.storage.queries.contents import ids_lying_in_store
from service.storage.queries.hand import dials_between
from service.storage.queries.loggers import spells_of_loggers
from service.storage.queries.lying import wood_since
from service.storage.queries.own_limits import own_through
from service.storage.queries.readings import records_in_store
from service.storage.queries.temps import alarms_of, limits_of
from service.storage.rules import (
    Alarm,
    AlarmKind,
    Rung,
    Span,
    StoreLimits,
    second_of,
)
from service.storage.rules.own_limits import held_through, in_force
from service.storage.schemas import RingRead
from service.storage.tables import Store, StoreRing

# How far back readings are looked at when new ones come, and how far the memory of a dial is followed. Judgement.
LOOKED_AT = timedelta(days=60)
DIALS_LOOKED_AT = timedelta(days=120)


@dataclass(frozen=True)
class StoreSeen:
    """What a store's record tells of freezing and heat, as it was seen at a moment."""

    store_id: UUID
    seen_at: datetime
    alarms: tuple[Alarm, ...]
    limits: StoreLimits
    holds_wood: bool
    at_limits: Mapping[float, tuple[Alarm, ...]] = field(
        default_factory=dict
    )  # beyond those that events rang by
    wood_since: tuple[datetime, ...] = ()  # from when on what lies there lay there, where an event was told

    @property
    def woods_own_c(self) -> float | None:
        """Where the wood alone says at which frost it rings: a limit that somebody set is no hardier wood."""
        return self.limits.freezing_c if self.limits.own.freezing_c is None else None


def see_store(session: Session, store_id: UUID, now: datetime) -> StoreSeen:
    """At most thirteen statements. Raises `NoSuchStore`."""
    lying = ids_lying_in_store(session, store_id)
    wood, own = limits_of(session, lying), own_through(session, store_id)
    limits = in_force(wood, own[-1].own) if own else wood
    first = now - LOOKED_AT
    records = records_in_store(session, store_id, Span(first, now + timedelta(seconds=1)))
    dials = dials_between(session, [store_id], Span(now - DIALS_LOOKED_AT, None)).get(store_id, [])

    def beyond(limit_c: float | None) -> tuple[Alarm, ...]:
        held = held_through(replace(wood, freezing_c=limit_c), own)
        return tuple(one for one in alarms_of(records, dials, held) if one.last >= second_of(first))

    rung = rung_in(session, store_id, first)
    rang_by = {one.limit_c for one in rung if one.kind is AlarmKind.FREEZING} - {None, wood.freezing_c}
    at_limits = {limit_c: beyond(limit_c) for limit_c in rang_by if limit_c is not None}
    told = [one.told_at for one in rung if one.told_at is not None]
    since = wood_since(session, store_id, lying, min(told)) if told else ()
    return StoreSeen(store_id, now, beyond(wood.freezing_c), limits, bool(lying), at_limits, since)


def stores_of_logger(session: Session, logger_id: UUID, now: datetime) -> list[UUID]:
    """Where a logger hung during the time that is looked at; two statements."""
    span = Span(now - LOOKED_AT, None)
    found = {
        spell.store_id
        for spell in spells_of_loggers(session, [logger_id])
        if spell.store_id is not None and spell.span.overlap(span) is not None
    }
    return sorted(found)


def rung_in(session: Session, store_id: UUID, since: datetime) -> list[Rung]:
    """The events of a store that lasted after a moment, those withdrawn left out; one statement."""
    rows = session.execute(
        select(StoreRing).where(
            col(StoreRing.store_id) == store_id, col(StoreRing.last_at) >= since, col(StoreRing.withdrawn_at).is_(None)
        )
    ).scalars()  # fmt: skip
    return [
        Rung(
            row.id, AlarmKind(row.kind), second_of(row.began_at), second_of(row.last_at), row.told_at,
            row.recorded_at, row.limit_c,
        )
        for row in rows
    ]  # fmt: skip


def list_rings(
    session: Session, since: datetime, store_ids: Iterable[UUID] | None = None, most: int = 30
) -> list[RingRead]:
    """Events recorded since a moment, in these stores or in all, the latest first; one statement."""
    statement = (
        select(StoreRing, col(Store.name).label("store_name"))
        .join(Store, col(Store.id) == col(StoreRing.store_id))
        .where(col(StoreRing.recorded_at) >= since)
        .order_by(col(StoreRing.began_at).desc(), col(StoreRing.id))
        .limit(most)
    )
    if store_ids is not None:
        statement = statement.where(col(StoreRing.store_id).in_(list(store_ids)))
    rows = session.execute(statement)
    return [RingRead(**row.StoreRing.model_dump(), store_name=row.store_name) for row in rows]
