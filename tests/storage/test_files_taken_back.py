"""Loggers' files taken back or dropped, over HTTP, and late ones, on both databases."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.paging import Paging
from service.lib.write import Writer
from service.storage import actions, queries, schemas
from service.storage.routes import router
from service.storage.rules import (
    FileSettled,
    LoggerRetired,
    NoSuchFile,
)
from tests.builders.loggers import Clerk, hourly, make_logger, send, steady
from tests.builders.storage import Ground, ago, make_ground
from tests.conftest import TODAY
from tests.infra.statements import Statements
from tests.storage.desk import Desk


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_ground(writer)


@pytest.fixture
def logger(writer: Writer, ground: Ground) -> schemas.LoggerRead:
    return make_logger(writer, ground, "Grey logger")


@pytest.fixture
def clerk(writer: Writer, ground: Ground, database: Database, logger: schemas.LoggerRead) -> Clerk:
    return Clerk(writer, ground, database, logger.id)


JAN_10 = datetime(2026, 1, 10, tzinfo=UTC)
NIGHT = hourly(JAN_10, ["2.5", "2.6", "2.4", "2.5"])


# -- taken back, dropped ---------------------------------------------------------------------------------------------------


def test_taking_back_takes_out_what_came_with_the_file_and_nothing_else(
    clerk: Clerk, writer: Writer, ground: Ground, database: Database
) -> None:
    send(writer, ground, clerk.logger_id, [(JAN_10, "2.5"), (JAN_10 + timedelta(hours=30), "5.5")])
    taken = clerk.take_all(*NIGHT)
    wider = clerk.take_all(*hourly(JAN_10, ["2.5", "2.6", "2.4", "2.5", "2.7"]))

    back = clerk.back(taken)

    assert (taken.added, taken.same, wider.added, wider.same) == (3, 1, 1, 4)
    assert clerk.temps() == [2.5, 2.7, 5.5]
    assert back.told[-2:] == [
        "3 readings were taken out again.",
        "Some of them came again with log.csv: send that file again to have them back.",
    ]
    with pytest.raises(FileSettled):
        clerk.back(taken)
    with database.reading() as session:
        listed = queries.list_files(session, clerk.logger_id, Paging(limit=10))
    assert [one.state for one in listed.items] == ["taken", "taken_back"]


def test_a_file_can_be_dropped_and_old_ones_go_by_themselves(
    clerk: Clerk, clock: FixedClock, database: Database
) -> None:
    dropped, forgotten = clerk.send(*NIGHT), clerk.send(*NIGHT)
    clerk.writer.write_now(actions.drop_file, clerk.ground.host, dropped.id)
    clock.move(timedelta(days=15))
    kept = clerk.send(*NIGHT)

    with database.reading() as session:
        listed = queries.list_files(session, clerk.logger_id, Paging(limit=10))
    assert [one.id for one in listed.items] == [kept.id]
    for gone in (dropped, forgotten):
        with pytest.raises(FileSettled):
            clerk.take(gone)
    with pytest.raises(NoSuchFile):
        clerk.look(kept.model_copy(update={"id": uuid4()}))


def test_a_logger_that_is_no_longer_used_takes_no_file(clerk: Clerk) -> None:
    file = clerk.send(*NIGHT)
    clerk.form(file)
    retired = schemas.LoggerUpdate(retired=True)
    clerk.writer.write_now(actions.change_logger, clerk.ground.host, clerk.logger_id, 1, retired)

    with pytest.raises(LoggerRetired):
        clerk.take(file)
    with pytest.raises(LoggerRetired):
        clerk.send(*NIGHT)


def test_taking_a_file_costs_the_same_however_long_it_is(clerk: Clerk, statements: Statements) -> None:
    clerk.form(clerk.send(*NIGHT))
    short, long = clerk.send(*NIGHT[:1]), clerk.send(*hourly(JAN_10, ["2.5", "2.6"] * 300))
    with statements.at_most(10):
        clerk.take(short)
    with statements.at_most(10):
        clerk.take(long)


# -- over HTTP -------------------------------------------------------------------------------------------------------------


@pytest.fixture
def desk(database: Database, writer: Writer, clock: FixedClock, ground: Ground) -> Desk:
    return Desk(database, writer, clock, router)


def test_a_file_is_sent_looked_at_taken_and_taken_back_over_http(
    desk: Desk, logger: schemas.LoggerRead
) -> None:
    text = "Time;Temp\n10.01.2026 08:00;2,5\n10.01.2026 09:00;2,6\n"
    sent = desk.post("host", f"/api/loggers/{logger.id}/files", {"name": "a.csv", "text": text}).json()
    path = f"/api/reading-files/{sent['id']}"
    form = {"time": "Time", "temp": "Temp", "zone": "+01:00", "order": "dmy"}

    unsaid = desk.post("host", f"{path}/take", {})
    told = desk.ask("host", "PUT", f"{path}/form", json=form)
    looked = desk.get("host", path).json()
    taken = [desk.post("host", f"{path}/take", {}, key="take-the-file") for _ in range(2)]
    again = desk.post("host", f"{path}/take", {})
    back = desk.post("host", f"{path}/taken-back", None)
    listed = desk.get("host", f"/api/loggers/{logger.id}/files").json()

    assert unsaid.status_code == 422, unsaid.text
    assert taken[0].status_code == 201, taken[0].text
    assert told.status_code == 200
    assert looked["preview"]["new"] == 2
    assert [(answer.status_code, answer.json()["added"]) for answer in taken] == [(201, 2), (201, 2)]
    assert (again.status_code, back.json()["state"]) == (409, "taken_back")
    assert [one["first_at"] for one in listed["items"]] == ["2026-01-10T07:00:00Z"]


def test_nothing_is_read_of_a_file_in_the_future_of_the_record(clerk: Clerk) -> None:
    """Ten minutes of a clock that runs ahead are let pass, as everywhere."""
    soon = [f"{TODAY + timedelta(minutes=n):%Y-%m-%d %H:%M},2.5" for n in (5, 20)]
    file = clerk.send(*soon)
    clerk.form(file)

    preview = clerk.look(file).preview

    assert preview is not None
    assert (preview.new, [row.line for row in preview.faulty]) == (1, [3])


def test_a_late_file_finds_its_place_among_what_a_program_sent(
    clerk: Clerk, writer: Writer, ground: Ground
) -> None:
    send(writer, ground, clerk.logger_id, steady(ago(days=2), 4, "2.0"))

    taken = clerk.take_all(*hourly(ago(days=2) - timedelta(hours=2), ["1.8", "1.9", "2.0", "2.0"]))

    assert (taken.added, taken.same) == (2, 2)
    assert clerk.temps() == [1.8, 1.9, 2.0, 2.0, 2.0, 2.0]
