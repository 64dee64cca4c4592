"""Bundles begin: freshly cut or received sticks tied together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import case, update
from sqlmodel import Session, col

from service.bundles import queries
from service.bundles.actions.ledger import Move, write_moves
from service.bundles.actions.stopping import bind_bundle_stop
from service.bundles.rules import BundleFacts, MoveKind, NoSuchBundle, StickCount
from service.bundles.schemas import BundleRead, BundleStart, BundleUpdate
from service.bundles.tables import Bundle
from service.collection import queries as collection_queries
from service.collection.rules import CollectionFacts, CollectionKind
from service.lib.clock import check_done_at
from service.lib.errors import AlreadyKnown, Unusable, check_version
from service.lib.write import insert_rows, recorded_at, touch_bundles
from service.members.rules import Member, names_only
from service.trees.queries import open_stops_for_trees


def start_bundles(session: Session, member: Member, body: list[BundleStart]) -> list[BundleRead]:
    """Tie sticks of collections into bundles. The same statements for one bundle and for twenty."""
    at = recorded_at(session)
    ids = [start.id for start in body]
    if len(set(ids)) != len(ids):
        raise Unusable("The same bundle stands twice in this request.", field="id")
    if queries.facts_for_bundles(session, ids):
        raise AlreadyKnown("A bundle with this id stands already.", ids=[str(i) for i in ids])
    collections = collection_queries.facts_for_collections(session, {start.collection_id for start in body})
    facts, moves = [], []
    for start in body:
        collection = collections.get(start.collection_id)
        if collection is None:
            raise Unusable(
                "There is no cut or receipt with this id.", field="collection_id", id=str(start.collection_id)
            )
        done_at = check_done_at(start.done_at or collection.done_at, at)
        facts.append(_facts(start, done_at))
        kind = MoveKind.RECEIVED if collection.kind is CollectionKind.RECEIPT else MoveKind.COLLECTED
        moves.append(Move(start.id, kind, start.sticks, done_at, reason=""))
    add_bundles(session, facts)
    write_moves(session, member, moves, {})
    return [queries.bundle_read(bundle) for bundle in _bind_late_wood(session, member, facts, collections)]


def _bind_late_wood(
    session: Session, member: Member, bundles: list[BundleFacts], collections: Mapping[UUID, CollectionFacts]
) -> list[BundleFacts]:
    """Wood of a tree that is stopped when its bundles are tied is born bound: it was cut before the stop, or against it."""
    tree_of = {
        bundle.id: collections[bundle.collection_id].tree_id
        for bundle in bundles
        if collections[bundle.collection_id].tree_stops
    }
    stops = open_stops_for_trees(session, sorted({tree for tree in tree_of.values() if tree}))
    by_stop: dict[UUID, list[tuple[UUID, str]]] = {}
    for bundle_id, tree_id in tree_of.items():
        for stop in stops.get(tree_id, []) if tree_id else []:
            by_stop.setdefault(stop.id, []).append((bundle_id, "late_entry"))
    bound: dict[UUID, int] = {}
    for stop_id, these in by_stop.items():
        for bundle_id in bind_bundle_stop(session, member, stop_id, these):
            bound[bundle_id] = bound.get(bundle_id, 0) + 1
    return [
        replace(one, open_stops=bound[one.id], version=one.version + bound[one.id])
        if one.id in bound
        else one
        for one in bundles
    ]


def _facts(start: BundleStart, done_at: datetime) -> BundleFacts:
    return BundleFacts(
        start.id, start.code, start.collection_id, None, start.holder_id, False, StickCount(came_in=start.sticks), 0,
        start.sticks, start.length_mm, start.diameter_mm, start.unfinished, done_at, start.note, 1,
    )  # fmt: skip


def add_bundles(session: Session, bundles: list[BundleFacts]) -> None:
    """Insert bundles as they are planned; one statement."""
    insert_rows(session, Bundle, [_row(bundle) for bundle in bundles])


def _row(bundle: BundleFacts) -> dict[str, Any]:
    count = bundle.count
    return {
        "id": bundle.id, "code": bundle.code, "collection_id": bundle.collection_id, "parent_id": bundle.parent_id,
        "holder_id": bundle.holder_id, "is_flag": bundle.is_flag, "came_in": count.came_in, "passed_on": count.passed_on,
        "grafted": count.grafted, "discarded": count.discarded, "promised": count.promised, "claimed": count.claimed,
        "open_stops": bundle.open_stops, "sticks_at_start": bundle.sticks_at_start, "length_mm": bundle.length_mm,
        "diameter_mm": bundle.diameter_mm, "unfinished": bundle.unfinished, "made_at": bundle.made_at, "note": bundle.note,
        "version": bundle.version,
    }  # fmt: skip


def change_bundle(
    session: Session, member: Member, bundle_id: UUID, body: BundleUpdate, version: int
) -> BundleRead:
    """Mend what was measured or noted; moves no stick."""
    facts = queries.get_facts(session, bundle_id, lock=True)
    check_version(facts.version, version)
    told = body.model_dump(exclude_unset=True)
    if told.get("note", "") is None or told.get("unfinished", False) is None:
        raise Unusable("A note or mark can be empty, not null.")
    session.execute(
        update(Bundle)
        .where(col(Bundle.id) == bundle_id)
        .values(**told, version=Bundle.version + 1)
        .execution_options(synchronize_session=False)
    )
    touch_bundles(session, [bundle_id])
    return queries.get_bundle(session, bundle_id, name_only=names_only(member))


def set_codes(session: Session, codes: dict[UUID, str]) -> None:
    """Note the code each bundle goes by; one statement."""
    if codes:
        changed = session.execute(
            update(Bundle)
            .where(col(Bundle.id).in_(list(codes)))
            .values(code=case(codes, value=col(Bundle.id)), version=Bundle.version + 1)
            .execution_options(synchronize_session=False)
        )
        if changed.rowcount != len(codes):  # type: ignore[attr-defined]
            raise NoSuchBundle("One of these bundles is not in the record.")
        touch_bundles(session, codes)


def begin_at(session: Session, collection_id: UUID, before: datetime, done_at: datetime) -> None:
    """Bundles that were tied when their wood was cut or came, after that time was put right. The ledger keeps what it said."""
    changed = session.execute(
        update(Bundle)
        .where(
            col(Bundle.collection_id) == collection_id,
            col(Bundle.parent_id).is_(None),
            col(Bundle.made_at) == before,
        )
        .values(made_at=done_at, version=Bundle.version + 1)
        .returning(col(Bundle.id))
        .execution_options(synchronize_session=False)
    )
    touch_bundles(session, list(changed.scalars()))
