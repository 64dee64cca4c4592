"""Looks at bundles, and what lies in the same box."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from sqlalchemy import func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.tables import Bundle
from service.catalogue.rules import page_name
from service.catalogue.tables import Cultivar
from service.collection.rules import Wood
from service.collection.tables import Collection
from service.lib.paging import Page, Paging, page_of
from service.storage.queries.lying import check_bundle_stands
from service.storage.rules import Buds, Look, judge_look
from service.storage.schemas import BundleCheckRead, FindingRead, NeighbourRead
from service.storage.tables import Box, BundleCheck, Stay

_Mate = aliased(Stay, name="mate")


def _checks() -> Any:
    return (
        select(BundleCheck, col(Collection.wood))
        .join(Bundle, col(Bundle.id) == col(BundleCheck.bundle_id))
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
    )


def check_read(
    check: BundleCheck, *, dormant: bool, look_at: list[NeighbourRead] | None = None
) -> BundleCheckRead:
    """The answer for one look, from a row at hand."""
    buds = Buds(check.buds) if check.buds else None
    look = Look(buds, check.wrinkled, check.mould, check.green_under_scratch, check.bag_grams)
    findings = [FindingRead.model_validate(finding) for finding in judge_look(look, dormant=dormant)]
    return BundleCheckRead(**{**check.model_dump(), "buds": buds}, findings=findings, look_at=look_at or [])


def _row(row: Any) -> BundleCheckRead:
    return check_read(row.BundleCheck, dormant=row.wood == Wood.DORMANT)


def list_checks(session: Session, bundle_id: UUID, paging: Paging) -> Page[BundleCheckRead]:
    """The looks at one bundle, the latest first; three statements."""
    check_bundle_stands(session, bundle_id)
    keys = [(col(BundleCheck.seen_at), True), (col(BundleCheck.id), True)]
    return page_of(session, _checks().where(col(BundleCheck.bundle_id) == bundle_id), keys, paging, _row)


def last_checks(session: Session, bundle_ids: Iterable[UUID]) -> dict[UUID, BundleCheckRead]:
    """The latest look at each bundle; one statement whatever their number."""
    place = func.row_number().over(
        partition_by=col(BundleCheck.bundle_id),
        order_by=(
            col(BundleCheck.seen_at).desc(),
            col(BundleCheck.recorded_at).desc(),
            col(BundleCheck.id).desc(),
        ),
    )
    ranked = (
        select(col(BundleCheck.id), place.label("place"))
        .where(col(BundleCheck.bundle_id).in_(list(bundle_ids)))
        .subquery()
    )
    rows = session.execute(
        _checks().join(ranked, ranked.c.id == col(BundleCheck.id)).where(ranked.c.place == 1)
    )
    return {row.BundleCheck.bundle_id: _row(row) for row in rows}


def neighbours_in_box(session: Session, bundle_ids: Iterable[UUID]) -> dict[UUID, list[NeighbourRead]]:
    """What lies in the same box as each of these bundles now; one statement."""
    statement = (
        select(col(Stay.bundle_id).label("of"), col(_Mate.bundle_id).label("mate"), col(Bundle.code), col(Box.name), col(Cultivar.epithet),
            col(Cultivar.trade_designation), col(Collection.name_as_told))
        .join(_Mate, col(_Mate.into_box_id) == col(Stay.into_box_id))
        .join(Bundle, col(Bundle.id) == col(_Mate.bundle_id))
        .join(Box, col(Box.id) == col(Stay.into_box_id))
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .where(
            col(Stay.bundle_id).in_(list(bundle_ids)), col(Stay.until_at).is_(None), col(_Mate.until_at).is_(None),
            col(_Mate.bundle_id) != col(Stay.bundle_id),
        )
        .order_by(col(Bundle.code), col(Bundle.id))
    )  # fmt: skip
    found: dict[UUID, list[NeighbourRead]] = {}
    for row in session.execute(statement):
        found.setdefault(row.of, []).append(
            NeighbourRead(
                bundle_id=row.mate,
                code=row.code,
                box_name=row.name,
                name=page_name(row.epithet, row.trade_designation)
                if row.epithet
                else (row.name_as_told or "unnamed"),
            )
        )
    return found
