"""What else to consider for a stop: it is proposed, and a person decides."""

from __future__ import annotations

from collections.abc import Collection as Many
from collections.abc import Iterable
from datetime import UTC, date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import func, select
from sqlmodel import Session, col

from service.bundles.queries.counters import ON_HAND
from service.bundles.tables import Bundle, BundleStop
from service.catalogue.rules import page_name
from service.catalogue.tables import Cultivar, Taxon
from service.collection.queries import stop_candidates
from service.collection.tables import Collection
from service.grafting.tables import PlantStop
from service.lib.codes import group_code
from service.lib.given import these
from service.provenance.queries.around import boxed
from service.provenance.rules.stops import Why
from service.provenance.rules.words import count, day
from service.provenance.schemas import BoundRead, ProposalsRead, ProposedBundle
from service.storage.queries import beside_all
from service.storage.rules import Closeness
from service.trees.rules import StopReason
from service.trees.schemas import StopCandidate, StopRead
from service.trees.tables import TreeStop

MOST = 500


def bound_by(session: Session, stop_id: UUID) -> set[UUID]:
    """The bundles a stop binds now."""
    return set(
        session.execute(
            select(col(BundleStop.bundle_id)).where(
                col(BundleStop.stop_id) == stop_id, col(BundleStop.lifted_at).is_(None)
            )
        ).scalars()
    )


def count_bound(session: Session, stop_id: UUID, since: date | None = None) -> BoundRead:
    """How much a stop binds now; one statement."""
    bundles = (
        select(func.count().label("bundles"), func.coalesce(func.sum(ON_HAND), 0).label("sticks"))
        .select_from(BundleStop)
        .join(Bundle, col(Bundle.id) == col(BundleStop.bundle_id))
        .where(col(BundleStop.stop_id) == stop_id, col(BundleStop.lifted_at).is_(None))
        .subquery()
    )
    plants = _how_many(PlantStop, stop_id)
    trees = _how_many(TreeStop, stop_id)
    row = session.execute(
        select(bundles.c.bundles, bundles.c.sticks, plants.label("plants"), trees.label("trees"))
    ).one()
    return BoundRead(
        bundles=row.bundles, sticks_on_hand=row.sticks, plants=row.plants, trees=row.trees, since=since
    )


def _how_many(table: Any, stop_id: UUID) -> Any:
    return (
        select(func.count())
        .select_from(table)
        .where(col(table.stop_id) == stop_id, col(table.lifted_at).is_(None))
        .scalar_subquery()
    )


def proposals_for(session: Session, stop: StopRead, *, since: date | None = None) -> ProposalsRead:
    """Hosts on the site, later cuts of the round, box-mates, and wood of earlier winters, without what is bound already.

    For health alone: a wrong name or a right does not spread.
    """
    origins = [tree.tree_id for tree in stop.trees if tree.is_origin and tree.lifted_at is None]
    bound = bound_by(session, stop.id)
    spreads = stop.reason is StopReason.HEALTH
    return ProposalsRead(
        trees=_trees(session, stop, origins, since) if spreads else [],
        bundles=[
            *(_box_mates(session, bound) if spreads else []),
            *_earlier(session, origins, bound, since),
        ],
    )


def _trees(
    session: Session, stop: StopRead, origins: Iterable[UUID], since: date | None
) -> list[StopCandidate]:
    bound = {tree.tree_id for tree in stop.trees if tree.lifted_at is None}
    begun = datetime(since.year, since.month, since.day, tzinfo=UTC) if since else None
    found: dict[tuple[UUID, str], StopCandidate] = {}
    for origin in origins:
        for tree in stop_candidates(session, origin, stop.agent, begun):
            if tree.tree_id not in bound:
                found.setdefault((tree.tree_id, tree.why), tree)
    return list(found.values())


def _box_mates(session: Session, bound: Many[UUID]) -> list[ProposedBundle]:
    mates: dict[UUID, str] = {}
    for one in beside_all(session, boxed(session, bound), at_least=Closeness.BOX):
        if one.other_id not in bound:
            begun = one.span.from_at
            since = f" from {day(begun.date())} on" if begun else ""
            mates.setdefault(one.other_id, f"lay in one box with it{since}")
    return _described(session, mates, Why.BOX_MATE)


def _earlier(
    session: Session, origins: Many[UUID], bound: Many[UUID], since: date | None
) -> list[ProposedBundle]:
    if since is None or not origins:
        return []
    cut = select(col(Collection.id)).where(
        col(Collection.tree_id).in_(list(origins)), col(Collection.cut_on) < since
    )
    ids = session.execute(select(col(Bundle.id)).where(col(Bundle.collection_id).in_(cut))).scalars()
    return _described(
        session,
        {one: f"cut of the same tree before {day(since)}" for one in ids if one not in bound},
        Why.EARLIER_WINTER,
    )


def _described(session: Session, words: dict[UUID, str], why: Why) -> list[ProposedBundle]:
    if not words:
        return []
    rows = session.execute(
        select(
            col(Bundle.id), col(Bundle.code), ON_HAND.label("on_hand"), col(Collection.name_as_told), col(Cultivar.epithet),
            col(Cultivar.trade_designation), col(Taxon.kind),
        )
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .where(col(Bundle.id).in_(these(session, words)))
        .order_by(ON_HAND.desc(), col(Bundle.code), col(Bundle.id))
        .limit(MOST)
    )  # fmt: skip
    return [
        ProposedBundle(
            bundle_id=row.id, code=row.code, on_hand=row.on_hand, why=why,
            name=page_name(row.epithet, row.trade_designation) if row.epithet else row.name_as_told or row.kind,
            words=f"{f'Bundle {group_code(row.code)}' if row.code else 'A bundle'} {words[row.id]}; {count(row.on_hand, 'stick')} on hand.",
        )
        for row in rows
    ]  # fmt: skip
