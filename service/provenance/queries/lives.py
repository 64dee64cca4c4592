"""What happened to many bundles, briefly, for the life lines of a list: one statement however many there are."""

from __future__ import annotations

from collections.abc import Collection as Many
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import (
    ColumnElement,
    Integer,
    Select,
    String,
    and_,
    case,
    literal,
    or_,
    select,
    type_coerce,
    union_all,
)
from sqlalchemy.orm import Mapped
from sqlmodel import Session, col

from service.bundles.queries import left_of
from service.bundles.tables import BundleStop, StickMove
from service.lib.given import these
from service.provenance.rules.timeline import EventKind
from service.storage.tables import BundleCheck, PutAway, Stay
from service.trees.tables import StopRelease, StopStep

Column = ColumnElement[Any] | Mapped[Any]


@dataclass(frozen=True)
class LifeEvent:
    """One thing that happened to a bundle, without its sentence."""

    kind: EventKind
    act: str
    done_at: datetime
    sticks: int = 0
    words: str = ""


def lives_of(session: Session, bundle_ids: Many[UUID]) -> dict[UUID, list[LifeEvent]]:
    """The events of each bundle in the order in which they were done; one statement."""
    if not bundle_ids:
        return {}
    wanted = these(session, set(bundle_ids))
    rows = session.execute(union_all(*_selects(wanted)).order_by("done_at", "place")).all()
    lives: dict[UUID, list[LifeEvent]] = {bundle_id: [] for bundle_id in bundle_ids}
    for row in rows:
        lives[row.bundle_id].append(LifeEvent(EventKind(row.kind), row.act, row.done_at, row.sticks))
    return lives


def _selects(wanted: Any) -> list[Select[Any]]:
    change = left_of(StickMove)
    put = case(
        (or_(col(PutAway.place_id).is_not(None), col(PutAway.into_box_id).is_not(None)), "in"), else_="out"
    )
    in_box = and_(
        col(Stay.into_box_id) == col(PutAway.box_id), col(Stay.from_at) < col(PutAway.done_at),
        or_(col(Stay.until_at).is_(None), col(PutAway.done_at) < col(Stay.until_at)),
    )  # fmt: skip
    # A bundle that a stop took in later is stopped from then on.
    stopped_at = case(
        (col(StopStep.at) < col(BundleStop.placed_at), col(BundleStop.placed_at)), else_=col(StopStep.at)
    )
    return [
        _rows(EventKind.MOVE, col(StickMove.bundle_id), col(StickMove.kind), col(StickMove.done_at), change, col(StickMove.seq))
        .where(col(StickMove.bundle_id).in_(wanted)),
        _rows(EventKind.PLACE, col(PutAway.bundle_id), put, col(PutAway.done_at), place=col(PutAway.seq))
        .where(col(PutAway.bundle_id).in_(wanted)),
        _rows(EventKind.PLACE, col(Stay.bundle_id), put, col(PutAway.done_at), place=col(PutAway.seq))
        .join_from(Stay, PutAway, in_box).where(col(Stay.bundle_id).in_(wanted)),
        _rows(EventKind.LOOK, col(BundleCheck.bundle_id), literal(""), col(BundleCheck.seen_at))
        .where(col(BundleCheck.bundle_id).in_(wanted)),
        _rows(EventKind.STOP, col(BundleStop.bundle_id), col(StopStep.state), stopped_at)
        .join_from(BundleStop, StopStep, col(StopStep.stop_id) == col(BundleStop.stop_id))
        .where(
            col(BundleStop.bundle_id).in_(wanted),
            or_(col(BundleStop.lifted_at).is_(None), col(StopStep.at) <= col(BundleStop.lifted_at)),
        ),
        _rows(EventKind.STOP, col(StopRelease.thing_id), literal("suspected"), col(StopRelease.placed_at))
        .where(col(StopRelease.thing_id).in_(wanted), col(StopRelease.alone)),
        _rows(EventKind.STOP, col(StopRelease.thing_id), literal("released"), col(StopRelease.released_at))
        .where(col(StopRelease.thing_id).in_(wanted), col(StopRelease.alone)),
    ]  # fmt: skip


def _rows(
    kind: EventKind, bundle: Column, act: Column, at: Column,
    sticks: Column | None = None, place: Column | None = None,
) -> Select[Any]:  # fmt: skip
    return select(
        bundle.label("bundle_id"), literal(kind.value).label("kind"), type_coerce(act, String).label("act"), at.label("done_at"),
        (literal(0) if sticks is None else type_coerce(sticks, Integer)).label("sticks"),
        (literal(0) if place is None else place).label("place"),
    )  # fmt: skip
