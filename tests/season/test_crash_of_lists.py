"""The server is killed while a list is being taken: all of it is in the record afterwards, or nothing."""

from __future__ import annotations

import contextlib
from typing import Any
from uuid import NAMESPACE_DNS, uuid4, uuid5

import httpx
import pytest
from sqlmodel import func, select

from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.write import Writer
from service.lists.tables import ListFile, ListThing
from service.members.tables import Party
from tests.builders.members import make_token
from tests.infra.cast import put_cast
from tests.season.test_crash import Starter, client_of, starter, wait_until_dead

__all__ = ["starter"]
ROWS = 400
TABLE = "Name,E-mail\n" + "".join(
    f"{uuid5(NAMESPACE_DNS, str(n)).hex},{n}@ashgrove.example\n" for n in range(1, ROWS + 1)
)


def in_the_record(database: Database) -> tuple[int, int, list[str]]:
    with database.reading() as session:
        people = session.exec(select(func.count()).where(Party.contact.like("%@ashgrove.example"))).one()  # type: ignore[attr-defined]
        things = session.exec(select(func.count()).select_from(ListThing)).one()
        return people, things, sorted(session.exec(select(ListFile.state)).all())


def told(client: httpx.Client, path: str, key: str, **body: Any) -> Any:
    answer = client.post(f"/api{path}", headers={"Idempotency-Key": key}, **body)
    assert answer.status_code == 201, answer.text
    return answer.json()


@pytest.mark.parametrize("point", ["before commit", "after commit"])
def test_a_list_is_taken_whole_or_not_at_all_when_the_server_dies(
    starter: Starter, database: Database, clock: FixedClock, point: str
) -> None:
    cast, writer = put_cast(database), Writer(database, clock)
    token, list_id = make_token(writer, cast.steward).token, uuid4()
    pid, address = starter.start(
        point, arrivals=3
    )  # the first is that the token was used, the second that it was sent
    with client_of(address, token) as client:
        told(
            client,
            f"/lists?list_id={list_id}&sort=people&name=club.csv",
            "send-it-now",
            content=TABLE.encode(),
        )
        with contextlib.suppress(httpx.TransportError):
            told(client, f"/lists/{list_id}/take", "take-it-now", json={})
            raise AssertionError("the server lived on")
    wait_until_dead(pid)
    after_death = in_the_record(database)

    pid, address = starter.start()
    with client_of(address, token) as client:
        taken = told(client, f"/lists/{list_id}/take", "take-it-now", json={})

    whole = point == "after commit"
    assert after_death == ((ROWS, ROWS, ["taken"]) if whole else (0, 0, ["waiting"]))
    assert taken["brought"] == ROWS
    assert in_the_record(database) == (ROWS, ROWS, ["taken"])
