"""What somebody has at home, and when the record of wood was last changed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.queries import ON_HAND
from service.bundles.tables import Bundle, BundleStop, StickMove
from service.catalogue.rules import page_name
from service.catalogue.tables import Cultivar, StorageLimit, Taxon
from service.collection.rules import Wood
from service.collection.tables import Collection
from service.storage.schemas.keeping import Ends, KeepingRead
from service.storage.tables import BundleKeeping, PutAway
from service.trees.tables import StopStep

_Parent = aliased(Bundle, name="parent_in_hand")


@dataclass(frozen=True)
class WoodInHand:
    """Dormant wood of one person, and until when it keeps: as reckoned, else as its kind is usually kept at most."""

    bundle_id: UUID
    code: str | None
    kind: str
    variety: str
    on_hand: int
    stopped: bool
    until: date | None
    ends: Ends | None  # of what was reckoned; none where only its age counts
    usual_weeks: tuple[int, int] | None
    mark: str  # how the usual time is known
    changed_at: datetime


def wood_in_hand(session: Session, party_id: UUID) -> list[WoodInHand]:
    """One statement. Summer budwood is used within days, and has no such date."""
    statement = (
        select(
            Bundle, BundleKeeping, ON_HAND.label("on_hand"), col(_Parent.code).label("parent_code"), col(Taxon.kind),
            col(Cultivar.epithet), col(Cultivar.trade_designation), col(Collection.name_as_told), col(Collection.cut_on),
            col(StorageLimit.keep_weeks_min), col(StorageLimit.keep_weeks_max), col(StorageLimit.keep_mark),
        )
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(StorageLimit, col(StorageLimit.species_group) == col(Taxon.species_group))
        .outerjoin(BundleKeeping, col(BundleKeeping.bundle_id) == col(Bundle.id))
        .outerjoin(_Parent, col(_Parent.id) == col(Bundle.parent_id))
        .where(col(Bundle.holder_id) == party_id, ON_HAND > 0, col(Collection.wood) == Wood.DORMANT.value)
        .order_by(col(Bundle.made_at), col(Bundle.id))
    )  # fmt: skip
    return [_in_hand(row) for row in session.execute(statement)]


def _in_hand(row: Any) -> WoodInHand:
    bundle, stored = row.Bundle, row.BundleKeeping
    keeping = None if stored is None else KeepingRead.model_validate(stored.told)
    weeks = None if row.keep_weeks_max is None else (row.keep_weeks_min, row.keep_weeks_max)
    if keeping is not None and keeping.share is not None:
        until, ends = keeping.keeps_until, keeping.ends
    else:
        until, ends = None if weeks is None else row.cut_on + timedelta(weeks=weeks[1]), None
    variety = page_name(row.epithet, row.trade_designation) if row.epithet else row.name_as_told
    return WoodInHand(
        bundle.id, bundle.code or row.parent_code, row.kind, variety,
        row.on_hand, bundle.open_stops > 0, until, ends, weeks, row.keep_mark or "",
        max(bundle.made_at, stored.as_of) if stored is not None else bundle.made_at,
    )  # fmt: skip


@dataclass(frozen=True)
class RecordChanged:
    """When the wood of the club was last moved, counted, stopped or released, and when a stop last took a step."""

    wood_at: datetime | None
    stops_at: datetime | None


def record_changed(session: Session) -> RecordChanged:
    """One statement.

    What is no longer told of a store leaves no mark in what still is: so nothing of it can be called older than this.
    """
    last_put = select(col(PutAway.recorded_at)).order_by(col(PutAway.seq).desc()).limit(1)
    last_move = select(col(StickMove.recorded_at)).order_by(col(StickMove.seq).desc()).limit(1)
    *of_wood, stops_at = session.execute(
        select(
            last_put.scalar_subquery(), last_move.scalar_subquery(), select(func.max(col(BundleStop.placed_at))).scalar_subquery(),
            select(func.max(col(BundleStop.lifted_at))).scalar_subquery(), select(func.max(col(StopStep.at))).scalar_subquery(),
        )
    ).one()  # fmt: skip
    return RecordChanged(max((moment for moment in of_wood if moment is not None), default=None), stops_at)
