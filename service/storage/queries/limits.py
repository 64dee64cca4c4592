"""What rings in a store: what it has of its own, what stands without it, what holds."""

from __future__ import annotations

from dataclasses import asdict
from uuid import UUID

from sqlmodel import Session

from service.storage.queries.contents import ids_lying_in_store
from service.storage.queries.own_limits import own_of, own_rows
from service.storage.queries.stores import get_store
from service.storage.queries.temps import limits_of
from service.storage.rules import StoreLimits, limits_to_draw
from service.storage.rules.beyond import least_of, most_of
from service.storage.rules.excursions import NOTHING_OWN
from service.storage.rules.own_limits import in_force, limits_told
from service.storage.schemas import StoreRead
from service.storage.schemas.limits import LimitsRead, StoreLimitsRead
from service.storage.schemas.temps import LimitRead


def standing_limits(session: Session, store_id: UUID, kind: str) -> StoreLimits:
    """What stands for the wood that lies in a store, without the store's own; at most three statements."""
    return limits_to_draw(limits_of(session, ids_lying_in_store(session, store_id)), kind)


def store_limits(session: Session, store_id: UUID) -> StoreLimitsRead:
    """At most six statements. Raises `NoSuchStore`."""
    return store_with_limits(session, store_id)[1]


def store_with_limits(session: Session, store_id: UUID) -> tuple[StoreRead, StoreLimitsRead]:
    """A store, and what rings in it; at most six statements. Raises `NoSuchStore`."""
    store, rows = get_store(session, store_id), own_rows(session, store_id)
    own = own_of(rows[-1]) if rows else NOTHING_OWN
    standing = standing_limits(session, store_id, store.kind)
    holds = in_force(standing, own)
    limits = StoreLimitsRead(
        store_id=store_id, own=LimitsRead(**asdict(own)), standing=_numbers(standing), holds=_numbers(holds),
        told=_told(holds), by_kind=[name for name, of in (("cold_c", least_of), ("warm_c", most_of)) if len(of(standing)) > 1],
        standing_told=_told(standing),
        set_at=rows[-1].recorded_at if rows else None, set_by_party_id=rows[-1].by_party_id if rows else None,
        set_for_party_id=rows[-1].for_party_id if rows else None, version=len(rows),
    )  # fmt: skip
    return store, limits


def _numbers(limits: StoreLimits) -> LimitsRead:
    by = limits.rings_by
    return LimitsRead(
        heat_c=by.heat.limit_c, heat_hours=by.heat.hours, high_c=by.heat.high_c, high_hours=by.heat.high_hours,
        freezing_c=by.freezing_c, freezing_minutes=round(by.freezing_hours * 60), cold_c=limits.cold_c,
        warm_c=limits.warm_c, warm_hours=limits.warm_hours,
    )  # fmt: skip


def _told(limits: StoreLimits) -> list[LimitRead]:
    return [LimitRead(name=one.name, words=one.words, whose=one.whose) for one in limits_told(limits)]
