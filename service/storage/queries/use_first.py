"""What should be used first, as it was last reckoned: stored rows, nothing is reckoned here."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.queries import ON_HAND
from service.bundles.tables import Bundle
from service.catalogue.rules import page_name
from service.catalogue.tables import Cultivar, Taxon
from service.collection.tables import Collection
from service.members.queries import CLUB_DAYS
from service.storage.rules.reaching import club_days, not_reached
from service.storage.schemas.keeping import KeepingRead, MissedDay, UseFirstRead
from service.storage.tables import (
    BundleKeeping,
    Store,
)

_Parent = aliased(Bundle, name="parent")
MOST_SHOWN = 200


def use_first(
    session: Session, store_id: UUID | None = None, most: int = MOST_SHOWN, *, host_id: UUID | None = None
) -> list[UseFirstRead]:
    """Wood in one store, in those of one host, or in all, what keeps shortest first; stopped wood among it. One statement."""
    statement = (
        select(
            BundleKeeping, col(Store.name).label("store_name"), col(Bundle.code), col(_Parent.code).label("parent_code"), col(Taxon.kind),
            col(Cultivar.epithet), col(Cultivar.trade_designation), col(Collection.name_as_told), ON_HAND.label("on_hand"),
            col(Bundle.open_stops), *CLUB_DAYS,
        )
        .join(Bundle, col(Bundle.id) == col(BundleKeeping.bundle_id))
        .join(Store, col(Store.id) == col(BundleKeeping.store_id))
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(_Parent, col(_Parent.id) == col(Bundle.parent_id))
        .where(ON_HAND > 0, col(Store.closed_at).is_(None))
        .order_by(col(BundleKeeping.sort_on), col(BundleKeeping.bundle_id))
        .limit(most)
    )  # fmt: skip
    if store_id is not None:
        statement = statement.where(col(BundleKeeping.store_id) == store_id)
    if host_id is not None:
        statement = statement.where(col(Store.host_id) == host_id)
    return [_read(row) for row in session.execute(statement)]


def _read(row: Any) -> UseFirstRead:
    keeping: BundleKeeping = row.BundleKeeping
    told = KeepingRead.model_validate(keeping.told)
    missed = not_reached(told.until, club_days(row.exchange_on, row.grafting_on), told.as_of.date())
    return UseFirstRead(
        bundle_id=keeping.bundle_id, store_id=keeping.store_id, store_name=row.store_name, code=row.code, parent_code=row.parent_code,
        kind=row.kind, variety=page_name(row.epithet, row.trade_designation) if row.epithet else row.name_as_told, on_hand=row.on_hand,
        stopped=row.open_stops > 0, keeping=told, misses=[MissedDay(what=day.what, on=day.on) for day in missed],
    )  # fmt: skip
