"""Cutting rounds, what was cut of trees this season, and which trees came under the same tools."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.catalogue.rules import page_name
from service.catalogue.tables import Cultivar, Taxon
from service.collection.queries.collections import collections, summary
from service.collection.rules import CollectionKind, Wood
from service.collection.schemas import RoundRead, RoundSummary
from service.collection.tables import Collection, CuttingRound
from service.lib.errors import NotFound
from service.lib.paging import Page, Paging, page_of
from service.members.tables import Party
from service.trees.queries import hosts_on_site
from service.trees.rules import tree_name
from service.trees.schemas import StopCandidate
from service.trees.tables import Site, SourceTree


class NoSuchRound(NotFound):
    title = "There is no such cutting round"


def _rounds() -> Any:
    cuts = (
        select(func.count())
        .where(col(Collection.round_id) == col(CuttingRound.id))
        .correlate(CuttingRound)
        .scalar_subquery()
    )
    return (
        select(
            col(CuttingRound.id), col(CuttingRound.site_id), col(Site.name).label("site_name"), col(CuttingRound.started_at),
            col(CuttingRound.tools), col(CuttingRound.disinfected), col(CuttingRound.by_party_id), col(Party.name).label("by_name"),
            cuts.label("cuts"), col(CuttingRound.version),
        )
        .join(Site, col(Site.id) == col(CuttingRound.site_id))
        .join(Party, col(Party.id) == col(CuttingRound.by_party_id))
    )  # fmt: skip


def list_rounds(session: Session, paging: Paging, *, site_id: UUID | None = None) -> Page[RoundSummary]:
    """Rounds, the newest first; two statements."""
    statement = _rounds()
    if site_id is not None:
        statement = statement.where(col(CuttingRound.site_id) == site_id)
    keys: list[tuple[Any, bool]] = [(col(CuttingRound.started_at), True), (col(CuttingRound.id), False)]
    return page_of(session, statement, keys, paging, RoundSummary.model_validate)


def get_round(session: Session, round_id: UUID) -> RoundRead:
    """A round with its cuts in their order; two statements."""
    row = session.execute(_rounds().where(col(CuttingRound.id) == round_id)).first()
    if row is None:
        raise NoSuchRound("There is no cutting round with this id.", id=str(round_id))
    cuts = session.execute(
        collections()
        .where(col(Collection.round_id) == round_id)
        .order_by(col(Collection.done_at), col(Collection.number))
    )
    return RoundRead(
        **RoundSummary.model_validate(row).model_dump(), collections=[summary(cut) for cut in cuts]
    )


def rounds_about(
    session: Session,
    cutter_id: UUID,
    site_ids: Iterable[UUID],
    since: datetime,
    until: datetime,
    round_ids: Iterable[UUID] = (),
) -> list[CuttingRound]:
    """Rounds of one cutter on these sites that began in this time, and those asked for by id; one statement."""
    about = (
        (col(CuttingRound.by_party_id) == cutter_id)
        & col(CuttingRound.site_id).in_(set(site_ids))
        & col(CuttingRound.started_at).between(since, until)
    )
    asked = col(CuttingRound.id).in_(set(round_ids))
    return list(
        session.execute(
            select(CuttingRound).where(about | asked).order_by(col(CuttingRound.started_at))
        ).scalars()
    )


def cuts_of_trees(
    session: Session, tree_ids: Iterable[UUID], since: datetime, until: datetime
) -> list[tuple[UUID, Wood, datetime, int]]:
    """What was cut of these trees in this time: tree, wood, when, sticks; one statement."""
    rows = session.execute(
        select(
            col(Collection.tree_id), col(Collection.wood), col(Collection.done_at), col(Collection.sticks)
        ).where(
            col(Collection.tree_id).in_(set(tree_ids)),
            col(Collection.kind) == CollectionKind.CUT.value,
            col(Collection.done_at).between(since, until),
        )
    )
    return [(tree_id, Wood(wood), done_at, sticks) for tree_id, wood, done_at, sticks in rows]


def cut_later_on_rounds(
    session: Session, tree_id: UUID, since: datetime | None = None
) -> list[StopCandidate]:
    """Other trees that were cut on the same rounds after this one, with the same tools; one statement."""
    first, later = aliased(Collection), aliased(Collection)
    earliest: Any = (
        select(first.round_id.label("round_id"), func.min(first.done_at).label("cut_at"))  # type: ignore[attr-defined, union-attr]
        .where(first.tree_id == tree_id, first.round_id.is_not(None))  # type: ignore[union-attr, arg-type]
        .group_by(first.round_id)  # type: ignore[arg-type]
    )
    if since is not None:
        earliest = earliest.where(first.done_at >= since)
    earliest = earliest.subquery()
    rows = session.execute(
        select(
            later.tree_id, later.round_id, later.done_at, later.disinfected, col(SourceTree.number), col(SourceTree.name_as_told),
            col(SourceTree.felled_on), col(SourceTree.open_stops), col(SourceTree.site_id), col(Site.name).label("site_name"),
            col(Taxon.kind), col(Cultivar.epithet), col(Cultivar.trade_designation),
        )  # type: ignore[call-overload]
        .join(earliest, earliest.c.round_id == later.round_id)
        .join(SourceTree, col(SourceTree.id) == later.tree_id)
        .join(Site, col(Site.id) == col(SourceTree.site_id))
        .join(Taxon, col(Taxon.id) == col(SourceTree.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(SourceTree.cultivar_id))
        .where(later.done_at >= earliest.c.cut_at, later.tree_id != tree_id)
        .order_by(later.done_at, col(SourceTree.number))
    )  # fmt: skip
    found: dict[UUID, StopCandidate] = {}
    for row in rows:
        found.setdefault(row.tree_id, _candidate(row))
    return list(found.values())


_TOOLS = {
    True: "the tools were disinfected before it",
    False: "the tools were not disinfected before it",
    None: "nobody said whether the tools were disinfected before it",
}


def _candidate(row: Any) -> StopCandidate:
    variety = page_name(row.epithet, row.trade_designation) if row.epithet else ""
    return StopCandidate(
        tree_id=row.tree_id, number=row.number, page_name=tree_name(variety, row.name_as_told), kind=row.kind, site_id=row.site_id,
        site_name=row.site_name, why="same_round", words=f"cut later on the same round; {_TOOLS[row.disinfected]}",
        felled_on=row.felled_on, open_stops=row.open_stops, cut_at=row.done_at, round_id=row.round_id,
    )  # fmt: skip


def stop_candidates(
    session: Session, tree_id: UUID, agent: str = "", since: datetime | None = None
) -> list[StopCandidate]:
    """Trees to consider for the same stop: hosts on the site, then trees cut later on the same rounds. A tree may have both reasons."""
    return [*hosts_on_site(session, tree_id, agent), *cut_later_on_rounds(session, tree_id, since)]
