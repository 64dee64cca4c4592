"""Builders of cuts and receipts."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from service.collection import actions, queries, schemas
from service.lib.database import Database
from service.lib.write import Writer
from service.members.rules import Member
from tests.builders.trees import Orchard

ALL_TOLD = {"stage": "00", "leaves_down": True, "disinfected": True}


def cut(
    writer: Writer, member: Member, tree_id: UUID, sticks: int = 6, **told: Any
) -> schemas.CollectionRead:
    body = schemas.CollectionCreate(tree_id=tree_id, sticks=sticks, **told)
    return writer.write_now(actions.record_collections, member, [body])[0]


def receive(
    writer: Writer, member: Member, orchard: Orchard, sticks: int = 6, **told: Any
) -> schemas.CollectionRead:
    """An apple from the orchard's own area, with nothing else told."""
    body: dict[str, Any] = {"area_id": orchard.area_id, "sticks": sticks, **told}
    if "taxon_id" not in told and "cultivar_id" not in told:
        body["cultivar_id"] = orchard.gala_id
    return writer.write_now(actions.record_receipts, member, [schemas.ReceiptCreate(**body)])[0]


def finish(
    writer: Writer, member: Member, collection: schemas.CollectionRead, **told: Any
) -> schemas.CollectionRead:
    version = read_collection(writer.database, collection.id).version
    body = schemas.CollectionUpdate(**told)
    return writer.write_now(actions.finish_collection, member, collection.id, body, version)


def read_collection(database: Database, collection_id: UUID) -> schemas.CollectionRead:
    with database.reading() as session:
        return queries.get_collection(session, collection_id)


def words(collection: schemas.CollectionRead) -> set[str]:
    """The words of its warnings."""
    return {warning.word for warning in collection.warnings}
