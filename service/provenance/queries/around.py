"""What is near some wood without coming of it: box-mates, the same round, open tables, and every hand it was in."""

from __future__ import annotations

from collections.abc import Collection as Many
from dataclasses import replace
from typing import Any
from uuid import UUID

from sqlalchemy import Integer, case, func, literal_column, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.tables import Bundle, StickMove
from service.collection.tables import Collection
from service.grafting.tables import Plant, PlantMove
from service.lib.given import these
from service.members.tables import Party
from service.provenance.queries.recalls import taker_read
from service.provenance.queries.telling import IN_HAND, plants_gone_outside, takers_of
from service.provenance.queries.trace import Trace
from service.provenance.rules.lineage import Thing
from service.provenance.rules.telling import HOLDER_FORGOTTEN
from service.provenance.schemas import BesideBundle, HeldBy, SameRound, TraceAround
from service.storage.queries import beside_all
from service.storage.rules import Closeness
from service.storage.tables import Stay
from service.trees.tables import SourceTree

_Of = aliased(Collection, name="of_wood")
_NOW, _ONCE = literal_column("1", Integer()), literal_column("0", Integer())


def trace_around(session: Session, trace: Trace, *, with_names: bool = False) -> TraceAround:
    """What lay beside, was cut beside and was held, for all bundles and cuts of a trace; at most eleven statements."""
    bundles = trace.ids(Thing.BUNDLE)
    plants = trace.ids(Thing.PLANT)
    return TraceAround(
        beside=_beside(session, bundles), same_round=_same_round(session, trace.ids(Thing.COLLECTION)),
        unknown_takers=[
            taker_read(one if with_names else replace(one, told=""))
            for one in (*takers_of(session, these(session, bundles)), *plants_gone_outside(session, these(session, plants)))
        ],
        held_by=[*_held_by(session, bundles, with_names), *_plants_held_by(session, plants, with_names)],
    )  # fmt: skip


def boxed(session: Session, bundle_ids: Many[UUID]) -> list[UUID]:
    """Those of the bundles that ever lay in a box."""
    wanted = these(session, bundle_ids)
    return list(
        session.execute(
            select(col(Stay.bundle_id))
            .where(col(Stay.bundle_id).in_(wanted), col(Stay.into_box_id).is_not(None))
            .distinct()
        ).scalars()
    )


def _beside(session: Session, bundle_ids: Many[UUID]) -> list[BesideBundle]:
    own = set(bundle_ids)
    found = [
        one
        for one in beside_all(session, boxed(session, bundle_ids), at_least=Closeness.BOX)
        if one.other_id not in own
    ]
    wanted = these(session, {one.other_id for one in found})
    codes = (
        dict(
            session.execute(select(col(Bundle.id), col(Bundle.code)).where(col(Bundle.id).in_(wanted))).all()
        )
        if found
        else {}
    )
    return [
        BesideBundle(
            bundle_id=one.other_id, code=codes.get(one.other_id), beside_id=one.bundle_id, from_at=one.span.from_at, until_at=one.span.until_at  # noqa: E501
        )
        for one in found
    ]  # fmt: skip


def _same_round(session: Session, collection_ids: Many[UUID]) -> list[SameRound]:
    """Cuts of other trees on the rounds of these cuts, each once: after, where any cut of the wood came before it."""
    own = these(session, collection_ids)
    after = func.max(case((col(Collection.done_at) >= col(_Of.done_at), 1), else_=0))
    rows = session.execute(
        select(
            col(Collection.id), col(Collection.number), col(Collection.tree_id), col(SourceTree.number).label("tree_number"),
            col(Collection.done_at), col(Collection.disinfected), after.label("after"),
        )
        .select_from(_Of)
        .join(Collection, col(Collection.round_id) == col(_Of.round_id))
        .join(SourceTree, col(SourceTree.id) == col(Collection.tree_id))
        .where(col(_Of.id).in_(own), col(Collection.tree_id) != col(_Of.tree_id), col(Collection.id).not_in(own))
        .group_by(col(Collection.id), col(SourceTree.number))
        .order_by(col(Collection.done_at), col(Collection.number))
    )  # fmt: skip
    return [
        SameRound(
            collection_id=row.id, number=row.number, tree_id=row.tree_id, tree_number=row.tree_number, done_at=row.done_at,
            after=bool(row.after), disinfected=row.disinfected,
        )
        for row in rows
    ]  # fmt: skip


def _held_by(session: Session, bundle_ids: Many[UUID], with_names: bool) -> list[HeldBy]:
    wanted = these(session, bundle_ids)
    now = select(
        col(Bundle.id).label("thing_id"), col(Bundle.holder_id).label("party_id"), _NOW.label("now")
    ).where(col(Bundle.id).in_(wanted), col(Bundle.holder_id).is_not(None))
    once = select(col(StickMove.bundle_id), col(StickMove.party_id), _ONCE).where(
        col(StickMove.bundle_id).in_(wanted),
        col(StickMove.party_id).is_not(None),
        col(StickMove.kind).in_(IN_HAND),
    )
    return [
        HeldBy(bundle_id=thing_id, **told)
        for thing_id, told in _hands(session, now.union_all(once), with_names)
    ]


def _plants_held_by(session: Session, plant_ids: Many[UUID], with_names: bool) -> list[HeldBy]:
    wanted = these(session, plant_ids)
    now = select(
        col(Plant.id).label("thing_id"), col(Plant.holder_id).label("party_id"), _NOW.label("now")
    ).where(col(Plant.id).in_(wanted), col(Plant.holder_id).is_not(None))
    once = [
        select(col(PlantMove.plant_id), party, _ONCE).where(
            col(PlantMove.plant_id).in_(wanted), party.is_not(None)
        )
        for party in (col(PlantMove.from_party_id), col(PlantMove.party_id))
    ]
    return [
        HeldBy(bundle_id=None, plant_id=thing_id, **told)
        for thing_id, told in _hands(session, now.union_all(*once), with_names)
    ]


def _hands(session: Session, every: Any, with_names: bool) -> list[tuple[UUID, dict[str, Any]]]:
    """Each hand a thing was in, once; rows of thing, party, and 1 for whoever has it now."""
    hands = every.subquery()
    rows = session.execute(
        select(
            hands.c.thing_id,
            hands.c.party_id,
            func.max(hands.c.now).label("now"),
            col(Party.name),
            col(Party.forgotten_at),
        )
        .join(Party, col(Party.id) == hands.c.party_id)
        .group_by(hands.c.thing_id, hands.c.party_id, col(Party.name), col(Party.forgotten_at))
        .order_by(col(Party.name), hands.c.thing_id)
    )
    return [
        (
            row.thing_id,
            {
                "party_id": row.party_id,
                "now": bool(row.now),
                "party": (HOLDER_FORGOTTEN if row.forgotten_at is not None else row.name)
                if with_names
                else None,
            },
        )
        for row in rows
    ]
