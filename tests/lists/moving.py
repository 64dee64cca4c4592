"""Sending lists and looking at the whole record before and after."""

from __future__ import annotations

import csv
import io
from typing import Any
from uuid import uuid4

from sqlalchemy import select
from sqlmodel import SQLModel

from service.lib.database import Database
from tests.storage.desk import Desk

OF_A_LIST = ("list_file", "list_thing", "kept_answer")


def as_csv(rows: list[list[str]], *, delimiter: str = ",", encoding: str = "utf-8") -> bytes:
    told = io.StringIO(newline="")
    csv.writer(told, delimiter=delimiter).writerows(rows)
    return told.getvalue().encode(encoding)


def send(desk: Desk, raw: bytes, *, sort: str = "trees", who: str = "steward", name: str = "old.csv") -> str:
    list_id, key = str(uuid4()), {"Idempotency-Key": str(uuid4())}
    path = f"/api/lists?list_id={list_id}&sort={sort}&name={name}"
    answer = desk.ask(who, "POST", path, content=raw, headers=key)
    assert answer.status_code == 201, answer.text
    return list_id


def look_at(desk: Desk, list_id: str) -> Any:
    return desk.get("steward", f"/api/lists/{list_id}").json()


def take(desk: Desk, list_id: str, **told: Any) -> Any:
    return desk.post("steward", f"/api/lists/{list_id}/take", told)


def put(desk: Desk, list_id: str, what: str, **told: Any) -> None:
    answer = desk.ask("steward", "PUT", f"/api/lists/{list_id}/{what}", json=told)
    assert answer.status_code == 200, answer.text


def every_row(database: Database, *, but: tuple[str, ...] = ()) -> dict[str, list[Any]]:
    """The whole record, table by table, to be compared with itself later."""
    with database.reading() as session:
        return {
            table.name: sorted(map(repr, session.execute(select(table)).all()))
            for table in SQLModel.metadata.sorted_tables
            if table.name not in but
        }
