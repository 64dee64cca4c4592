"""Actions to write with, and how many commits they took."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID, uuid4

from pydantic import Field
from sqlalchemy import event
from sqlmodel import Session, func, select

from service.lib.database import Database
from service.lib.errors import Refused
from service.lib.schemas import Answer, Body
from service.lib.write import KeptAnswer, Writer, once_only
from service.members.tables import Area


@dataclass(frozen=True)
class Somebody:
    account_id: UUID = field(default_factory=uuid4)
    acting_for_id: UUID = field(default_factory=uuid4)


class Named(Body):
    name: str
    id: UUID = Field(default_factory=uuid4)


class NamedRead(Answer):
    id: UUID
    name: str


SOMEBODY = Somebody()


def add_area(session: Session, member: Somebody, body: Named) -> NamedRead:
    session.add(Area(id=body.id, name=body.name))
    session.flush()
    return NamedRead(id=body.id, name=body.name)


def refuse_after_writing(session: Session, member: Somebody, body: Named) -> NamedRead:
    add_area(session, member, body)
    raise Refused("not today")


@once_only
def tell_secret(session: Session, member: Somebody, body: Named) -> str:
    add_area(session, member, body)
    return "swordfish"


def names(database: Database) -> set[str]:
    with database.reading() as session:
        return set(session.exec(select(Area.name)).all())


def keys(database: Database) -> int:
    with database.reading() as session:
        return session.exec(select(func.count()).select_from(KeptAnswer)).one()


def together(writer: Writer, *calls: tuple[Any, ...], keys: list[str] | None = None) -> list[Any]:
    """Write several things at once; gives answers and problems in the same order."""

    async def all_of_them() -> list[Any]:
        return await asyncio.gather(
            *(writer.write(*call, key=keys[n] if keys else None) for n, call in enumerate(calls)), return_exceptions=True
        )  # fmt: skip

    return asyncio.run(all_of_them())


def commits_of(database: Database) -> list[int]:
    seen: list[int] = []
    event.listen(database.writer, "commit", lambda _connection: seen.append(1))
    return seen
