"""Looks that are due in a store."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from sqlalchemy import and_, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.tables import Bundle
from service.lib.clock import local_day
from service.lib.codes import group_code
from service.members.queries import club
from service.storage.queries.contents import lying_in_store, lying_in_stores
from service.storage.queries.looks import last_checks
from service.storage.queries.lying import covers_moment
from service.storage.rules import DueWhy, LookedAfter, MouldBeside, plan_due, worst_of
from service.storage.rules.due import plan_looks
from service.storage.schemas import BundleCheckRead, CheckDueRead, ContentRead, StoreDue
from service.storage.tables import BundleCheck, Stay


@dataclass(frozen=True)
class StoreLook:
    """A look that is due from a day on, and when anything was last changed that it follows from."""

    store_id: UUID
    store_name: str
    on: date
    why: DueWhy
    wood: ContentRead
    changed_at: datetime


_Own, _Mate = aliased(Stay, name="own_stay"), aliased(Stay, name="mate_stay")


def checks_due(session: Session, store_id: UUID, now: datetime) -> list[CheckDueRead]:
    """Bundles of a store that should be looked at, the most urgent first; at most six statements. Raises `NoSuchStore`."""
    zone = club(session).zone
    return _due(session, lying_in_store(session, store_id), now, zone)


def checks_due_everywhere(session: Session, now: datetime) -> list[StoreDue]:
    """The same of every store by its name, those where nothing is due left out; at most five statements."""
    zone = club(session).zone
    lying, stores = lying_in_stores(session)
    at = {each.bundle_id: stores[each.place_id] for each in lying if each.place_id is not None}
    found: dict[UUID, StoreDue] = {}
    for due in _due(session, lying, now, zone):
        store_id, name = at[due.bundle_id]
        found.setdefault(store_id, StoreDue(store_id=store_id, store_name=name, due=[])).due.append(due)
    return sorted(found.values(), key=lambda each: (each.store_name, each.store_id))


def _due(session: Session, wood: Sequence[ContentRead], now: datetime, zone: str) -> list[CheckDueRead]:
    lying = {each.bundle_id: each for each in wood}
    if not lying:
        return []
    looked, _ = _looked(session, lying, zone)
    return [
        CheckDueRead(
            bundle_id=due.bundle_id, code=lying[due.bundle_id].code, parent_code=lying[due.bundle_id].parent_code,
            variety=lying[due.bundle_id].variety, kind=lying[due.bundle_id].kind, on_hand=lying[due.bundle_id].on_hand,
            box_name=lying[due.bundle_id].box_name, place_name=lying[due.bundle_id].place_name, why=due.why, words=due.words,
            due_on=due.due_on, mark=due.mark,
        )
        for due in plan_due(looked, local_day(now, zone))
    ]  # fmt: skip


def _looked(
    session: Session, lying: dict[UUID, ContentRead], zone: str
) -> tuple[list[LookedAfter], dict[UUID, datetime]]:
    """Each bundle with its last look, and when what is told of it was written down last; two statements."""
    looks = last_checks(session, lying)
    mould = _mould_beside(session, lying)
    changed: dict[UUID, datetime] = {}
    for each in lying.values():
        look, beside = looks.get(each.bundle_id), mould.get(each.bundle_id, [])
        told = [
            each.since,
            *([look.recorded_at] if look else []),
            *(one.recorded_at or one.seen_at for one in beside),
        ]
        changed[each.bundle_id] = max(told)
    looked = [
        _looked_after(each, looks.get(each.bundle_id), mould.get(each.bundle_id, []), zone)
        for each in lying.values()
    ]
    return looked, changed


def looks_to_come(
    session: Session, zone: str, host_id: UUID | None = None
) -> tuple[list[StoreLook], list[UUID]]:
    """Looks that are due or will be, in the stores of a host or in all, and which stores those are; at most four statements."""
    wood, stores = lying_in_stores(session, host_id)
    lying = {each.bundle_id: each for each in wood}
    store_ids = sorted({store_id for store_id, _ in stores.values()})
    if not lying:
        return [], store_ids
    looked, changed = _looked(session, lying, zone)
    at = {each.bundle_id: stores[each.place_id] for each in wood if each.place_id is not None}
    latest: dict[UUID, datetime] = {}
    for bundle_id, moment in changed.items():
        store_id, _ = at[bundle_id]
        latest[store_id] = max(moment, latest.get(store_id, moment))
    return [
        StoreLook(
            *at[look.bundle_id], look.on, look.why, lying[look.bundle_id], latest[at[look.bundle_id][0]]
        )
        for look in plan_looks(looked)
    ], store_ids


def _looked_after(
    each: ContentRead, look: BundleCheckRead | None, mould: list[MouldBeside], zone: str
) -> LookedAfter:
    since = [one for one in mould if look is None or one.seen_at > look.seen_at]
    newest = max(since, key=lambda one: one.seen_at, default=None)
    return LookedAfter(
        each.bundle_id, each.cut_on, local_day(look.seen_at, zone) if look else None,
        worst_of(finding.call for finding in look.findings) if look else worst_of(()),
        local_day(newest.seen_at, zone) if newest else None, newest.of_code if newest else "", each.box_id,
    )  # fmt: skip


def _mould_beside(session: Session, bundle_ids: Iterable[UUID]) -> dict[UUID, list[MouldBeside]]:
    """Mould seen on other bundles while each of these lay in the same box; one statement."""
    statement = (
        select(col(_Mate.bundle_id), col(Bundle.code), col(BundleCheck.seen_at), col(BundleCheck.recorded_at))
        .join(_Own, and_(col(_Own.bundle_id) == col(BundleCheck.bundle_id), covers_moment(_Own, col(BundleCheck.seen_at))))
        .join(_Mate, and_(col(_Mate.into_box_id) == col(_Own.into_box_id), covers_moment(_Mate, col(BundleCheck.seen_at))))
        .join(Bundle, col(Bundle.id) == col(BundleCheck.bundle_id))
        .where(
            col(BundleCheck.mould).is_(True), col(_Mate.bundle_id).in_(list(bundle_ids)),
            col(_Mate.bundle_id) != col(BundleCheck.bundle_id),
        )
    )  # fmt: skip
    found: dict[UUID, list[MouldBeside]] = {}
    for mate, code, seen_at, recorded_at in session.execute(statement):
        told = MouldBeside(mate, group_code(code) if code else "", seen_at, recorded_at)
        found.setdefault(mate, []).append(told)
    return found
