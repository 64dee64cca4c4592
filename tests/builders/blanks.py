"""Blank tags for tests: printed, left, tied on and given up."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from service.collection.schemas import CollectionCreate
from service.lib.database import Database
from service.lib.write import Writer
from service.tags import actions, queries
from service.tags.rules.blanks import GivenUp
from service.tags.rules.words import TagKind
from service.tags.schemas import (
    BlankBatchCreate,
    BlankBatchRead,
    BlanksGivenUp,
    BundlePart,
    LabelledCutCreate,
    TagBinding,
    TagRead,
)
from tests.builders.tags import Yard, confirm_host, make_yard


def make_yard_that_prints(writer: Writer) -> Yard:
    yard = make_yard(writer)
    confirm_host(writer, yard)
    return yard


def print_blanks(writer: Writer, yard: Yard, blanks: int = 3, **given: Any) -> BlankBatchRead:
    return writer.write_now(actions.print_blanks, yard.member, BlankBatchCreate(blanks=blanks, **given))


def left_of(database: Database, batch_id: UUID) -> list[str]:
    with database.reading() as session:
        return queries.list_blanks_left(session, batch_id)


def bind(writer: Writer, yard: Yard, code: str, thing_id: UUID, kind: str = "bundle", **more: Any) -> TagRead:
    body = TagBinding(kind=TagKind(kind), thing_id=thing_id, **more)
    return writer.write_now(actions.bind_blank, yard.member, code, body)


def give_up(writer: Writer, yard: Yard, *codes: str, state: GivenUp = GivenUp.SPOILED) -> list[TagRead]:
    return writer.write_now(
        actions.give_up_blanks, yard.member, BlanksGivenUp(codes=list(codes), state=state)
    )


def cut_under(yard: Yard, *codes: str) -> LabelledCutCreate:
    """A cut tied into bundles of five, each under a blank; under a new tag where its code is empty."""
    cut = CollectionCreate(tree_id=yard.tree_id, sticks=5 * len(codes))
    return LabelledCutCreate(cut=cut, bundles=[BundlePart(sticks=5, code=code) for code in codes])


def kept(database: Database, table: type, key: object) -> Any:
    with database.reading() as session:
        return session.get(table, key)
