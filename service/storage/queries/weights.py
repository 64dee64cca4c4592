"""Bags on a scale, and what their wood lost."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.bundles.queries import left_of
from service.bundles.rules import MoveKind
from service.bundles.tables import StickMove
from service.storage.queries.lying import check_bundle_stands
from service.storage.rules import Loss, Moment, NoSuchWeighing, Weighed, judge_loss, loss_of, loss_words
from service.storage.schemas import FindingRead, LossRead, WeighingRead, WeighingsRead
from service.storage.tables import BagWeighing, BundleCheck

_CHANGE = left_of(StickMove)


def weighing_read(row: BagWeighing) -> WeighingRead:
    empty = None if row.empty_tenths is None else Decimal(row.empty_tenths) / 10
    return WeighingRead.model_validate(
        {**row.model_dump(), "grams": Decimal(row.tenths) / 10, "empty_grams": empty}
    )


def get_weighings(session: Session, bundle_id: UUID) -> WeighingsRead:
    """The same as `weighings_of`; four statements. Raises `NoSuchBundle`."""
    check_bundle_stands(session, bundle_id)
    return weighings_of(session, bundle_id)


def weighings_of(session: Session, bundle_id: UUID) -> WeighingsRead:
    """All weights of a bundle's bag, the latest first, and the loss they tell; at most three statements."""
    told = [*_weighings(session, bundle_id), *_from_looks(session, bundle_id)]
    told.sort(key=lambda one: (one.weighed_at, one.recorded_at), reverse=True)
    counted = [weighed(one) for one in told if one.taken_back_at is None]
    loss = loss_of(counted, _changes(session, bundle_id)) if len(counted) > 1 else None
    return WeighingsRead(bundle_id=bundle_id, weighings=told, loss=loss and _loss_read(loss))


def get_weighing(session: Session, weighing_id: UUID) -> WeighingRead:
    """One statement. Raises `NoSuchWeighing`."""
    row = session.get(BagWeighing, weighing_id)
    if row is None:
        raise NoSuchWeighing("There is no weighing under this id.")
    return weighing_read(row)


def weighed(one: WeighingRead) -> Weighed:
    empty = None if one.empty_grams is None else int(one.empty_grams * 10)
    return Weighed(one.weighed_at, int(one.grams * 10), one.moment, empty)


def _weighings(session: Session, bundle_id: UUID) -> list[WeighingRead]:
    rows = session.execute(select(BagWeighing).where(col(BagWeighing.bundle_id) == bundle_id)).scalars()
    return [weighing_read(row) for row in rows]


def _from_looks(session: Session, bundle_id: UUID) -> list[WeighingRead]:
    looks = session.execute(
        select(BundleCheck).where(
            col(BundleCheck.bundle_id) == bundle_id, col(BundleCheck.bag_grams).is_not(None)
        )
    ).scalars()
    return [
        WeighingRead(
            id=look.id, bundle_id=bundle_id, grams=Decimal(str(round(look.bag_grams or 0, 1))), empty_grams=None, moment=Moment.WEIGHED,
            from_look=True, weighed_at=look.seen_at, recorded_at=look.recorded_at, by_party_id=look.by_party_id,
            for_party_id=look.for_party_id, note="",
        )
        for look in looks
    ]  # fmt: skip


def _changes(session: Session, bundle_id: UUID) -> list[datetime]:
    """When sticks came or went by the ledger; a recount puts a number right and moves no wood."""
    statement = select(col(StickMove.done_at), _CHANGE.label("change"), col(StickMove.kind)).where(
        col(StickMove.bundle_id) == bundle_id
    )
    return [row.done_at for row in session.execute(statement) if _moves_wood(row.kind, row.change)]


def _moves_wood(kind: str, change: int) -> bool:
    return kind == MoveKind.CUT_TO_LENGTH or (change != 0 and kind != MoveKind.CORRECTED)


def _loss_read(loss: Loss) -> LossRead:
    finding = FindingRead.model_validate(judge_loss(loss))
    return LossRead(**vars(loss), words=loss_words(loss), finding=finding)
