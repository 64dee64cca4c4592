"""What should be used first, as it was last reckoned: stored rows, nothing is reckoned here."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import and_, func, select, union_all
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.tables import Bundle
from service.catalogue.rules import page_name
from service.catalogue.tables import Cultivar, Taxon
from service.collection.tables import Collection
from service.storage.queries.lying import BoxStay
from service.storage.schemas.keeping import KeepingRead, UseFirstRead
from service.storage.tables import (
    BagWeighing,
    BundleCheck,
    BundleKeeping,
    Place,
    PutAway,
    Stay,
    Store,
    StoreRecord,
)

_Parent = aliased(Bundle, name="parent")
_ON_HAND = col(Bundle.came_in) - col(Bundle.passed_on) - col(Bundle.grafted) - col(Bundle.discarded)
MOST_SHOWN = 200
AT_THE_SAME_TIME = timedelta(minutes=5)


def use_first(session: Session, store_id: UUID | None = None, most: int = MOST_SHOWN) -> list[UseFirstRead]:
    """Wood in one store, or in all, what keeps shortest first; stopped wood among it. One statement."""
    statement = (
        select(
            BundleKeeping, col(Store.name).label("store_name"), col(Bundle.code), col(_Parent.code).label("parent_code"), col(Taxon.kind),
            col(Cultivar.epithet), col(Cultivar.trade_designation), col(Collection.name_as_told), _ON_HAND.label("on_hand"),
            col(Bundle.open_stops),
        )
        .join(Bundle, col(Bundle.id) == col(BundleKeeping.bundle_id))
        .join(Store, col(Store.id) == col(BundleKeeping.store_id))
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(_Parent, col(_Parent.id) == col(Bundle.parent_id))
        .where(_ON_HAND > 0, col(Store.closed_at).is_(None))
        .order_by(col(BundleKeeping.sort_on).is_(None), col(BundleKeeping.sort_on), col(Bundle.id))
        .limit(most)
    )  # fmt: skip
    if store_id is not None:
        statement = statement.where(col(BundleKeeping.store_id) == store_id)
    return [_read(row) for row in session.execute(statement)]


def stale_stores(session: Session, before: datetime) -> list[tuple[UUID, bool]]:
    """Open stores in which wood lies of which nothing was reckoned since, and whether their hours stand. One statement."""
    stands = and_(col(BoxStay.box_id) == col(Stay.into_box_id), col(BoxStay.until_at).is_(None))
    place_id = func.coalesce(col(Stay.place_id), col(BoxStay.place_id))
    old = col(BundleKeeping.as_of).is_(None) | (col(BundleKeeping.as_of) < before)
    statement = (
        select(col(Store.id), col(StoreRecord.version).is_not(None).label("has_hours"))
        .select_from(Stay)
        .join(Bundle, col(Bundle.id) == col(Stay.bundle_id))
        .outerjoin(BoxStay, stands)
        .join(Place, col(Place.id) == place_id)
        .join(Store, col(Store.id) == col(Place.store_id))
        .outerjoin(BundleKeeping, col(BundleKeeping.bundle_id) == col(Bundle.id))
        .outerjoin(StoreRecord, col(StoreRecord.store_id) == col(Store.id))
        .where(col(Store.closed_at).is_(None), col(Stay.until_at).is_(None), _ON_HAND > 0, old)
        .order_by(col(Store.id))
        .distinct()
    )
    return [(row.id, row.has_hours) for row in session.execute(statement)]


def told_since(session: Session) -> list[UUID]:
    """Bundles that were moved, looked at or weighed since they were last reckoned, or never were. One statement.

    What was being saved while they were reckoned was not seen yet: some minutes are looked at twice.
    """
    boxed = aliased(Stay, name="boxed")
    deeds = union_all(
        select(col(PutAway.bundle_id).label("bundle_id"), col(PutAway.recorded_at).label("at")).where(col(PutAway.bundle_id).is_not(None)),
        select(col(boxed.bundle_id), col(PutAway.recorded_at))
        .join(boxed, col(boxed.into_box_id) == col(PutAway.box_id))
        .where(col(boxed.bundle_id).is_not(None)),
        select(col(BundleCheck.bundle_id), col(BundleCheck.recorded_at)),
        select(col(BagWeighing.bundle_id), func.coalesce(col(BagWeighing.taken_back_at), col(BagWeighing.recorded_at))),
    ).subquery("deed")  # fmt: skip
    last = (
        select(deeds.c.bundle_id, func.max(deeds.c.at).label("at"))
        .group_by(deeds.c.bundle_id)
        .subquery("last")
    )
    rows = session.execute(
        select(last.c.bundle_id, last.c.at, col(BundleKeeping.as_of))
        .outerjoin(BundleKeeping, col(BundleKeeping.bundle_id) == last.c.bundle_id)
        .order_by(last.c.bundle_id)
    )
    return [row.bundle_id for row in rows if row.as_of is None or row.at > row.as_of - AT_THE_SAME_TIME]


def _read(row: Any) -> UseFirstRead:
    keeping: BundleKeeping = row.BundleKeeping
    return UseFirstRead(
        bundle_id=keeping.bundle_id, store_id=keeping.store_id, store_name=row.store_name, code=row.code, parent_code=row.parent_code,
        kind=row.kind, variety=page_name(row.epithet, row.trade_designation) if row.epithet else row.name_as_told, on_hand=row.on_hand,
        stopped=row.open_stops > 0, keeping=KeepingRead.model_validate(keeping.told),
    )  # fmt: skip
