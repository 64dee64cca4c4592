"""Another name for a tree: the old one was wrong, or the tree was topworked. What was written before stays written."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy import delete, select, update
from sqlmodel import Session, col

from service.catalogue import queries as catalogue
from service.lib.clock import check_day, local_day
from service.lib.database import insert_of
from service.lib.errors import Unusable, check_version
from service.lib.write import insert_rows, recorded_at
from service.members import queries as members
from service.members.actions.versions import change_row
from service.members.rules import Member
from service.trees import queries
from service.trees.actions.following import note_changed_trees
from service.trees.rules import (
    Identity,
    NameChange,
    TreeFacts,
    TreeNamed,
    check_can_rename,
    check_not_stopped,
    check_varieties,
    tree_name,
)
from service.trees.schemas import NameTold, TreeNameSet
from service.trees.tables import SourceTree, TreeNameChange, TreeVariety


def named(tree: TreeFacts) -> TreeNamed:
    return TreeNamed(tree.taxon_id, tree.cultivar_id, tree.name_as_told, tree.name)


def rename_tree(
    session: Session, member: Member, tree_id: UUID, body: TreeNameSet, version: int
) -> tuple[TreeNamed, TreeNamed, date]:
    """Gives the old name, the new one, and since when. A wrong name is put right on a stopped tree too: no wood moves."""
    tree = queries.get_facts(session, tree_id, lock=True)
    check_version(queries.get_tree(session, tree_id).version, version)
    new, now = name_told(session, tree.taxon_id, body), recorded_at(session)
    zone = members.club(session).zone
    on_day = check_day(body.on_day or local_day(now, zone), now, zone, field="on_day")
    check_can_rename(named(tree), new)
    values: dict[str, Any] = {
        "taxon_id": new.taxon_id, "cultivar_id": new.cultivar_id, "name_as_told": new.name_as_told,
        "identity": (body.identity or Identity.AS_TOLD).value,
    }  # fmt: skip
    if body.what is NameChange.TOPWORKED:
        check_not_stopped(tree)
        values["name_since"] = on_day
    change_row(session, SourceTree, tree_id, version, values)
    kept = tree.cultivar_id if body.keep_old else None
    _renew_further(session, tree_id, new.cultivar_id, kept)
    insert_rows(session, TreeNameChange, [_row(session, member, tree, new, body.what, on_day, body.reason)])
    note_changed_trees(session, [tree_id])
    return named(tree), new, on_day


def name_told(session: Session, taxon_id: UUID, body: NameTold) -> TreeNamed:
    """What a tree or a cut of this kind is to be called. Raises `Unusable` and `NotItsKind`; two statements."""
    cultivars = catalogue.facts_for_cultivars(session, [body.cultivar_id]) if body.cultivar_id else {}
    if body.cultivar_id and body.cultivar_id not in cultivars:
        raise Unusable("The catalogue has no such variety.", field="cultivar_id", id=str(body.cultivar_id))
    variety = cultivars.get(body.cultivar_id) if body.cultivar_id else None
    kind_id = body.taxon_id or (variety.taxon_id if variety else taxon_id)
    if kind_id not in catalogue.facts_for_kinds(session, [kind_id]):
        raise Unusable("The catalogue has no such kind.", field="taxon_id", id=str(kind_id))
    check_varieties(kind_id, [variety.id] if variety else [], cultivars)
    words = tree_name(variety.page_name if variety else "", body.name_as_told)
    return TreeNamed(kind_id, variety.id if variety else None, body.name_as_told, words)


def _row(
    session: Session, member: Member, tree: TreeFacts, new: TreeNamed, kind: NameChange, on_day: date, reason: str,
    follows: UUID | None = None,
) -> dict[str, Any]:  # fmt: skip
    return {
        "tree_id": tree.id, "kind": kind.value, "from_taxon_id": tree.taxon_id, "from_cultivar_id": tree.cultivar_id,
        "from_name_as_told": tree.name_as_told, "from_words": tree.name, "from_since": tree.name_since, "taxon_id": new.taxon_id,
        "cultivar_id": new.cultivar_id, "name_as_told": new.name_as_told, "words": new.words, "on_day": on_day, "reason": reason,
        "follows_tree_id": follows, "recorded_at": recorded_at(session), "by_party_id": member.party_id,
        "for_party_id": member.acting_for_id,
    }  # fmt: skip


def _renew_further(session: Session, tree_id: UUID, main: UUID | None, kept: UUID | None) -> None:
    """The main variety is no further one; the old one is, where it stays on some branches."""
    _no_further(session, [tree_id], main)
    if kept is not None:
        session.execute(
            insert_of(session, TreeVariety)
            .values(tree_id=tree_id, cultivar_id=kept, branch="")
            .on_conflict_do_nothing()
        )


def _no_further(session: Session, tree_ids: Collection[UUID], main: UUID | None) -> None:
    if main is not None:
        session.execute(
            delete(TreeVariety).where(
                col(TreeVariety.tree_id).in_(list(tree_ids)), col(TreeVariety.cultivar_id) == main
            )
        )


def rename_grown_trees(
    session: Session, member: Member, tree_ids: Collection[UUID], new: TreeNamed, on_day: date, reason: str, follows: UUID | None
) -> None:  # fmt: skip
    """Trees that were grown of misnamed wood and took their name from it; at most five statements."""
    if not tree_ids:
        return
    trees = queries.facts_for_cutting(session, tree_ids, lock=True)
    rows = [
        _row(session, member, tree, new, NameChange.WRONG, on_day, reason, follows) for tree in trees.values()
    ]
    insert_rows(session, TreeNameChange, rows)
    _no_further(session, trees, new.cultivar_id)
    session.execute(
        update(SourceTree)
        .where(col(SourceTree.id).in_(list(trees)))
        .values(
            taxon_id=new.taxon_id,
            cultivar_id=new.cultivar_id,
            name_as_told=new.name_as_told,
            version=SourceTree.version + 1,
        )
        .execution_options(synchronize_session=False)
    )
    note_changed_trees(session, list(trees))


def rename_carried(session: Session, tree_ids: Collection[UUID], old: UUID | None, new: UUID | None) -> None:
    """Trees that bear the variety as a further one, on a branch that was grafted with misnamed wood; five statements."""
    if not tree_ids or old is None:
        return
    here = col(TreeVariety.tree_id).in_(list(tree_ids))
    rows = (
        session.execute(select(TreeVariety).where(here, col(TreeVariety.cultivar_id) == old)).scalars().all()
    )
    told = [
        {"tree_id": row.tree_id, "cultivar_id": new, "branch": row.branch, "since": row.since} for row in rows
    ]
    known = set(
        session.execute(
            select(col(TreeVariety.tree_id)).where(here, col(TreeVariety.cultivar_id) == new)
        ).scalars()
    )
    known |= set(
        session.execute(
            select(col(SourceTree.id)).where(
                col(SourceTree.id).in_(list(tree_ids)), col(SourceTree.cultivar_id) == new
            )
        ).scalars()
    )
    session.execute(delete(TreeVariety).where(here, col(TreeVariety.cultivar_id) == old))
    if new is not None:
        insert_rows(session, TreeVariety, [row for row in told if row["tree_id"] not in known])
    note_changed_trees(session, list(tree_ids))
