"""What trees were called, and why they are called otherwise now."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.lib.paging import Page, Paging, page_of
from service.trees.rules import NameChange, TreeNamed
from service.trees.schemas import TreeNameChangeRead
from service.trees.tables import TreeNameChange


def name_on(session: Session, tree_id: UUID, day: date) -> TreeNamed | None:
    """What a tree bore on a day before it was topworked; None where it bore then what it bears now. One statement."""
    later = (
        select(TreeNameChange)
        .where(
            col(TreeNameChange.tree_id) == tree_id, col(TreeNameChange.kind) == NameChange.TOPWORKED, col(TreeNameChange.on_day) > day
        )
        .order_by(col(TreeNameChange.on_day), col(TreeNameChange.seq))
        .limit(1)
    )  # fmt: skip
    row = session.execute(later).scalar_one_or_none()
    if row is None:
        return None
    return TreeNamed(row.from_taxon_id, row.from_cultivar_id, row.from_name_as_told, row.from_words)


def list_name_changes(session: Session, paging: Paging, tree_id: UUID) -> Page[TreeNameChangeRead]:
    """The names of a tree, in the order in which they were changed; two statements."""
    statement = select(*TreeNameChange.__table__.c).where(col(TreeNameChange.tree_id) == tree_id)  # type: ignore[attr-defined]
    return page_of(
        session, statement, [(col(TreeNameChange.seq), False)], paging, TreeNameChangeRead.model_validate
    )
