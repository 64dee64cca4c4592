"""What was put right of a cut or a receipt, and why."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.collection.tables import Collection, NameCorrection, TimeCorrection, TreeCorrection
from service.trees.tables import SourceTree


@dataclass(frozen=True)
class TimeCorrected:
    """A time that was wrong, and the one that took its place."""

    before: datetime
    after: datetime
    reason: str
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID


@dataclass(frozen=True)
class NameCorrectedOnCut:
    """A name that was wrong, and the one that took its place."""

    before: str
    after: str
    reason: str
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID


def list_time_corrections(session: Session, collection_id: UUID) -> list[TimeCorrected]:
    """In the order in which they were made; one statement."""
    rows = session.execute(
        select(TimeCorrection)
        .where(col(TimeCorrection.collection_id) == collection_id)
        .order_by(col(TimeCorrection.seq))
    ).scalars()
    return [
        TimeCorrected(
            row.from_done_at, row.done_at, row.reason, row.recorded_at, row.by_party_id, row.for_party_id
        )
        for row in rows
    ]


def list_name_corrections(session: Session, collection_id: UUID) -> list[NameCorrectedOnCut]:
    """In the order in which they were made; one statement."""
    rows = session.execute(
        select(NameCorrection)
        .where(col(NameCorrection.collection_id) == collection_id)
        .order_by(col(NameCorrection.seq))
    ).scalars()
    return [
        NameCorrectedOnCut(
            row.from_words, row.words, row.reason, row.recorded_at, row.by_party_id, row.for_party_id
        )
        for row in rows
    ]


@dataclass(frozen=True)
class TreeCorrected:
    """The tree that was written down, and the one the wood was really cut from."""

    before: int
    after: int
    before_id: UUID
    reason: str
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID


def list_tree_corrections(session: Session, collection_id: UUID) -> list[TreeCorrected]:
    """In the order in which they were made; one statement."""
    before, after = aliased(SourceTree), aliased(SourceTree)
    rows = session.execute(
        select(TreeCorrection, col(before.number).label("before"), col(after.number).label("after"))
        .join(before, col(before.id) == col(TreeCorrection.from_tree_id))
        .join(after, col(after.id) == col(TreeCorrection.tree_id))
        .where(col(TreeCorrection.collection_id) == collection_id)
        .order_by(col(TreeCorrection.seq))
    )
    return [
        TreeCorrected(
            row.before, row.after, row.TreeCorrection.from_tree_id, row.TreeCorrection.reason, row.TreeCorrection.recorded_at,
            row.TreeCorrection.by_party_id, row.TreeCorrection.for_party_id,
        )
        for row in rows
    ]  # fmt: skip


@dataclass(frozen=True)
class CutGone:
    """A cut that was written down at a tree, and stands at another since."""

    collection_id: UUID
    cut_on: date
    number: int
    recorded_at: datetime
    reason: str


def list_cuts_gone(session: Session, tree_id: UUID) -> list[CutGone]:
    """Cuts that turned out to be another tree's, in the order in which that was found; one statement."""
    rows = session.execute(
        select(
            col(TreeCorrection.collection_id), col(Collection.cut_on), col(SourceTree.number), col(TreeCorrection.recorded_at),
            col(TreeCorrection.reason),
        )
        .join(Collection, col(Collection.id) == col(TreeCorrection.collection_id))
        .join(SourceTree, col(SourceTree.id) == col(Collection.tree_id))  # where it stands now, whatever lay between
        .where(col(TreeCorrection.from_tree_id) == tree_id, col(Collection.tree_id) != tree_id)
        .order_by(col(TreeCorrection.seq))
    )  # fmt: skip
    last = {row.collection_id: CutGone(*row) for row in rows}
    return list(last.values())
