"""The one way to change anything: saved before it is answered, once per key, harmless to its neighbours."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any
from uuid import UUID, uuid4

import pytest
from sqlmodel import Session, select

from service.lib.database import Database
from service.lib.errors import AlreadyKnown, KeyReused, Refused
from service.lib.write import KeptAnswer, Writer
from tests.lib.desk import (
    SOMEBODY,
    Named,
    NamedRead,
    Somebody,
    add_area,
    commits_of,
    keys,
    names,
    refuse_after_writing,
    tell_secret,
    together,
)

# -- group commit -----------------------------------------------------------------------------------------------


@pytest.mark.databases("sqlite")
def test_many_writes_at_once_are_saved_by_one_commit(grouping: Writer, database: Database) -> None:
    commits = commits_of(database)

    answers = together(grouping, *((add_area, SOMEBODY, Named(name=f"area {n}")) for n in range(40)))

    assert [answer.name for answer in answers] == [f"area {n}" for n in range(40)]
    assert len(names(database)) == 40
    assert len(commits) == 1


def test_an_action_that_fails_harms_none_of_its_neighbours(grouping: Writer, database: Database) -> None:
    grouping.write_now(add_area, SOMEBODY, Named(name="known"))

    answers = together(
        grouping,
        (add_area, SOMEBODY, Named(name="first")),
        (refuse_after_writing, SOMEBODY, Named(name="refused")),
        (add_area, SOMEBODY, Named(name="second")),
        (add_area, SOMEBODY, Named(name="known")),
        (fail_in_python, SOMEBODY, Named(name="broken")),
        (add_area, SOMEBODY, Named(name="third")),
    )

    assert [type(answer) for answer in answers] == [
        NamedRead,
        Refused,
        NamedRead,
        AlreadyKnown,
        ZeroDivisionError,
        NamedRead,
    ]
    assert names(database) == {"known", "first", "second", "third"}


def fail_in_python(session: Session, member: Somebody, body: Named) -> None:
    add_area(session, member, body)
    raise ZeroDivisionError


@pytest.mark.databases("sqlite")
def test_two_of_a_group_with_the_same_key_have_one_effect(grouping: Writer, database: Database) -> None:
    body = Named(name="once")

    answers = together(grouping, *[(add_area, SOMEBODY, body)] * 5, keys=["key-once"] * 5)

    assert answers == [NamedRead(id=body.id, name="once")] * 5
    assert keys(database) == 1


@pytest.mark.databases("sqlite")
def test_a_caller_who_gave_up_waiting_does_not_stop_the_writer(database: Database, clock: Any) -> None:
    writer = Writer(database, clock)
    gate, begun = threading.Event(), threading.Event()

    def wait_at_gate(session: Session) -> None:
        begun.set()
        gate.wait(10)

    async def leave_early() -> None:
        blocking = asyncio.ensure_future(writer.write(wait_at_gate, None))
        await asyncio.to_thread(begun.wait, 10)
        given_up = asyncio.ensure_future(writer.write(add_area, SOMEBODY, Named(name="given up")))
        stays = asyncio.ensure_future(writer.write(add_area, SOMEBODY, Named(name="stays")))
        await asyncio.sleep(0.05)
        given_up.cancel()
        await asyncio.sleep(0.05)
        gate.set()
        await asyncio.wait_for(stays, 10)
        await asyncio.wait_for(blocking, 10)

    writer.start()
    asyncio.run(leave_early())
    writer.write_now(add_area, SOMEBODY, Named(name="after"))
    writer.stop()

    assert names(database) == {"stays", "after"}


def test_a_writer_that_is_stopped_saves_what_was_asked_before(database: Database, clock: Any) -> None:
    writer = Writer(database, clock)
    writer.start()
    with ThreadPoolExecutor(8) as pool:
        asked = [pool.submit(writer.write_now, add_area, SOMEBODY, Named(name=f"{n}")) for n in range(20)]
        answers = [each.result().name for each in asked]
    writer.stop()

    assert names(database) == set(answers) == {str(n) for n in range(20)}


# -- the same request twice ----------------------------------------------------------------------------------------


def test_the_same_request_twice_is_done_once_and_answered_the_same(
    writer: Writer, database: Database
) -> None:
    body = Named.model_validate({"name": "twice"})
    again = Named.model_validate({"name": "twice"})

    first = writer.write_now(add_area, SOMEBODY, body, key="key-twice")
    second = writer.write_now(add_area, SOMEBODY, again, key="key-twice")

    assert body.id != again.id
    assert second == first
    assert names(database) == {"twice"}


@pytest.mark.parametrize(
    "change",
    [
        lambda: (add_area, SOMEBODY, Named(name="another")),
        lambda: (refuse_after_writing, SOMEBODY, Named(name="one")),
        lambda: (add_area, replace(SOMEBODY, acting_for_id=uuid4()), Named(name="one")),
        lambda: (add_area, SOMEBODY, Named(name="one", id=uuid4())),
    ],
    ids=["another body", "another action", "on behalf of somebody else", "an id that was told"],
)
def test_a_key_used_for_something_else_is_refused(
    writer: Writer, database: Database, change: Callable[[], Any]
) -> None:
    writer.write_now(add_area, SOMEBODY, Named.model_validate({"name": "one"}), key="key-one")

    with pytest.raises(KeyReused):
        writer.write_now(*change(), key="key-one")

    assert names(database) == {"one"}


def test_everybody_has_keys_of_their_own(writer: Writer, database: Database) -> None:
    writer.write_now(add_area, SOMEBODY, Named(name="mine"), key="key-same")
    writer.write_now(add_area, Somebody(), Named(name="theirs"), key="key-same")

    assert names(database) == {"mine", "theirs"}


def test_a_key_is_known_after_a_restart(database_url: str, clock: Any) -> None:
    answers = []
    for _start in range(2):
        database = Database(database_url)
        writer = Writer(database, clock)
        writer.start()
        answers.append(
            writer.write_now(add_area, SOMEBODY, Named.model_validate({"name": "kept"}), key="key-kept")
        )
        writer.stop()
        database.close()

    assert answers[0] == answers[1]


def test_a_refused_request_leaves_its_key_free(writer: Writer, database: Database) -> None:
    body = Named(name="later")
    with pytest.raises(Refused):
        writer.write_now(refuse_after_writing, SOMEBODY, body, key="key-later")

    writer.write_now(add_area, SOMEBODY, body, key="key-later")

    assert names(database) == {"later"}
    assert keys(database) == 1


def test_a_secret_is_answered_once_and_never_kept(writer: Writer, database: Database) -> None:
    assert (
        writer.write_now(tell_secret, SOMEBODY, Named.model_validate({"name": "s"}), key="key-secret")
        == "swordfish"
    )

    with pytest.raises(AlreadyKnown, match="secret"):
        writer.write_now(tell_secret, SOMEBODY, Named.model_validate({"name": "s"}), key="key-secret")

    with database.reading() as session:
        assert session.exec(select(KeptAnswer.body)).one() is None


def test_many_threads_with_one_key_have_one_effect(writer: Writer, database: Database) -> None:
    start = threading.Barrier(8)

    def ask() -> UUID:
        start.wait()
        body = Named.model_validate({"name": "raced"})
        return writer.write_now(add_area, SOMEBODY, body, key="key-raced").id

    with ThreadPoolExecutor(8) as pool:
        answers = {each.result() for each in [pool.submit(ask) for _ in range(8)]}

    assert len(answers) == 1
    assert names(database) == {"raced"}
    assert keys(database) == 1
