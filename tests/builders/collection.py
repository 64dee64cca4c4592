"""Builders of cuts and receipts."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy import update
from sqlmodel import Session

from service.collection import actions, queries, schemas
from service.lib.database import Database
from service.lib.paging import Paging
from service.lib.write import Writer
from service.members.rules import Member
from service.members.tables import Club, Party
from tests.builders.trees import Orchard

TODAY = date(2026, 2, 14)
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


def count_collections(database: Database) -> int | None:
    with database.reading() as session:
        return queries.list_collections(session, Paging()).count


def set_zone(writer: Writer, zone: str) -> None:
    def act(session: Session) -> None:
        session.execute(update(Club).values(zone=zone))

    writer.write_now(act, None)


def set_area(writer: Writer, party_id: UUID, area_id: UUID) -> None:
    def act(session: Session) -> None:
        session.execute(update(Party).where(Party.id == party_id).values(area_id=area_id))

    writer.write_now(act, None)
