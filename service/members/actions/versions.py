"""Edits that hold only for the version they were made on."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select, update
from sqlmodel import Session

from service.lib.errors import NotFound, check_version


def change_row(session: Session, table: Any, row_id: Any, version: int, values: dict[str, Any]) -> int:
    """Change one row if it still has this version, and give the new one. Raises `NotFound` or `Stale`."""
    changed = session.execute(
        update(table)
        .where(table.id == row_id, table.version == version)
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
