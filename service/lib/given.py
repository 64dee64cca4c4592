"""Rows that are asked for by their ids, however many: one bound value, since no database takes a parameter for each.

`IN` with a parameter for each id takes longer to put together than to answer, too.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any
from uuid import UUID

from sqlalchemy import (
    ARRAY,
    ColumnElement,
    Select,
    String,
    Uuid,
    bindparam,
    func,
    literal,
    select,
    type_coerce,
)
from sqlmodel import Session


def dialect_of(session: Session) -> str:
    return session.get_bind().dialect.name


def given(dialect: str, name: str = "ids") -> Select[*tuple[Any, ...]]:
    """A SELECT of ids that are given, however many, as one bound value; for statements that are built once and kept."""
    return _ids_in(bindparam(name, type_=_type_of(dialect)), dialect)


def as_given(session: Session, ids: Iterable[UUID | str]) -> Any:
    """The value to bind for `given`."""
    if dialect_of(session) == "sqlite":
        return json.dumps([one if isinstance(one, str) else one.hex for one in ids])
    return [one if isinstance(one, UUID) else UUID(one) for one in ids]


def these(session: Session, ids: Iterable[UUID | str]) -> Select[*tuple[Any, ...]]:
    """The same with its value in it, for a statement that is built on the spot."""
    dialect = dialect_of(session)
    return _ids_in(literal(as_given(session, ids), _type_of(dialect)), dialect)


def _type_of(dialect: str) -> Any:
    return String() if dialect == "sqlite" else ARRAY(Uuid())


def _ids_in(value: ColumnElement[Any], dialect: str) -> Select[Any]:
    if dialect == "sqlite":
        return select(type_coerce(func.json_each(value).table_valued("value").c.value, Uuid()).label("id"))
    return select(func.unnest(value).label("id"))
