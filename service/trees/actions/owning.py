"""What an owner says of a tree."""

from __future__ import annotations

from uuid import UUID

from sqlmodel import Session

from service.lib.errors import check_version
from service.lib.write import insert_rows, recorded_at
from service.members.actions.versions import change_row
from service.members.rules import Member
from service.trees import queries
from service.trees.actions.following import note_changed_trees
from service.trees.rules import OWNERS_WORD, check_can_change_tree, check_speaks_for_owner
from service.trees.schemas import OwnerWordSet, TreeRead
from service.trees.tables import OwnerWord, SourceTree


def set_owner_word(
    session: Session, member: Member, tree_id: UUID, body: OwnerWordSet, version: int
) -> TreeRead:
    """The owner, or whoever speaks for the owner, says whether a tree may be cut and how much of it."""
    facts = queries.get_facts(session, tree_id, lock=True)
    check_version(queries.get_tree(session, tree_id).version, version)
    check_speaks_for_owner(member, facts.owner_id, facts.owner_name)
    check_can_change_tree(facts, OWNERS_WORD)
    change_row(
        session, SourceTree, tree_id, version, {"may_cut": body.may_cut, "most_sticks": body.most_sticks}
    )
    note_word(session, member, tree_id, body)
    note_changed_trees(session, [tree_id])
    return queries.get_tree(session, tree_id)


def note_word(session: Session, member: Member, tree_id: UUID, said: OwnerWordSet) -> None:
    """Keep what was said, by whom it was written and for whom; one statement."""
    row = {
        "tree_id": tree_id, **said.model_dump(mode="json"), "recorded_at": recorded_at(session), "by_party_id": member.party_id,
        "for_party_id": member.acting_for_id,
    }  # fmt: skip
    insert_rows(session, OwnerWord, [row])
