"""Writing that fails: commits, refusals, deadlocks."""

from __future__ import annotations

import sqlite3
import threading
from concurrent.futures import ThreadPoolExecutor
from typing import Any
from uuid import UUID, uuid4

import pytest
from sqlalchemy import text
from sqlalchemy.exc import OperationalError
from sqlmodel import Session, select

from service.lib.database import Database
from service.lib.errors import AlreadyKnown, MaybeSaved, NotSaved, Refused, Unusable
from service.lib.write import Writer, recorded_at, touch_bundles
from service.members.tables import Area
from service.trees.tables import Site
from tests.lib.desk import (
    SOMEBODY,
    Named,
    NamedRead,
    Somebody,
    add_area,
    names,
    together,
)

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


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize(
    ("said", "todo", "told"),
    [
        ("SQLITE_IOERR_FSYNC", "Send the same request again", MaybeSaved),
        ("SQLITE_FULL", "Send the same request again", NotSaved),
    ],
    ids=["the disk failed", "the disk is full"],
)
def test_a_disk_that_fails_while_it_saves_is_told_as_unknown_and_one_that_is_full_as_not_saved(
    grouping: Writer, said: str, todo: str, told: type[NotSaved | MaybeSaved]
) -> None:
    """After an error of reading or writing nobody knows what stands on the disk; after a full one SQLite rolls back.

    Source: SQLite, "Result and Error Codes", SQLITE_IOERR and SQLITE_FULL.
    """

    def fail(here: str) -> None:
        if here == "before commit":
            broken = sqlite3.OperationalError("disk")
            broken.sqlite_errorname = said
            raise OperationalError("COMMIT", None, broken)

    grouping.reached = fail

    (answer,) = together(grouping, (add_area, SOMEBODY, Named(name="lost")), keys=["key-of-lost"])

    assert type(answer) is told
    assert todo in answer.todo


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("many", [1, 3], ids=["alone", "in a group"])
def test_a_disk_that_fails_before_anything_is_being_saved_is_told_as_not_saved(
    grouping: Writer, database: Database, many: int
) -> None:
    """SQLite may give up the whole transaction after an error of reading or writing (SQLite, "Transaction", 2.1); the savepoint
    that an action would go back to is gone with it. No COMMIT was sent, so it is sure that nothing stands on the disk.
    """
    answers = together(
        grouping,
        *((lose_the_disk, SOMEBODY, Named(name=f"area {n}")) for n in range(many)),
        keys=[f"key-of-{n}" for n in range(many)],
    )

    assert [type(answer) for answer in answers] == [NotSaved] * many
    assert names(database) == set()


def lose_the_disk(session: Session, member: Somebody, body: Named) -> NamedRead:
    add_area(session, member, body)
    session.connection().exec_driver_sql("ROLLBACK")  # as SQLite does by itself
    broken = sqlite3.OperationalError("disk I/O error")
    broken.sqlite_errorname = "SQLITE_IOERR_WRITE"
    raise OperationalError("INSERT", None, broken)


@pytest.mark.databases("sqlite")
def test_what_breaks_a_group_half_way_is_told_as_not_saved(grouping: Writer, database: Database) -> None:
    def fail(here: str) -> None:
        if here == "in mid-group":
            broken = sqlite3.OperationalError("disk I/O error")
            broken.sqlite_errorname = "SQLITE_IOERR_READ"
            raise OperationalError("SELECT", None, broken)

    grouping.reached = fail

    answers = together(grouping, *((add_area, SOMEBODY, Named(name=f"area {n}")) for n in range(3)))

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


@pytest.mark.databases("sqlite")
def test_a_failing_hook_takes_back_only_the_action_it_fails_for(grouping: Writer, database: Database) -> None:
    bad, told = Named(name="uncarded"), list[frozenset[UUID]]()

    def refuse_one(_session: Session, touched: frozenset[UUID]) -> None:
        told.append(touched)
        if bad.id in touched:
            raise Refused("the card cannot be renewed")

    def add_and_touch(session: Session, member: Somebody, body: Named) -> NamedRead:
        touch_bundles(session, [body.id])
        return add_area(session, member, body)

    grouping.hooks.append(refuse_one)
    good = [Named(name=f"area {n}") for n in range(3)]

    answers = together(grouping, *((add_and_touch, SOMEBODY, body) for body in [*good[:2], bad, good[2]]))

    assert [type(answer) for answer in answers] == [NamedRead, NamedRead, Refused, NamedRead]
    assert names(database) == {"area 0", "area 1", "area 2"}
    assert len(told[0]) == 4, "the whole group was told of at once"
    assert sorted(map(len, told[1:])) == [1, 1, 1, 1]
