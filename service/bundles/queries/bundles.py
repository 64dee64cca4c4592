"""Bundles by id, by code, in lists; their moves; what stops them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from functools import cache, partial
from typing import Any
from uuid import UUID

from sqlalchemy import Select, bindparam, func, select
from sqlmodel import Session, col

from service.bundles.queries.counters import FREE, ON_HAND
from service.bundles.rules import (
    BundleFacts,
    MoveKind,
    NoSuchBundle,
    StickCount,
    check_done_after_made,
    may_lie_before,
)
from service.bundles.schemas import BundleRead, BundleSummary, StickMoveRead
from service.bundles.tables import Bundle, BundleStop, StickMove
from service.catalogue.rules import page_name
from service.catalogue.tables import Cultivar, Taxon
from service.collection.queries.collections import tree_seen_in_leaf_on
from service.collection.tables import Collection
from service.lib.clock import local_day
from service.lib.paging import Page, Paging, page_of
from service.members.queries import CLUB_ZONE
from service.members.rules import Everybody, may_name
from service.members.tables import Party
from service.trees.rules import StopReason, StopState, says_stop
from service.trees.tables import SourceTree, Stop

_COLUMNS = Bundle.__table__.c  # type: ignore[attr-defined]


def facts_for_bundles(
    session: Session, bundle_ids: Iterable[UUID], *, lock: bool = False
) -> dict[UUID, BundleFacts]:
    """Bundles by id, locked in the order of their ids where they are about to change; one statement."""
    rows = session.connection().execute(_facts(lock=lock), {"ids": list(set(bundle_ids))})
    return {row.id: facts_of(row) for row in rows}


@cache
def _facts(*, lock: bool) -> Select[*tuple[Any, ...]]:
    wanted = _COLUMNS.id.in_(bindparam("ids", expanding=True))
    statement = select(*_COLUMNS).where(wanted).order_by(_COLUMNS.id)
    return statement.with_for_update() if lock else statement


def facts_of(row: Any) -> BundleFacts:
    count = StickCount(row.came_in, row.passed_on, row.grafted, row.discarded, row.promised, row.claimed)
    return BundleFacts(
        row.id, row.code, row.collection_id, row.parent_id, row.holder_id, row.is_flag, count, row.open_stops,
        row.sticks_at_start, row.length_mm, row.diameter_mm, row.unfinished, row.made_at, row.note, row.version,
    )  # fmt: skip


def get_facts(session: Session, bundle_id: UUID, *, lock: bool = False) -> BundleFacts:
    facts = facts_for_bundles(session, [bundle_id], lock=lock).get(bundle_id)
    if facts is None:
        raise NoSuchBundle("There is no bundle with this id.", id=str(bundle_id))
    return facts


def check_deeds(
    session: Session, deeds: Iterable[tuple[UUID, datetime, datetime]], *, field: str = "done_at"
) -> None:
    """Nothing is done with a bundle before its own day: bundles, each with when it was made and when the deed was done.

    No statement where all deeds are later than their bundles, two otherwise. Raises `BeforeItWasMade`.
    """
    early = [deed for deed in deeds if may_lie_before(deed[1], deed[2])]
    if not early:
        return
    zone = session.execute(select(CLUB_ZONE)).scalar_one() or "UTC"
    known = facts_for_bundles(session, [bundle_id for bundle_id, _, _ in early])
    for bundle_id, made_at, done_at in early:
        check_done_after_made(made_at, done_at, zone, known[bundle_id].code, field=field)


def bundle_read(facts: BundleFacts) -> BundleRead:
    count = facts.count
    return BundleRead(
        id=facts.id, code=facts.code, collection_id=facts.collection_id, parent_id=facts.parent_id, holder_id=facts.holder_id,
        is_flag=facts.is_flag, sticks_at_start=facts.sticks_at_start, on_hand=count.on_hand, free=count.free,
        came_in=count.came_in, passed_on=count.passed_on, grafted=count.grafted, discarded=count.discarded,
        promised=count.promised, claimed=count.claimed, stopped=facts.open_stops > 0, length_mm=facts.length_mm,
        diameter_mm=facts.diameter_mm, unfinished=facts.unfinished, made_at=facts.made_at, note=facts.note, version=facts.version,
    )  # fmt: skip


def get_bundle(session: Session, bundle_id: UUID, *, name_only: UUID | Everybody | None = None) -> BundleRead:
    """One bundle; one statement. `name_only`: whose name beside it is told; nobody's where it is left out."""
    bundle = bundle_read(get_facts(session, bundle_id))
    told = may_name(name_only, bundle.holder_id)
    return bundle if told else bundle.model_copy(update={"holder_id": None})


def find_bundle_by_code(session: Session, code: str) -> UUID | None:
    return session.execute(select(Bundle.id).where(col(Bundle.code) == code)).scalar_one_or_none()


def _summaries() -> Any:
    return (
        select(
            Bundle.id, Bundle.code, Taxon.kind, Cultivar.epithet, Cultivar.trade_designation,
            Collection.name_as_told, Collection.wood, Collection.cut_on,
            col(SourceTree.number).label("tree_number"), ON_HAND.label("on_hand"),
            FREE.label("free"), Bundle.open_stops, Bundle.unfinished,
            Bundle.holder_id, col(Party.name).label("holder_name"), Bundle.is_flag, Bundle.made_at,
            tree_seen_in_leaf_on(),
        )
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(SourceTree, col(SourceTree.id) == col(Collection.tree_id))
        .outerjoin(Party, col(Party.id) == col(Bundle.holder_id))
    )  # type: ignore[call-overload]  # fmt: skip


def _summary(row: Any, name_only: UUID | Everybody | None = None) -> BundleSummary:
    name = page_name(row.epithet, row.trade_designation) if row.epithet else (row.name_as_told or "unnamed")
    told = may_name(name_only, row.holder_id)
    return BundleSummary(
        id=row.id, code=row.code, kind=row.kind, page_name=name, wood=row.wood, cut_on=row.cut_on, tree_number=row.tree_number,
        tree_seen_in_leaf_on=row.tree_seen_in_leaf_on,
        on_hand=row.on_hand, free=row.free, stopped=row.open_stops > 0, unfinished=row.unfinished,
        holder_id=row.holder_id if told else None, holder_name=row.holder_name if told else None, is_flag=row.is_flag, made_at=row.made_at,
    )  # fmt: skip


def list_bundles(
    session: Session, paging: Paging, *, collection_id: UUID | None = None, tree_id: UUID | None = None,
    cultivar_id: UUID | None = None, holder_id: UUID | None = None, of_club: bool = False, on_hand: bool = False,
    stopped: bool | None = None, parent_id: UUID | None = None, name_only: UUID | Everybody | None = None, code_part: str = "",
) -> Page[BundleSummary]:  # fmt: skip
    """Bundles, newest first; two statements. `name_only`: whose name beside it is told; nobody's where it is left out."""
    statement = _summaries()
    wanted = {Bundle.collection_id: collection_id, Collection.tree_id: tree_id, Collection.cultivar_id: cultivar_id,
              Bundle.holder_id: holder_id, Bundle.parent_id: parent_id}  # fmt: skip
    for column, value in wanted.items():
        if value is not None:
            statement = statement.where(column == value)
    if code_part:
        statement = statement.where(col(Bundle.code).contains(code_part.upper(), autoescape=True))
    if of_club:
        statement = statement.where(col(Bundle.holder_id).is_(None))
    if on_hand:
        statement = statement.where(ON_HAND > 0)
    if stopped is not None:
        statement = statement.where(col(Bundle.open_stops) > 0 if stopped else col(Bundle.open_stops) == 0)
    return page_of(
        session,
        statement,
        [(col(Bundle.made_at), True), (col(Bundle.id), True)],
        paging,
        partial(_summary, name_only=name_only),
    )


def list_moves(session: Session, bundle_id: UUID, paging: Paging) -> Page[StickMoveRead]:
    """The ledger of a bundle in recorded order; two statements."""
    statement = select(*StickMove.__table__.c).where(col(StickMove.bundle_id) == bundle_id)  # type: ignore[attr-defined]
    return page_of(session, statement, [(col(StickMove.seq), False)], paging, StickMoveRead.model_validate)


def bundles_of_collections(session: Session, collection_ids: Iterable[UUID]) -> list[UUID]:
    """Every bundle of these collections, children too: all descend from the same cutting."""
    return list(
        session.execute(select(Bundle.id).where(col(Bundle.collection_id).in_(set(collection_ids)))).scalars()
    )


def bundles_of_trees(session: Session, tree_ids: Iterable[UUID]) -> list[UUID]:
    """Every bundle cut from these trees, children too."""
    cut = select(Collection.id).where(col(Collection.tree_id).in_(set(tree_ids)))
    return list(session.execute(select(Bundle.id).where(col(Bundle.collection_id).in_(cut))).scalars())


def stop_words(session: Session, bundle_ids: Iterable[UUID]) -> dict[UUID, list[str]]:
    """What binds these bundles, in words."""
    rows = session.execute(
        select(BundleStop.bundle_id, Stop.reason, Stop.state, Stop.agent, Stop.opened_at, CLUB_ZONE)  # type: ignore[call-overload]
        .join(Stop, col(Stop.id) == col(BundleStop.stop_id))
        .where(col(BundleStop.bundle_id).in_(set(bundle_ids)), col(BundleStop.lifted_at).is_(None))
        .order_by(col(Stop.opened_at))
    )
    words: dict[UUID, list[str]] = {}
    for row in rows:
        since = local_day(row.opened_at, row.zone or "UTC")
        said = says_stop(StopReason(row.reason), StopState(row.state), row.agent or "", since)
        words.setdefault(row.bundle_id, []).append(said)
    return words


def table_sticks_out(session: Session, bundle_id: UUID) -> int:
    """Sticks counted out to an open table and not yet counted back."""
    return session.execute(
        select(func.coalesce(func.sum(StickMove.passed_on), 0)).where(
            col(StickMove.bundle_id) == bundle_id,
            col(StickMove.kind).in_((MoveKind.TABLE_OUT, MoveKind.TABLE_BACK)),
        )
    ).scalar_one()
