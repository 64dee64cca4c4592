"""A cut that came from another tree than was written down. What was written before stays written."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.catalogue import queries as catalogue
from service.catalogue.rules import CultivarFacts, can_be_stage
from service.collection.actions.cutting import as_then, variety_of
from service.collection.actions.following import note_changed_collections
from service.collection.actions.rounds import Stand, rounds_for
from service.collection.rules import CollectionKind, NoTreeOfOurs, SameTree, missing_of
from service.collection.schemas import CollectionRead, CutTreeSet
from service.collection.tables import Collection, TreeCorrection
from service.lib.clock import day_words
from service.lib.write import insert_rows, recorded_at
from service.members import queries as members
from service.members.actions.versions import change_row
from service.members.rules import Member
from service.trees import queries as trees
from service.trees.rules import TreeFacts, TreeFelled, TreeNamed, is_in_the_ground, tree_name


@dataclass(frozen=True)
class MovedCut:
    """The tree a cut was written down at, the one it came from, and what it was called and is called by that."""

    before: TreeFacts
    tree: TreeFacts
    old: TreeNamed
    new: TreeNamed


def move_cut(
    session: Session, member: Member, before: CollectionRead, body: CutTreeSet, version: int
) -> MovedCut:
    """Write a cut down at the tree it really came from. No wood moves, so a stopped tree takes it too.

    Its name is left as it is: what follows from another name is known higher up. Raises `NoTreeOfOurs`, `SameTree`,
    `TreeFelled`, `NotOnThisTree`, `NoSuchTree`. What was said of the other tree's owner falls away, and a stage of
    buds that the other kind's list lacks.
    """
    if before.kind is not CollectionKind.CUT or before.tree_id is None:
        raise NoTreeOfOurs("It is written down as wood from outside.", field="tree_id")
    both = trees.facts_for_cutting(session, sorted({before.tree_id, body.tree_id}), lock=True)
    if body.tree_id not in both:
        raise trees.NoSuchTree("There is no tree with this id.", field="tree_id", id=str(body.tree_id))
    was, now = both[before.tree_id], both[body.tree_id]
    if was.id == now.id:
        raise SameTree(f"It is written down at tree {now.number}.", field="tree_id", tree=now.number)
    if not is_in_the_ground(now.felled_on, before.cut_on):
        raise TreeFelled(
            f"Tree {now.number} was felled on {day_words(now.felled_on)}, before this wood was cut.",
            field="tree_id",
            tree=now.number,
            felled_on=str(now.felled_on),
        )
    then = as_then(session, now, before.cut_on)
    variety = _variety(session, body.cultivar_id, then)
    new = TreeNamed(
        variety.taxon_id if variety else then.taxon.id, variety.id if variety else None, then.name_as_told,
        tree_name(variety.page_name if variety else "", then.name_as_told),
    )  # fmt: skip
    _write(session, member, before, body, version, was, then)
    old = TreeNamed(before.taxon_id, before.cultivar_id, before.name_as_told, before.page_name)
    return MovedCut(was, now, old, new)


def _variety(session: Session, cultivar_id: UUID | None, tree: TreeFacts) -> CultivarFacts | None:
    further = cultivar_id is not None and cultivar_id != tree.cultivar_id
    others = catalogue.facts_for_cultivars(session, [cultivar_id]) if further and cultivar_id else {}
    return variety_of(cultivar_id, tree, others)


def _write(
    session: Session, member: Member, before: CollectionRead, body: CutTreeSet, version: int, was: TreeFacts, now: TreeFacts
) -> None:  # fmt: skip
    values: dict[str, Any] = {"tree_id": now.id, "area_id": now.area_id, "owner_agreed": ""}
    if before.stage is not None and not can_be_stage(now.taxon.stage_scale, before.stage):
        values["stage"] = None
    if now.site_id != was.site_id:
        stand = Stand(now.site_id, before.cut_on, before.done_at)
        (values["round_id"],) = rounds_for(session, before.for_party_id, [stand], members.club(session).zone)
    after = {**before.model_dump(), **values}
    values["unfinished"] = bool(missing_of(CollectionKind.CUT, before.wood, after)) and (
        before.unfinished or "stage" in values
    )
    row = {
        "collection_id": before.id, "from_tree_id": was.id, "tree_id": now.id,
        "from_stage": before.stage if "stage" in values else None, "from_owner_agreed": before.owner_agreed,
        "reason": body.reason, "recorded_at": recorded_at(session), "by_party_id": member.party_id,
        "for_party_id": member.acting_for_id,
    }  # fmt: skip
    insert_rows(session, TreeCorrection, [row])
    change_row(session, Collection, before.id, version, values)
    note_changed_collections(session, [before.id])
