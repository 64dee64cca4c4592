"""What should be used first: in stores as it was last reckoned; of wood somebody has at home, as reckoned now."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any, Protocol
from uuid import UUID

from sqlalchemy import and_, or_, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.queries import ON_HAND
from service.bundles.tables import Bundle
from service.catalogue.rules import page_name
from service.catalogue.tables import Cultivar, Taxon
from service.collection.tables import Collection
from service.members.queries import CLUB_DAYS
from service.members.rules import May, Member, Role
from service.storage.queries.keeping import reckon
from service.storage.rules.reaching import club_days, not_reached
from service.storage.schemas.keeping import KeepingRead, MissedDay, UseFirstRead
from service.storage.tables import (
    BundleKeeping,
    Store,
)

_Parent = aliased(Bundle, name="parent")
MOST_SHOWN = 200
FOR_ALL_STORES = frozenset({Role.STEWARD, Role.HEALTH_STEWARD, Role.ADMINISTRATOR})


class Reader(Member, Protocol):
    """Whoever asks, and in which roles."""

    @property
    def roles(self) -> frozenset[Role]: ...


def use_first_for(
    session: Session, reader: Reader, now: datetime, store_id: UUID | None = None, most: int = MOST_SHOWN
) -> list[UseFirstRead]:
    """To stewards all wood in store; to others what they hold and what lies with them; of one store all to who looks at wood."""
    looks = May.BUNDLE_CHECKS in reader.may and reader.acting_for_id == reader.party_id
    if looks and (store_id is not None or sees_all_stores(reader)):
        return use_first(session, store_id, most)
    return use_first_of(session, reader.acting_for_id, now, store_id, most)


def sees_all_stores(reader: Reader) -> bool:
    return May.BUNDLE_CHECKS in reader.may and not reader.roles.isdisjoint(FOR_ALL_STORES)


def use_first(
    session: Session, store_id: UUID | None = None, most: int = MOST_SHOWN, *, host_id: UUID | None = None
) -> list[UseFirstRead]:
    """Wood in one store, in those of one host, or in all, what keeps shortest first; stopped wood among it. One statement.

    Of the same day: what is worst by its last look, then what keeps shortest.
    """
    statement = (
        _wood(kept=True)
        .where(col(Store.closed_at).is_(None))
        .order_by(
            col(BundleKeeping.sort_on),
            col(BundleKeeping.sort_rank),
            col(BundleKeeping.sort_end),
            col(BundleKeeping.bundle_id),
        )
        .limit(most)
    )
    if store_id is not None:
        statement = statement.where(col(BundleKeeping.store_id) == store_id)
    if host_id is not None:
        statement = statement.where(col(Store.host_id) == host_id)
    return [
        _read(row, KeepingRead.model_validate(row.BundleKeeping.told)) for row in session.execute(statement)
    ]


def use_first_of(
    session: Session, party_id: UUID, now: datetime, store_id: UUID | None = None, most: int = MOST_SHOWN
) -> list[UseFirstRead]:
    """What somebody holds, wherever it lies, and what lies in the stores that stand with them; what keeps shortest first.

    The club reckons what lies in stores; what lies in none is reckoned here. One statement, and those of `reckon` where
    there is such wood.
    """
    theirs = or_(col(Bundle.holder_id) == party_id, and_(_in_open_store(), col(Store.host_id) == party_id))
    statement = _wood(kept=False).where(theirs).order_by(col(Bundle.id))
    if store_id is not None:
        statement = statement.where(col(BundleKeeping.store_id) == store_id)
    rows = session.execute(statement).all()
    told = {row.id: KeepingRead.model_validate(row.BundleKeeping.told) for row in rows if row.in_store}
    told |= _reckoned(session, [row.id for row in rows if row.id not in told], now)
    found = sorted(rows, key=lambda row: (*told[row.id].sort_key, row.id))
    return [_read(row, told[row.id]) for row in found[:most]]


def _reckoned(session: Session, bundle_ids: Iterable[UUID], now: datetime) -> dict[UUID, KeepingRead]:
    ids = list(bundle_ids)
    return reckon(session, ids, now) if ids else {}


def _in_open_store() -> Any:
    return and_(col(Store.id).is_not(None), col(Store.closed_at).is_(None))


def _wood(*, kept: bool) -> Any:
    """`kept`: only what lies in stores, read in the order of its index; else also what was never reckoned."""
    told = select(
        BundleKeeping, col(Store.name).label("store_name"), _in_open_store().label("in_store"), col(Bundle.id), col(Bundle.code),
        col(_Parent.code).label("parent_code"), col(Taxon.kind), col(Cultivar.epithet), col(Cultivar.trade_designation),
        col(Collection.name_as_told), ON_HAND.label("on_hand"), col(Bundle.open_stops), *CLUB_DAYS,
    )  # fmt: skip
    of_bundle = col(BundleKeeping.bundle_id) == col(Bundle.id)
    of_store = col(Store.id) == col(BundleKeeping.store_id)
    if kept:
        told = told.select_from(BundleKeeping).join(Bundle, of_bundle).join(Store, of_store)
    else:
        told = told.select_from(Bundle).outerjoin(BundleKeeping, of_bundle).outerjoin(Store, of_store)
    return (
        told.join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(_Parent, col(_Parent.id) == col(Bundle.parent_id))
        .where(ON_HAND > 0)
    )


def _read(row: Any, told: KeepingRead) -> UseFirstRead:
    missed = not_reached(told.until, club_days(row.exchange_on, row.grafting_on), told.as_of.date())
    return UseFirstRead(
        bundle_id=row.id, store_id=row.BundleKeeping.store_id if row.in_store else None, store_name=row.store_name if row.in_store else "",
        code=row.code, parent_code=row.parent_code, kind=row.kind,
        variety=page_name(row.epithet, row.trade_designation) if row.epithet else row.name_as_told, on_hand=row.on_hand,
        stopped=row.open_stops > 0, keeping=told, misses=[MissedDay(what=day.what, on=day.on) for day in missed],
    )  # fmt: skip
