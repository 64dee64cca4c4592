"""Lists a page at a time, by a cursor that stays right while rows are added."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Generic, TypeVar
from uuid import UUID

import orjson
from pydantic import BaseModel
from sqlalchemy import ColumnElement, Select, and_, func, or_, select
from sqlalchemy.orm import Mapped
from sqlmodel import Session

from service.lib.errors import Unusable

T = TypeVar("T")
MOST_COUNTED = 10_000  # a list of more says only that there are more: counting on would read the whole record


class BadCursor(Unusable):
    title = "This cursor cannot be used"
    todo = "Start again without a cursor, then follow `next` as it is given."


class Page(BaseModel, Generic[T]):
    """One page of a list; `next` goes on, null where it ends. `count` is null where there are more than 10,000."""

    items: list[T]
    next: str | None = None
    count: int | None = None


@dataclass(frozen=True)
class Paging:
    """Which page is wanted: after which cursor, how many rows (1 to 200), and whether to say how many there are in all."""

    cursor: str | None = None
    limit: int = 50
    counted: bool = True


EVERY = Paging(limit=MOST_COUNTED, counted=False)  # what there is to choose from, whole


def page_of(
    session: Session,
    statement: Select[*tuple[Any, ...]],
    keys: Sequence[tuple[Mapped[Any] | ColumnElement[Any], bool]],
    paging: Paging,
    build: Callable[[Any], T],
) -> Page[T]:
    """Read one page: `keys` are the columns it is ordered by, each with True where descending; the last is unique.

    Two statements: the count and the rows. Raises `BadCursor`.
    """
    count = _count(session, statement) if paging.counted else None
    if paging.cursor:
        statement = statement.where(_after(keys, _unpack(paging.cursor, len(keys))))
    wanted = statement.add_columns(*(column.label(f"_key{i}") for i, (column, _) in enumerate(keys)))
    wanted = wanted.order_by(*(column.desc() if down else column.asc() for column, down in keys)).limit(
        paging.limit + 1
    )
    rows = session.execute(wanted).all()
    more = len(rows) > paging.limit
    rows = rows[: paging.limit]
    following = _pack([getattr(rows[-1], f"_key{i}") for i in range(len(keys))]) if more else None
    return Page(items=[build(row) for row in rows], next=following, count=count)


def _count(session: Session, statement: Select[*tuple[Any, ...]]) -> int | None:
    found = statement.order_by(None).limit(MOST_COUNTED + 1).subquery()
    count = session.execute(select(func.count()).select_from(found)).scalar_one()
    return count if count <= MOST_COUNTED else None


def _after(
    keys: Sequence[tuple[Mapped[Any] | ColumnElement[Any], bool]], values: Sequence[Any]
) -> ColumnElement[bool]:
    choices = []
    for i, (column, down) in enumerate(keys):
        same = [keys[j][0] == values[j] for j in range(i)]
        beyond = column < values[i] if down else column > values[i]
        choices.append(and_(*same, beyond))
    return or_(*choices)


def _pack(values: Sequence[Any]) -> str:
    plain = [
        ["d", v.isoformat()] if isinstance(v, datetime) else ["u", v.hex] if isinstance(v, UUID) else ["v", v]
        for v in values
    ]
    return base64.urlsafe_b64encode(orjson.dumps(plain)).rstrip(b"=").decode()


def _unpack(cursor: str, wanted: int) -> list[Any]:
    try:
        plain = orjson.loads(base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4)))
        read: dict[str, Callable[[Any], Any]] = {
            "d": datetime.fromisoformat,
            "u": UUID,
            "v": lambda value: value,
        }
        values = [read[kind](value) for kind, value in plain]
        if any(kind == "v" and not isinstance(value, str | int) for kind, value in plain):
            raise ValueError
        if any(isinstance(value, datetime) and value.tzinfo is None for value in values):
            raise ValueError
        if any(isinstance(value, int) and abs(value) > 2**62 for value in values):
            raise ValueError
    except (ValueError, KeyError, TypeError, AttributeError, binascii.Error) as error:
        raise BadCursor("The cursor does not come from this list.") from error
    if len(values) != wanted:
        raise BadCursor("The cursor does not come from this list.")
    return values
