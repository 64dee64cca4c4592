"""Edits that hold only for the version they were made on."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from sqlalchemy import delete, select, true, update
from sqlmodel import Session

from service.lib.errors import ANY_VERSION, NotFound, Stale, check_version


def is_version(table: Any, version: int) -> Any:
    """That a row has this version; any, where an edit holds whatever stands."""
    return true() if version == ANY_VERSION else table.version == version


def change_row(session: Session, table: Any, row_id: Any, version: int, values: dict[str, Any]) -> int:
    """Change one row if it still has this version, and give the new one. Raises `NotFound` or `Stale`."""
    changed = session.execute(
        update(table)
        .where(table.id == row_id, is_version(table, version))
        .values(**values, version=table.version + 1)
        .returning(table.version)
        .execution_options(synchronize_session=False)
    ).scalar_one_or_none()
    if changed is not None:
        return int(changed)
    have = session.execute(select(table.version).where(table.id == row_id)).scalar_one_or_none()
    if have is None:
        raise NotFound("What you want to change is not there.", id=str(row_id))
    check_version(have, version)
    raise AssertionError("a row of this version was not changed")


_AT_ONCE = 500  # ids in one list: below every database's limit of parameters


def remove_unused(session: Session, table: Any, ids: Collection[Any]) -> None:
    """Rows go that nobody changed and nothing rests on. Raises `Stale`; whatever rests on one, the database refuses."""
    wanted = sorted(set(ids))
    for begin in range(0, len(wanted), _AT_ONCE):
        some = wanted[begin : begin + _AT_ONCE]
        gone = session.execute(
            delete(table)
            .where(table.id.in_(some), table.version == 1)
            .execution_options(synchronize_session=False)
        )
        if gone.rowcount != len(some):  # type: ignore[attr-defined]
            raise Stale("Something that should go was changed, or is gone already.")
