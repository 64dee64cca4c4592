"""Of which wood it is to be reckoned anew how it keeps: what lay in a store, what was told since, what nobody told of for a day."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from uuid import UUID

from sqlalchemy import and_, func, or_, select, union_all
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.queries import ON_HAND
from service.bundles.tables import Bundle
from service.lib.given import these
from service.storage.queries.lying import BoxStay
from service.storage.tables import (
    BagWeighing,
    BundleCheck,
    BundleKeeping,
    BundlePacking,
    Place,
    PutAway,
    Stay,
    Store,
    StoreRecord,
)

AT_ONCE = 5_000  # reckoned side by side: what is read of them is held in memory
AT_THE_SAME_TIME = timedelta(minutes=5)


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
        .where(col(Store.closed_at).is_(None), col(Stay.until_at).is_(None), ON_HAND > 0, old)
        .order_by(col(Store.id))
        .distinct()
    )
    return [(row.id, row.has_hours) for row in session.execute(statement)]


def told_since(session: Session) -> list[UUID]:
    """Bundles that were moved, looked at, packed otherwise or weighed since they were last reckoned, or never were. One statement.

    What was being saved while they were reckoned was not seen yet: some minutes are looked at twice.
    """
    boxed = aliased(Stay, name="boxed")
    deeds = union_all(
        select(col(PutAway.bundle_id).label("bundle_id"), col(PutAway.recorded_at).label("at")).where(col(PutAway.bundle_id).is_not(None)),
        select(col(boxed.bundle_id), col(PutAway.recorded_at))
        .join(boxed, col(boxed.into_box_id) == col(PutAway.box_id))
        .where(col(boxed.bundle_id).is_not(None)),
        select(col(BundleCheck.bundle_id), col(BundleCheck.recorded_at)),
        select(col(BundlePacking.bundle_id), col(BundlePacking.recorded_at)),
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


def bundles_that_lay_in(session: Session, store_id: UUID) -> list[UUID]:
    """Bundles with wood that lie in a store, and the club's that ever lay there, in boxes and loose; one statement.

    What went to others is kept by them, and no hour of this store adds to it any more.
    """
    here = select(col(Place.id)).where(col(Place.store_id) == store_id)
    stood = select(col(Stay.box_id)).where(col(Stay.box_id).is_not(None), col(Stay.place_id).in_(here))
    statement = (
        select(col(Bundle.id))
        .join(Stay, col(Stay.bundle_id) == col(Bundle.id))
        .where(
            or_(col(Stay.place_id).in_(here), col(Stay.into_box_id).in_(stood)), ON_HAND > 0,
            or_(col(Bundle.holder_id).is_(None), col(Stay.until_at).is_(None)),
        )
        .distinct()
    )  # fmt: skip
    return sorted(session.execute(statement).scalars())


def used_up_in(session: Session, store_id: UUID) -> list[UUID]:
    """Wood that was reckoned to keep in a store and of which no stick is left; one statement."""
    statement = (
        select(col(BundleKeeping.bundle_id))
        .join(Bundle, col(Bundle.id) == col(BundleKeeping.bundle_id))
        .where(col(BundleKeeping.store_id) == store_id, ON_HAND == 0)
    )
    return list(session.execute(statement).scalars())


def with_children(session: Session, bundle_ids: Iterable[UUID]) -> list[UUID]:
    """Bundles, and what was split from them and is the club's or lies in a store; a statement for each generation."""
    asked = set(bundle_ids)
    found, parents = set(asked), set(asked)
    lies = select(Stay.id).where(col(Stay.bundle_id) == col(Bundle.id), col(Stay.until_at).is_(None)).exists()
    ours = and_(ON_HAND > 0, or_(col(Bundle.holder_id).is_(None), lies))
    while parents:
        split = col(Bundle.parent_id).in_(these(session, parents))
        rows = session.execute(select(col(Bundle.id), ours.label("ours")).where(split)).all()
        # What was passed on or used up may have been split before.
        parents = {row.id for row in rows} - found
        found |= parents
        asked |= {row.id for row in rows if row.ours}
    return sorted(asked)
