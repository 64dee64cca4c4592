"""How wood is packed, as it was told."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from functools import reduce
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.bundles.tables import Bundle
from service.lib.given import these
from service.storage.queries.lying import check_bundle_stands
from service.storage.rules.packing import NOT_TOLD, Packed
from service.storage.schemas.packing import PackingRead, PackingsRead
from service.storage.tables import BundlePacking

_IN_ORDER = (col(BundlePacking.done_at), col(BundlePacking.seq))


def packed_of(row: BundlePacking) -> Packed:
    return Packed.told(row.packing, row.waxed, row.disinfected)


def packing_read(row: BundlePacking) -> PackingRead:
    return PackingRead(**row.model_dump(exclude={"seq"}), words=packed_of(row).words)


def packings_of_all(session: Session, bundle_ids: Iterable[UUID]) -> dict[UUID, list[BundlePacking]]:
    """All that was told of how bundles are packed, of each the earliest first; one statement whatever their number."""
    rows = session.execute(
        select(BundlePacking)
        .where(col(BundlePacking.bundle_id).in_(these(session, bundle_ids)))
        .order_by(*_IN_ORDER)
    )
    found: dict[UUID, list[BundlePacking]] = {}
    for one in rows.scalars():
        found.setdefault(one.bundle_id, []).append(one)
    return found


def packings_of(session: Session, bundle_id: UUID, now: datetime) -> PackingsRead:
    """How one bundle is packed, and all that was told of it; two statements."""
    line = [(bundle_id, now), *_parents(session, bundle_id)]
    told = packings_of_all(session, [one for one, _ in line])
    counted = [one for each, until in line for one in told.get(each, ()) if one.done_at <= until]
    counted.sort(key=lambda one: (one.done_at, one.seq or 0))
    stands = reduce(lambda packed, one: packed.then(packed_of(one)), counted, NOT_TOLD)
    own = [packing_read(one) for one in told.get(bundle_id, ())]
    return PackingsRead(bundle_id=bundle_id, words=stands.words, told=own[::-1])


def get_packings(session: Session, bundle_id: UUID, now: datetime) -> PackingsRead:
    """The same of a bundle that there is; three statements. Raises `NoSuchBundle`."""
    check_bundle_stands(session, bundle_id)
    return packings_of(session, bundle_id, now)


def _parents(session: Session, bundle_id: UUID) -> list[tuple[UUID, datetime]]:
    """What a bundle was split from, and what that was split from, each with when the wood left it; one statement."""
    line = (
        select(col(Bundle.parent_id), col(Bundle.made_at))
        .where(col(Bundle.id) == bundle_id)
        .cte("line", recursive=True)
    )
    up = select(col(Bundle.parent_id), col(Bundle.made_at)).join(line, line.c.parent_id == col(Bundle.id))
    line = line.union_all(up)
    rows = session.execute(select(line.c.parent_id, line.c.made_at).where(line.c.parent_id.is_not(None)))
    return [(row.parent_id, row.made_at) for row in rows]
