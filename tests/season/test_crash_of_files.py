"""The server is killed while a logger's file is being taken: all of it is in the record afterwards, or nothing."""

from __future__ import annotations

import contextlib
from datetime import UTC, datetime, timedelta
from typing import Any

import httpx
import pytest
from sqlmodel import func, select

from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.write import Writer
from service.storage.tables import ReadingDay, ReadingFile
from tests.builders.members import make_token
from tests.infra.cast import put_cast
from tests.season.test_crash import Starter, client_of, starter, wait_until_dead

__all__ = ["starter"]
ROWS, DAYS = 2000, 14
BEGINS = datetime(2026, 1, 20, tzinfo=UTC)


def a_file() -> str:
    rows = [f"{BEGINS + timedelta(minutes=10 * n):%Y-%m-%d %H:%M},{2 + n % 7 / 10}" for n in range(ROWS)]
    return "\n".join(["Time,Temp", *rows])


def in_the_record(database: Database) -> tuple[int, list[str]]:
    with database.reading() as session:
        readings = session.exec(select(func.coalesce(func.sum(ReadingDay.readings), 0))).one()
        return int(readings), sorted(session.exec(select(ReadingFile.state)).all())


def sent(client: httpx.Client, method: str, path: str, body: Any, key: str = "") -> Any:
    headers = {"Idempotency-Key": key} if key else {}
    answer = client.request(method, f"/api{path}", json=body, headers=headers)
    assert answer.status_code in (200, 201), answer.text
    return answer.json()


@pytest.mark.parametrize("point", ["before commit", "after commit"])
def test_a_file_is_taken_whole_or_not_at_all_when_the_server_dies(
    starter: Starter, database: Database, clock: FixedClock, point: str
) -> None:
    cast, writer = put_cast(database), Writer(database, clock)
    token = make_token(writer, cast.host).token
    pid, address = starter.start(point, arrivals=5)  # the first is that the token was used
    with client_of(address, token) as client:
        logger = sent(client, "POST", "/loggers", {"name": "Probe"}, "a-logger")
        file = sent(client, "POST", f"/loggers/{logger['id']}/files", {"text": a_file()}, "send-it-now")
        form = {"time": "Time", "temp": "Temp", "zone": "UTC"}
        sent(client, "PUT", f"/reading-files/{file['id']}/form", form)
        with contextlib.suppress(httpx.TransportError):
            sent(client, "POST", f"/reading-files/{file['id']}/take", {}, "take-it-now")
            raise AssertionError("the server lived on")
    wait_until_dead(pid)
    after_death = in_the_record(database)

    pid, address = starter.start()
    with client_of(address, token) as client:
        taken = sent(client, "POST", f"/reading-files/{file['id']}/take", {}, "take-it-now")

    whole = point == "after commit"
    assert after_death == ((ROWS, ["taken"]) if whole else (0, ["waiting"]))
    assert (taken["added"], taken["same"]) == (ROWS, 0)
    assert in_the_record(database) == (ROWS, ["taken"])
