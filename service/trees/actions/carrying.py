"""Further varieties that a standing tree carries since grafts on it took."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from uuid import UUID

from sqlalchemy import select, update
from sqlmodel import Session, col

from service.lib.write import insert_rows
from service.trees.tables import SourceTree, TreeVariety


def carry_varieties(session: Session, took: Sequence[tuple[UUID, UUID, date]]) -> None:
    """Note trees that carry one variety more: tree, variety, since when. At most four statements.

    What a tree carries already stays as it is; so does its main variety. A look at a graft is never refused for the
    sake of a stop on its tree, so neither is this.
    """
    if not took:
        return
    trees = {tree_id for tree_id, _, _ in took}
    main = session.execute(
        select(col(SourceTree.id), col(SourceTree.cultivar_id))
        .where(col(SourceTree.id).in_(trees))
        .with_for_update(key_share=True)
    )
    known = {(row.id, row.cultivar_id) for row in main}
    more = select(col(TreeVariety.tree_id), col(TreeVariety.cultivar_id)).where(
        col(TreeVariety.tree_id).in_(trees)
    )
    known |= {(row.tree_id, row.cultivar_id) for row in session.execute(more)}
    new = {
        (tree_id, cultivar_id): since
        for tree_id, cultivar_id, since in took
        if (tree_id, cultivar_id) not in known
    }
    if not new:
        return
    rows = [
        {"tree_id": tree_id, "cultivar_id": cultivar_id, "branch": "", "since": since}
        for (tree_id, cultivar_id), since in new.items()
    ]
    insert_rows(session, TreeVariety, rows)
    session.execute(
        update(SourceTree)
        .where(col(SourceTree.id).in_({tree_id for tree_id, _ in new}))
        .values(version=SourceTree.version + 1)
        .execution_options(synchronize_session=False)
    )
