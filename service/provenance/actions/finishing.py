"""Finishing a tree that was met on the way: what was left out is told, and all its wood follows the accepted name."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.lib.errors import check_version
from service.members.rules import Member
from service.provenance.actions.correcting import set_tree_name
from service.provenance.schemas import TreeFinished
from service.trees import actions as tree_actions
from service.trees import queries as trees
from service.trees.rules import (
    Identity,
    NameChange,
    TreeFacts,
    TreeNamed,
    check_can_change_tree,
    check_can_finish_tree,
)
from service.trees.schemas import TreeFinish, TreeNameSet, TreeUpdate

_NAMING = ("taxon_id", "cultivar_id", "name_as_told")


def finish_tree(
    session: Session, member: Member, tree_id: UUID, body: TreeFinish, version: int
) -> TreeFinished:
    """Tell what was left out. What was cut under the name as told goes under the accepted one; its tags keep what they say."""
    facts = trees.get_facts(session, tree_id, lock=True)
    told = body.told()
    check_can_change_tree(facts, {*told, "provisional"})
    check_version(trees.get_tree(session, tree_id).version, version)
    check_can_finish_tree(facts.number, provisional=facts.provisional)
    told.pop("reason", None)
    wanted = {
        **{name: getattr(facts, name) for name in _NAMING},
        **{name: told[name] for name in _NAMING if name in told},
    }
    if tree_actions.named(facts).is_same(TreeNamed(**wanted, words="")):
        plain = TreeUpdate.model_validate({**told, "provisional": False})
        tree = tree_actions.change_tree(session, member, tree_id, plain, version)
        return TreeFinished(tree=tree, from_words=facts.name, words=facts.name)
    kept = {name: value for name, value in told.items() if name not in (*_NAMING, "identity")}
    plain = TreeUpdate.model_validate({**kept, "provisional": False})
    tree = tree_actions.change_tree(session, member, tree_id, plain, version)
    return _settle_name(session, member, facts, wanted, body, tree.version)


def _settle_name(
    session: Session, member: Member, tree: TreeFacts, wanted: dict[str, Any], body: TreeFinish, version: int
) -> TreeFinished:
    told = {name: value for name, value in wanted.items() if value is not None}
    if body.cultivar_id is not None and body.taxon_id is None:
        del told["taxon_id"]  # the variety tells its kind
    reason = body.reason or f"Entered on the way as {tree.name}."
    name = TreeNameSet(
        what=NameChange.WRONG, identity=body.identity or Identity.AS_TOLD, reason=reason, **told
    )
    done = set_tree_name(session, member, tree.id, name, version)
    return TreeFinished(
        tree=done.tree, from_words=done.from_words, words=done.words, cuts=done.cuts, bundles=done.bundles, plants=done.plants,
        trees=done.trees,
    )  # fmt: skip
