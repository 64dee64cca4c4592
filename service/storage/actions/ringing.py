"""Freezing and heat, told at once: asked for with every reading, found by a job, written down once an event, told once for its wood."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy import update
from sqlmodel import Session, col

from service.lib.database import new_id
from service.lib.jobs import Ending, Kind, Task, enqueue
from service.lib.write import insert_rows, recorded_at
from service.members import queries as member_queries
from service.members.actions import write_letters
from service.members.rules import LetterKind, NewLetter, Role
from service.storage import queries
from service.storage.actions.dosing import ask_for_doses
from service.storage.queries.doses import stores_of_loggers_ever
from service.storage.queries.ringing import LOOKED_AT, StoreSeen
from service.storage.rules import (
    Alarm,
    AlarmKind,
    instant_of,
    plan_rings,
    second_of,
    title_of,
    warning_text,
)
from service.storage.tables import Store, StoreRing

RINGS = "rings"
_NO_SYNC = {"synchronize_session": False}


def ask_for_store(session: Session, store_id: UUID) -> None:
    """A store's readings changed: what rings is looked for once this is saved. One statement."""
    enqueue(session, RINGS, {"store": str(store_id)}, once=f"rings:store:{store_id}")


def ask_for_logger(session: Session, logger_id: UUID) -> None:
    """The same for all stores where a logger hung; one statement."""
    enqueue(session, RINGS, {"logger": str(logger_id)}, once=f"rings:logger:{logger_id}")


@contextmanager
def follows_loggers(session: Session, logger_ids: Collection[UUID]) -> Iterator[None]:
    """Loggers change their place within: all stores they hang in are asked for, and those that they never hung in after all.

    Told again for the same instant, a place takes that of the one before: what was written there must go.
    """
    before = stores_of_loggers_ever(session, logger_ids) if logger_ids else []
    yield
    for logger_id in sorted(logger_ids):
        ask_for_logger(session, logger_id)
    left = set(before) - set(stores_of_loggers_ever(session, logger_ids)) if before else set()
    for store_id in sorted(left):
        ask_for_store(session, store_id)


def ringing() -> Kind:
    """The kind of job that looks for what rings in a store, or in all stores where a logger hung."""

    def do(task: Task) -> Ending | None:
        with task.database.reading() as session:
            stores = (
                [UUID(task.what["store"])]
                if "store" in task.what
                else queries.stores_of_logger(session, UUID(task.what["logger"]), task.now)
            )
            seen = [queries.see_store(session, store_id, task.now) for store_id in stores]
            # What rings is of these weeks; wood remembers the whole winter.
            aged = (
                stores
                if "store" in task.what
                else stores_of_loggers_ever(session, [UUID(task.what["logger"])])
            )

        def end(session: Session) -> None:
            for each in seen:
                record_rings(session, each)
            for store_id in aged:
                ask_for_doses(session, store_id)

        return end

    return Kind(RINGS, do)


def record_rings(session: Session, seen: StoreSeen) -> None:
    """Write down what is new and how the rest goes on; tell host and stewards of what rings now.

    An event rings once for the wood that lies there: again for wood that came in later, or for what is left and bears more.
    """
    store = session.get(Store, seen.store_id, with_for_update=True, populate_existing=True)
    if store is None:
        return
    first = seen.seen_at - LOOKED_AT
    plan = plan_rings(
        queries.rung_in(session, store.id, first), seen.alarms, looked_from=second_of(first), seen=seen.seen_at,
        at_limits=seen.at_limits,
    )  # fmt: skip
    tell: list[tuple[UUID, Alarm]] = []
    for alarm in plan.new:
        ring_id, rings = new_id(), _rings(session, seen, alarm)
        insert_rows(session, StoreRing, [_row(session, seen, ring_id, alarm, rings=rings)])
        tell += [(ring_id, alarm)] if rings else []
    for rung, alarm in plan.goes_on:
        news = not rung.is_told_of(alarm, seen.wood_since, seen.woods_own_c)
        rings = news and _rings(session, seen, alarm)
        _follow(session, rung.id, alarm, _told(session, seen, alarm) if rings else {})
        tell += [(rung.id, alarm)] if rings else []
    for rung, alarm in plan.stands:
        _follow(session, rung.id, alarm, {})
    _withdraw(session, [rung.id for rung in plan.gone])
    if tell:
        write_letters(session, _letters(session, store, seen, tell))


def _rings(session: Session, seen: StoreSeen, alarm: Alarm) -> bool:
    """Nobody is called to a store in which no wood lies."""
    return seen.holds_wood and alarm.rings_at(second_of(recorded_at(session)))


def _row(session: Session, seen: StoreSeen, ring_id: UUID, alarm: Alarm, *, rings: bool) -> dict[str, Any]:
    at = recorded_at(session)
    return {
        "id": ring_id, "store_id": seen.store_id, "kind": alarm.kind, "by_hand": alarm.by_hand, "began_at": instant_of(alarm.began),
        "limit_c": _limit(seen, alarm),
        "rang_at": instant_of(alarm.rang), "recorded_at": at, "told_at": at if rings else None, "withdrawn_at": None, **_lasting(alarm),
    }  # fmt: skip


def _limit(seen: StoreSeen, alarm: Alarm) -> float | None:
    by = seen.limits.rings_by
    return by.freezing_c if alarm.kind is AlarmKind.FREEZING else by.heat.limit_c


def _told(session: Session, seen: StoreSeen, alarm: Alarm) -> dict[str, Any]:
    return {"told_at": recorded_at(session), "limit_c": _limit(seen, alarm)}


def _lasting(alarm: Alarm) -> dict[str, Any]:
    return {
        "last_at": instant_of(alarm.last), "ended_at": None if alarm.ended is None else instant_of(alarm.ended),
        "extreme_c": round(alarm.extreme_c, 2), "hours": round(alarm.hours, 2),
    }  # fmt: skip


def _follow(session: Session, ring_id: UUID, alarm: Alarm, told: Mapping[str, Any]) -> None:
    session.execute(
        update(StoreRing)
        .where(col(StoreRing.id) == ring_id)
        .values(began_at=instant_of(alarm.began), by_hand=alarm.by_hand, **_lasting(alarm), **told)
        .execution_options(**_NO_SYNC)
    )


def _withdraw(session: Session, ring_ids: Sequence[UUID]) -> None:
    if ring_ids:
        session.execute(
            update(StoreRing)
            .where(col(StoreRing.id).in_(ring_ids))
            .values(withdrawn_at=recorded_at(session))
            .execution_options(**_NO_SYNC)
        )


def _letters(
    session: Session, store: Store, seen: StoreSeen, tell: Sequence[tuple[UUID, Alarm]]
) -> list[NewLetter]:
    zone = ZoneInfo(member_queries.club(session).zone)
    stewards = member_queries.parties_with_role(session, Role.STEWARD) or member_queries.parties_with_role(
        session, Role.ADMINISTRATOR
    )
    letters = []
    for ring_id, alarm in tell:
        began, last = (instant_of(at).astimezone(zone) for at in (alarm.began, alarm.last))
        text = warning_text(alarm, seen.limits, began, last)
        title = title_of(alarm.kind, alarm.extreme_c, store.name)
        for party_id in dict.fromkeys([store.host_id, *stewards]):
            path = f"/my-fridge?store={store.id}" if party_id == store.host_id else "/looks-due"
            letters.append(NewLetter(party_id, LetterKind.WARNING, title, text, about_id=ring_id, path=path))
    return letters
