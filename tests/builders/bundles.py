"""Bundles of freshly cut apple wood with their ledger, and receivers who live in an area."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy import text, update
from sqlmodel import Session, col

from service.bundles import actions, queries
from service.bundles.schemas import AuditRead, BundleRead, BundleStart, StickMoveRead
from service.lib.database import Database
from service.lib.paging import Paging
from service.lib.write import Writer
from service.members.rules import Everybody, Member
from service.members.tables import Party
from tests.builders.collection import cut
from tests.builders.trees import Orchard, make_orchard, make_tree, stop


@dataclass(frozen=True)
class Cutting:
    """An orchard with a tree, and one cut of it that bundles can be tied from."""

    orchard: Orchard
    tree_id: UUID
    collection_id: UUID


def make_cutting(writer: Writer, member: Member, **tree: Any) -> Cutting:
    orchard = make_orchard(writer, member)
    return cut_again(writer, member, orchard, **tree)


def cut_again(writer: Writer, member: Member, orchard: Orchard, **tree: Any) -> Cutting:
    """Another tree of the same orchard, and a cut of it."""
    tree_id = make_tree(writer, member, orchard, **tree).id
    return Cutting(orchard, tree_id, cut(writer, member, tree_id, 12).id)


def make_bundles(
    writer: Writer, member: Member, cutting: Cutting, count: int = 1, sticks: int = 12, **told: Any
) -> list[BundleRead]:
    starts = [BundleStart(collection_id=cutting.collection_id, sticks=sticks, **told) for _ in range(count)]
    return writer.write_now(actions.start_bundles, member, starts)


def make_bundle(
    writer: Writer, member: Member, cutting: Cutting, sticks: int = 12, **told: Any
) -> BundleRead:
    return make_bundles(writer, member, cutting, 1, sticks, **told)[0]


def settle(writer: Writer, area_id: UUID | None, *party_ids: UUID) -> None:
    """Let parties live in an area, so that its wood may be handed to them."""
    writer.write_now(_settle, None, area_id, party_ids)


def _settle(session: Session, area_id: UUID | None, party_ids: tuple[UUID, ...]) -> None:
    session.execute(update(Party).where(col(Party.id).in_(party_ids)).values(area_id=area_id))


def bind(writer: Writer, member: Member, *bundle_ids: UUID) -> UUID:
    """Bind bundles by a stop of its own."""
    stop_id = stop(writer, member).id
    writer.write_now(
        actions.bind_bundle_stop, member, stop_id, [(bundle_id, "origin") for bundle_id in bundle_ids]
    )
    return stop_id


def read_bundle(database: Database, bundle_id: UUID) -> BundleRead:
    with database.reading() as session:
        return queries.get_bundle(session, bundle_id, name_only=Everybody.NAMED)


def moves_of(database: Database, bundle_id: UUID) -> list[StickMoveRead]:
    with database.reading() as session:
        return queries.list_moves(session, bundle_id, Paging(limit=200)).items


def audit_of(database: Database) -> AuditRead:
    with database.reading() as session:
        return queries.audit(session)


def tamper(database: Database, sql: str, **values: Any) -> None:
    """Change rows behind the service's back."""
    with database.writing_session() as session:
        session.execute(text(sql), values)
        session.commit()
