"""Background work: with the change that wants it or not at all, by one at a time, again where it went wrong or died."""

from __future__ import annotations

import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlmodel import Session, select

from service.lib.clock import FixedClock, SystemClock
from service.lib.database import Database
from service.lib.errors import Refused
from service.lib.jobs import (
    ENDED_IN_THE_MIDST,
    Job,
    Kind,
    NotWorthAnotherTry,
    Task,
    Wanted,
    Worker,
    claim_job,
    due_jobs,
    enqueue,
    given_up,
)
from service.lib.write import Writer
from tests.lib.desk import SOMEBODY, Named, add_area, names

ROOT = Path(__file__).resolve().parents[2]


def jobs(database: Database) -> list[Job]:
    with database.reading() as session:
        return list(session.exec(select(Job).order_by(Job.due_at)).all())  # type: ignore[arg-type]


def ask(writer: Writer, kind: str = "count", once: str | None = None, **what: Any) -> None:
    writer.write_now(lambda session: enqueue(session, kind, what, once=once), None)


def area_named(name: str) -> Callable[[Session], None]:
    return lambda session: add_area(session, SOMEBODY, Named(name=name)) and None


def counting(writer: Writer, database: Database, **more: Any) -> tuple[Worker, list[Task]]:
    done: list[Task] = []
    return Worker(database, writer, [Kind("count", done.append, **more)]), done


# -- with the change that wants it -----------------------------------------------------------------------------------


def test_a_job_is_there_with_its_change_and_not_without(writer, database):
    def change(session: Session, *, fails: bool) -> None:
        add_area(session, SOMEBODY, Named(name="refused" if fails else "saved"))
        enqueue(session, "count", {"n": 1})
        if fails:
            raise Refused("not today")

    writer.write_now(lambda session: change(session, fails=False), None)
    with pytest.raises(Refused):
        writer.write_now(lambda session: change(session, fails=True), None)

    assert names(database) == {"saved"}
    assert len(jobs(database)) == 1


def test_what_a_job_writes_is_saved_as_the_job_goes(writer, database):
    worker = Worker(database, writer, [Kind("name", lambda task: area_named(task.what["name"]))])
    ask(writer, "name", name="by a job")

    tried = worker.run_due()

    assert (tried, names(database), jobs(database)) == (1, {"by a job"}, [])


def test_what_nobody_knows_here_is_left_for_who_does(writer, database):
    worker, done = counting(writer, database)
    ask(writer, "of a later version")

    assert worker.run_due() == 0
    assert (len(jobs(database)), done) == (1, [])


def test_of_those_that_wait_there_is_one_of_a_name_and_a_new_one_once_it_is_begun(writer, database):
    for n in range(3):
        ask(writer, once="store 7", n=n)
    first = jobs(database)

    writer.write_now(claim_job, None, first[0].id, timedelta(minutes=1))
    ask(writer, once="store 7", n=9)

    assert [job.what for job in first] == [{"n": 0}]
    assert sorted(job.what["n"] for job in jobs(database)) == [0, 9]


# -- again, and given up ---------------------------------------------------------------------------------------------


def test_what_goes_wrong_is_tried_again_after_longer_and_longer_and_then_given_up(
    writer, database, clock: FixedClock
):
    told: list[tuple[str, bool]] = []

    def fail(task: Task) -> None:
        raise OSError(f"no answer to try {task.tries}")

    kind = Kind("count", fail, failed=lambda _session, _task, words, last: told.append((words, last)), most_tries=4)  # fmt: skip
    worker, waits = Worker(database, writer, [kind]), []
    ask(writer)
    for _ in range(4):
        assert worker.run_due() == 1
        waits.append(jobs(database)[0].due_at - clock.at)
        clock.at = jobs(database)[0].due_at

    assert waits == [timedelta(minutes=minutes) for minutes in (1, 2, 4, 8)]
    assert told == [(f"no answer to try {n}", n == 4) for n in range(1, 5)]
    assert worker.run_due() == 0
    with database.reading() as session:
        assert [job.last_error for job in given_up(session, clock.at - timedelta(days=1))] == [
            "no answer to try 4"
        ]
        assert given_up(session, clock.at + timedelta(days=1)) == []


def test_what_would_go_wrong_again_is_given_up_at_once(writer, database, clock):
    def refuse(_task: Task) -> None:
        raise NotWorthAnotherTry("there is no such address")

    worker = Worker(database, writer, [Kind("count", refuse)])
    ask(writer)
    worker.run_due()
    clock.move(timedelta(days=1))

    assert worker.run_due() == 0
    assert [(job.tries, job.last_error) for job in jobs(database)] == [(1, "there is no such address")]


def test_a_job_that_fails_stops_no_other(writer, database):
    def odd(task: Task) -> Callable[[Session], None]:
        if task.what["n"] == 1:
            raise ZeroDivisionError
        return area_named(f"area {task.what['n']}")

    worker = Worker(database, writer, [Kind("count", odd)])
    for n in range(3):
        ask(writer, n=n)

    assert worker.run_due() == 3
    assert names(database) == {"area 0", "area 2"}
    assert [job.last_error for job in jobs(database)] == ["ZeroDivisionError"]


def test_an_ending_that_fails_writes_nothing_and_keeps_the_job(writer, database):
    def end(session: Session) -> None:
        add_area(session, SOMEBODY, Named(name="half"))
        raise Refused("not today")

    worker = Worker(database, writer, [Kind("count", lambda _task: end)])
    ask(writer)
    worker.run_due()

    assert names(database) == set()
    assert [job.last_error for job in jobs(database)] == ["not today"]


# -- one at a time ---------------------------------------------------------------------------------------------------


def test_who_took_longer_than_the_lease_writes_nothing(writer, database, clock):
    done: list[int] = []

    def slow(task: Task) -> Callable[[Session], None]:
        done.append(task.tries)
        if task.tries == 1:  # meanwhile another claims it, does it and ends it
            clock.move(timedelta(minutes=11))
            assert Worker(database, writer, [kind]).run_due() == 1
        return area_named(f"try {task.tries}")

    kind = Kind("count", slow, lease=timedelta(minutes=10))
    ask(writer)
    Worker(database, writer, [kind]).run_due()

    assert done == [1, 2]
    assert names(database) == {"try 2"}
    assert jobs(database) == []


def test_two_never_do_one_job_at_the_same_time(database, clock):
    """Four workers, each with its own writer on PostgreSQL as in four processes; all on the one writer on SQLite."""
    one = Writer(database, clock)
    writers = [one] * 4 if database.is_sqlite else [Writer(database, clock) for _ in range(4)]
    one.start()
    for n in range(30):
        ask(one, n=n)
    done: Counter[int] = Counter()
    inside: Counter[int] = Counter()
    together: list[int] = []
    guard = threading.Lock()

    def do(task: Task) -> None:
        n = task.what["n"]
        with guard:
            inside[n] += 1
            together.append(inside[n])
        time.sleep(0.005)
        with guard:
            inside[n] -= 1
            done[n] += 1

    threads = [threading.Thread(target=Worker(database, w, [Kind("count", do)]).run_due) for w in writers]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    one.stop()

    assert done == Counter(range(30))
    assert set(together) == {1}
    assert jobs(database) == []


@pytest.mark.databases("postgres")
def test_a_change_that_wants_what_waits_already_is_seen_by_whoever_does_it(database, clock):
    """It is asked for and not yet saved while the job is claimed: the claim waits, so that nothing is missed."""
    writer, order = Writer(database, clock), list[str]()
    ask(writer, once="store 7")
    asked, go_on = threading.Event(), threading.Event()

    def change(session: Session) -> None:
        add_area(session, SOMEBODY, Named(name="changed"))
        enqueue(session, "count", {}, once="store 7")
        asked.set()
        assert go_on.wait(10)
        order.append("saved")

    changing = threading.Thread(target=lambda: writer.write_now(change, None))
    changing.start()
    assert asked.wait(10)
    seen: list[set[str]] = []

    def look(_task: Task) -> None:
        order.append("done")
        seen.append(names(database))

    working = threading.Thread(target=Worker(database, writer, [Kind("count", look)]).run_due)
    working.start()
    time.sleep(0.3)
    go_on.set()
    for thread in (changing, working):
        thread.join(10)

    assert order == ["saved", "done"]
    assert seen == [{"changed"}]


# -- dying in the midst ----------------------------------------------------------------------------------------------

DIES = """
import os, signal, sys
from datetime import timedelta
from service.lib.clock import SystemClock
from service.lib.database import Database
from service.lib.jobs import Kind, Worker
from service.lib.write import Writer
database = Database(sys.argv[1])
worker = Worker(database, Writer(database, SystemClock()), [Kind("count", lambda task: None, lease=timedelta(seconds=3))])
worker.reached = lambda point: os.kill(os.getpid(), signal.SIGKILL) if point == sys.argv[2] else None
worker.run_due()
"""


@pytest.mark.parametrize("point", ["claimed", "done"])
def test_where_a_process_dies_in_the_midst_another_takes_the_job_once_its_lease_ran_out(
    database, database_url, point
):
    writer = Writer(database, SystemClock())
    ask(writer)
    died = subprocess.run([sys.executable, "-c", DIES, database_url, point], cwd=ROOT, check=False)
    left = jobs(database)[0]
    worker, done = counting(writer, database)

    at_once = worker.run_due()
    time.sleep(max(0.0, (left.lease_until - writer.clock.now()).total_seconds()) + 0.05)
    later = worker.run_due()

    assert died.returncode == -signal.SIGKILL
    assert (at_once, later) == (0, 1)
    assert [(task.id, task.tries) for task in done] == [(left.id, 2)]
    assert jobs(database) == []


def test_a_job_that_kills_whoever_does_it_is_given_up_in_the_end(writer, database, clock):
    worker, done = counting(writer, database, most_tries=2)
    ask(writer)
    for _ in range(2):  # as two who died
        writer.write_now(claim_job, None, jobs(database)[0].id, timedelta(minutes=1))
        clock.move(timedelta(minutes=2))

    worker.run_due()

    assert done == []
    assert [job.last_error for job in jobs(database)] == [ENDED_IN_THE_MIDST]


# -- the thread ------------------------------------------------------------------------------------------------------


def waits_for(there: Callable[[], bool]) -> bool:
    until = time.monotonic() + 10
    while not there() and time.monotonic() < until:
        time.sleep(0.01)
    return there()


def test_the_thread_does_what_comes_and_stops_when_told(writer, database):
    done: list[Task] = []
    worker = Worker(database, writer, [Kind("count", done.append)], poll_seconds=0.02)
    worker.start()
    ask(writer)

    assert waits_for(lambda: not jobs(database))
    worker.stop()
    ask(writer)
    time.sleep(0.1)
    assert len(done) == 1
    assert len(jobs(database)) == 1
    assert "jobs" not in {thread.name for thread in threading.enumerate()}


def test_a_stop_does_not_wait_for_a_job_without_end_and_nothing_of_it_is_written(writer, database):
    begun, let_go = threading.Event(), threading.Event()

    def long(_task: Task) -> Callable[[Session], None]:
        begun.set()
        let_go.wait(10)
        return area_named("too late")

    worker = Worker(database, writer, [Kind("count", long)], poll_seconds=0.02)
    ask(writer)
    worker.start()
    assert begun.wait(10)
    thread = worker._thread

    worker.stop(0.05)
    let_go.set()
    thread.join(10)

    assert names(database) == set()
    assert [job.tries for job in jobs(database)] == [1]


def test_a_database_that_fails_for_a_moment_does_not_end_the_thread(writer, database, monkeypatch, caplog):
    worker, done = counting(writer, database)
    worker._poll = 0.02
    failed = threading.Event()
    real = database.reading

    def once_away() -> Any:
        if not failed.is_set():
            failed.set()
            raise OSError("the database is away")
        return real()

    monkeypatch.setattr(database, "reading", once_away)
    ask(writer)
    worker.start()

    assert waits_for(lambda: bool(done))
    worker.stop()
    assert "the database is away" in caplog.text


def test_time_itself_asks_for_a_job_once(writer, database, clock):
    worker, done = counting(writer, database)
    worker.ticks = [lambda _session, now: [Wanted("count", {"day": now.day}, f"day {now.day}")]]

    worker.look_at_the_clock()
    worker.look_at_the_clock()
    with database.reading() as session:
        waiting = due_jobs(session, ["count"], clock.now())
    worker.run_due()

    assert len(waiting) == 1
    assert done[0].what == {"day": 14}
