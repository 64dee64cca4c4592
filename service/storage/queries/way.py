"""A bundle's way as it is drawn: where it lay, when it was looked at and weighed, when its store was too warm or froze."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.lib.readings import HOUR_SECONDS
from service.storage.queries.keeping import look_words
from service.storage.queries.ways import Facts
from service.storage.rules import AlarmKind, rang_name
from service.storage.schemas.keeping import WayMark, WayRead, WaySpan
from service.storage.tables import StoreRing

if TYPE_CHECKING:
    from service.storage.rules.keeping import Lay


def way_of(session: Session, facts: Facts, bundle_id: UUID, lays: Sequence[Lay]) -> WayRead:
    """One statement; none of wood that lay in no store."""
    spells = list(_spells(lays))
    spans = [
        WaySpan(
            store_name="" if store is None else facts.store_names.get(store, ""), from_at=begin, until_at=end
        )
        for store, begin, end in spells
    ]
    marks = [*_seen(facts, bundle_id), *_rung(session, spells)]
    return WayRead(spans=spans, marks=sorted(marks, key=lambda one: (one.at, one.what)))


def _spells(lays: Sequence[Lay]) -> Iterable[tuple[UUID | None, datetime, datetime]]:
    """Lays that follow each other in one store are one, whatever lay beside the wood."""
    begin = 0
    for place, lay in enumerate(lays):
        if place + 1 == len(lays) or lays[place + 1].store_id != lay.store_id:
            if lay.end > lays[begin].begin:
                yield lay.store_id, _at(lays[begin].begin), _at(lay.end)
            begin = place + 1


def _at(hour: int) -> datetime:
    return datetime.fromtimestamp(hour * HOUR_SECONDS, UTC)


def _seen(facts: Facts, bundle_id: UUID) -> Iterable[WayMark]:
    """Looks and weights, of what it was split from as long as it was part of it."""
    row = facts.rows[bundle_id]
    for part, left in facts.line(bundle_id):
        for look in facts.checks.get(part.id, ()):
            if left is None or look.seen_at <= left:
                yield WayMark(what="look", at=look.seen_at, words=look_words(facts, row, look))
        for one in facts.weights.get(part.id, ()) if part.id == bundle_id else ():
            yield WayMark(what="weighed", at=one.weighed_at, words=f"The bag weighed {one.tenths / 10:g} g.")


def _rung(session: Session, spells: Sequence[tuple[UUID | None, datetime, datetime]]) -> list[WayMark]:
    """Freezing and heat that rang where it lay, while it lay there."""
    ids = {store for store, _, _ in spells if store is not None}
    if not ids:
        return []
    rows = session.execute(
        select(col(StoreRing.store_id), col(StoreRing.kind), col(StoreRing.began_at), col(StoreRing.last_at), col(StoreRing.extreme_c))
        .where(col(StoreRing.store_id).in_(list(ids)), col(StoreRing.withdrawn_at).is_(None))
        .order_by(col(StoreRing.began_at))
    )  # fmt: skip
    return [
        WayMark(
            what=row.kind, at=max(begin, row.began_at), until_at=min(end, row.last_at),
            words=f"{rang_name(AlarmKind(row.kind), row.extreme_c)} in its store, {row.extreme_c:.1f} °C at worst.".replace("-", "−"),
        )
        for row in rows
        for store, begin, end in spells
        if store == row.store_id and row.began_at < end and row.last_at >= begin
    ]  # fmt: skip
