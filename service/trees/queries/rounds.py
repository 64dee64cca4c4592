"""The trees of a site as one meets them on a round, with this season's looks."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy import or_, select
from sqlmodel import Session, col

from service.lib.errors import NotFound
from service.trees.queries.sites import get_site
from service.trees.queries.stops import open_stops_for_trees, stop_reads
from service.trees.queries.trees import every_tree, summary_of
from service.trees.rules import CheckKind, round_begins, walking_key
from service.trees.schemas import SeasonLook, SiteRound, TreeCheckRead, TreeOnRound
from service.trees.tables import SourceTree, TreeCheck


class NoSuchLook(NotFound):
    title = "There is no such look"


def site_round(session: Session, site_id: UUID, day: date, *, exact: bool = True) -> SiteRound:
    """Every tree that stands on the site on this day, in walking order; three statements, and one more where any is stopped."""
    site = get_site(session, site_id, exact=exact)
    since = round_begins(day)
    standing = or_(col(SourceTree.felled_on).is_(None), col(SourceTree.felled_on) > day)
    rows = session.execute(every_tree().where(col(SourceTree.site_id) == site_id, standing)).all()
    looks = _looks(session, site_id, since)
    stops = open_stops_for_trees(session, [row.id for row in rows if row.open_stops])
    trees = [
        TreeOnRound(
            **summary_of(row, exact=exact), genus=row.genus, stops=stop_reads(stops.get(row.id, [])),
            leaf=looks.get((row.id, CheckKind.LEAF)), fruit=looks.get((row.id, CheckKind.FRUIT)),
        )
        for row in rows
    ]  # fmt: skip
    trees.sort(key=lambda tree: walking_key(tree.where_on_site, tree.number))
    return SiteRound(site=site, since=since, trees=trees)


def _looks(session: Session, site_id: UUID, since: date) -> dict[tuple[UUID, CheckKind], SeasonLook]:
    """The newest look of each kind at each tree; one statement."""
    rows = session.execute(
        select(*TreeCheck.__table__.c)  # type: ignore[attr-defined]
        .join(SourceTree, col(SourceTree.id) == col(TreeCheck.tree_id))
        .where(
            col(SourceTree.site_id) == site_id, col(TreeCheck.seen_on) >= since, col(TreeCheck.taken_back_at).is_(None)
        )
        .order_by(col(TreeCheck.seen_on), col(TreeCheck.recorded_at), col(TreeCheck.id))
    )  # fmt: skip
    return {(row.tree_id, CheckKind(row.kind)): SeasonLook.model_validate(row) for row in rows}


def get_look(session: Session, look_id: UUID) -> TreeCheckRead:
    """One look; one statement."""
    row: Any = session.execute(
        select(*TreeCheck.__table__.c).where(col(TreeCheck.id) == look_id)  # type: ignore[attr-defined]
    ).first()
    if row is None:
        raise NoSuchLook("There is no look at a tree with this id.", id=str(look_id))
    return TreeCheckRead.model_validate(row)
