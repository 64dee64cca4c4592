"""The one way to change anything: saved before it is answered, once per key, harmless to its neighbours."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import Any
from uuid import UUID, uuid4

import pytest
from pydantic import Field
from sqlalchemy import event, text
from sqlmodel import Session, func, select

from service.lib.database import Database
from service.lib.errors import AlreadyKnown, KeyReused, NotSaved, Refused, Unusable
from service.lib.schemas import Answer, Body
from service.lib.write import KeptAnswer, Writer, once_only, recorded_at, touch_bundles
from service.members.tables import Area
from service.trees.tables import Site


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


@pytest.fixture
def grouping(database: Database, clock: Any) -> Any:
    """A writer that waits a moment for company, so that calls made at once fall into one group."""
    made = Writer(database, clock, group_wait_ms=50)
    made.start()
    yield made
    made.stop()


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


# -- a commit that fails ---------------------------------------------------------------------------------------------


def fail_at(writer: Writer, point: str) -> None:
    def reached(here: str) -> None:
        if here == point:
            raise OSError("the disk is gone")

    writer.reached = reached


def test_a_commit_that_fails_is_never_answered_as_saved(writer: Writer, database: Database) -> None:
    fail_at(writer, "before commit")
    with pytest.raises(NotSaved):
        writer.write_now(add_area, SOMEBODY, Named.model_validate({"name": "lost"}), key="key-lost")
    assert names(database) == set()

    writer.reached = lambda _point: None
    writer.write_now(add_area, SOMEBODY, Named.model_validate({"name": "lost"}), key="key-lost")

    assert names(database) == {"lost"}


@pytest.mark.databases("sqlite")
def test_a_commit_that_fails_fails_for_the_whole_group(grouping: Writer, database: Database) -> None:
    fail_at(grouping, "before commit")

    answers = together(grouping, *((add_area, SOMEBODY, Named(name=f"area {n}")) for n in range(5)))

    assert {type(answer) for answer in answers} == {NotSaved}
    assert names(database) == set()


def leave_a_child_without_its_parent(session: Session, member: Somebody, body: Named) -> NamedRead:
    session.execute(text("insert into child (parent_id) values (77)"))
    return add_area(session, member, body)


def test_a_constraint_that_the_database_looks_at_only_when_committing_is_not_answered_as_saved(
    writer: Writer, database: Database
) -> None:
    with database.writing_session() as session:
        session.execute(text("create table parent (id integer primary key)"))
        session.execute(
            text(
                "create table child (parent_id integer references parent (id) deferrable initially deferred)"
            )
        )
        session.commit()

    with pytest.raises(NotSaved):
        writer.write_now(leave_a_child_without_its_parent, SOMEBODY, Named(name="orphaned"))
    writer.write_now(add_area, SOMEBODY, Named(name="sound"))

    assert names(database) == {"sound"}


# -- what went wrong, in words ---------------------------------------------------------------------------------------


def test_what_the_database_refuses_is_told_in_words(writer: Writer, database: Database) -> None:
    known = Named(name="known")
    writer.write_now(add_area, SOMEBODY, known)

    with pytest.raises(AlreadyKnown):
        writer.write_now(add_area, SOMEBODY, known)
    with pytest.raises(Unusable, match="does not exist"):
        writer.write_now(refer_to_nothing, SOMEBODY)
    with pytest.raises(Refused, match="not add up"):
        writer.write_now(break_a_check, SOMEBODY)

    assert names(database) == {"known"}


def refer_to_nothing(session: Session, member: Somebody) -> None:
    session.add(Site(name="Nowhere", area_id=uuid4()))
    session.flush()


def break_a_check(session: Session, member: Somebody) -> None:
    session.execute(text("create table counted (n integer check (n >= 0))"))
    session.execute(text("insert into counted values (-1)"))


# -- deadlocks, times and touched bundles ------------------------------------------------------------------------------


@pytest.mark.databases("postgres")
def test_two_that_lock_in_opposite_orders_are_both_saved_in_the_end(
    writer: Writer, database: Database
) -> None:
    one, two = Named(name="one"), Named(name="two")
    writer.write_now(add_area, SOMEBODY, one)
    writer.write_now(add_area, SOMEBODY, two)
    both_hold = threading.Barrier(2)
    tries: list[UUID] = []

    def rename_both(session: Session, member: Somebody, first: UUID, second: UUID) -> None:
        tries.append(first)
        for step, area_id in enumerate((first, second)):
            session.execute(text("update area set version = version + 1 where id = :id"), {"id": area_id})
            if step == 0 and len(tries) <= 2:
                both_hold.wait(10)

    with ThreadPoolExecutor(2) as pool:
        asked = [
            pool.submit(writer.write_now, rename_both, SOMEBODY, one.id, two.id),
            pool.submit(writer.write_now, rename_both, SOMEBODY, two.id, one.id),
        ]
        for each in asked:
            each.result(30)

    with database.reading() as session:
        assert set(session.exec(select(Area.version)).all()) == {3}
    assert len(tries) == 3, "one of the two was the victim once, and came again"


def test_every_row_of_an_action_gets_the_same_time(writer: Writer, clock: Any) -> None:
    def times(session: Session) -> tuple[Any, Any]:
        return recorded_at(session), recorded_at(session)

    assert writer.write_now(times, None) == (clock.now(), clock.now())


def test_touched_bundles_are_told_once_before_the_commit_and_only_by_their_own_action(writer: Writer) -> None:
    told: list[frozenset[UUID]] = []
    points: list[str] = []
    writer.hooks.append(lambda _session, touched: (told.append(touched), points.append("hook")))
    writer.reached = points.append
    first, second = uuid4(), uuid4()

    def touch(session: Session, *ids: UUID) -> None:
        touch_bundles(session, ids)
        touch_bundles(session, ids)

    writer.write_now(touch, None, first, second)
    writer.write_now(touch, None)
    writer.write_now(touch, None, second)

    assert told == [frozenset({first, second}), frozenset({second})]
    assert points[:3] == ["hook", "before commit", "after commit"]


def test_a_failing_hook_takes_its_action_back(writer: Writer, database: Database) -> None:
    def refuse(_session: Session, _touched: frozenset[UUID]) -> None:
        raise Refused("the card cannot be renewed")

    def add_and_touch(session: Session, member: Somebody, body: Named) -> None:
        add_area(session, member, body)
        touch_bundles(session, [body.id])

    writer.hooks.append(refuse)

    with pytest.raises(Refused):
        writer.write_now(add_and_touch, SOMEBODY, Named(name="uncarded"))

    assert names(database) == set()
