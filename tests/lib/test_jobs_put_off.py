"""Jobs that went wrong: under their own name again, not asked for again and again by the clock, and in nobody's way."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from service.lib.jobs import (
    Job,
    Kind,
    NotWorthAnotherTry,
    Task,
    TryLater,
    Wanted,
    Worker,
    claim_job,
    enqueue,
)
from tests.lib.test_jobs import ask, jobs

A_MINUTE, A_DAY = timedelta(minutes=1), timedelta(days=1)


def failing(error: Exception, done: list[int]) -> Any:
    def fail(task: Task) -> None:
        done.append(task.tries)
        raise error

    return fail


def weekly(_session: Any, _now: Any) -> list[Wanted]:
    return [Wanted("count", {}, "weekly:7")]


def test_what_time_asks_for_and_fails_is_one_job_tried_after_longer_and_longer_waits(writer, database, clock):
    tries: list[int] = []
    worker = Worker(database, writer, [Kind("count", failing(OSError("no"), tries), most_tries=4)], [weekly])
    for _ in range(60):  # minutes
        worker.look_at_the_clock()
        worker.run_due()
        clock.move(A_MINUTE)

    assert tries == [1, 2, 3, 4]
    assert [(job.once, job.last_error) for job in jobs(database)] == [("weekly:7", "no")]


def test_what_was_given_up_is_asked_for_again_by_the_clock_after_a_day(writer, database, clock):
    tries: list[int] = []
    worker = Worker(database, writer, [Kind("count", failing(NotWorthAnotherTry("no"), tries))], [weekly])
    for _ in range(49):
        worker.look_at_the_clock()
        worker.run_due()
        clock.move(timedelta(hours=1))

    assert tries == [1, 1, 1]
    assert len(jobs(database)) == 1


def test_a_change_has_what_was_given_up_tried_anew_at_once(writer, database):
    tries: list[int] = []
    worker = Worker(database, writer, [Kind("count", failing(NotWorthAnotherTry("no"), tries))])
    ask(writer, once="store 7")
    worker.run_due()
    ask(writer, once="store 7")

    assert worker.run_due() == 1
    assert tries == [1, 1]
    assert len(jobs(database)) == 1


def test_a_job_put_off_waits_under_its_name_and_a_change_makes_it_due(writer, database, clock):
    worker = Worker(database, writer, [Kind("count", failing(OSError("no"), []))])
    ask(writer, once="store 7", n=0)
    worker.run_due()
    (put_off,) = jobs(database)
    ask(writer, once="store 7", n=1)
    (again,) = jobs(database)

    assert (put_off.once, put_off.due_at) == ("store 7", clock.at + A_MINUTE)
    assert (again.id, again.due_at, again.tries) == (put_off.id, clock.at, 1)


def test_a_job_put_off_goes_where_another_of_its_name_waits(writer, database):
    def fail(task: Task) -> None:
        if task.what["n"] == 0:
            ask(writer, once="store 7", n=1)  # readings that come while the first are looked at
            raise OSError("no")

    worker = Worker(database, writer, [Kind("count", fail)])
    ask(writer, once="store 7", n=0)
    worker.run_due()

    assert jobs(database) == []


def test_a_job_whose_doer_died_keeps_its_name(writer, database, clock):
    worker = Worker(database, writer, [Kind("count", failing(OSError("no"), []))])
    ask(writer, once="store 7")
    writer.write_now(claim_job, None, jobs(database)[0].id, A_MINUTE)
    clock.move(timedelta(minutes=2))
    worker.run_due()

    assert [(job.once, job.tries) for job in jobs(database)] == [("store 7", 2)]


@pytest.mark.parametrize(
    "waits, due",
    [((60, 60, 60), 60), ((60, 0), 0), ((0, 60), 0)],
)
def test_what_may_wait_is_due_when_the_earliest_that_asked_is(writer, database, clock, waits, due):
    begun = clock.at
    for minutes in waits:
        wait = timedelta(minutes=minutes)
        writer.write_now(
            lambda session, wait=wait: enqueue(session, "count", {}, once="store 7", wait=wait), None
        )
    (job,) = jobs(database)

    assert job.due_at == begun + timedelta(minutes=due)


def test_what_goes_outside_waits_for_all_else_and_where_it_is_away_for_the_next_pass(writer, database):
    order: list[str] = []

    def mail(task: Task) -> None:
        order.append("mail")
        if order.count("mail") == 1:
            ask(writer, "ring")  # it rings while a letter is on its way
        raise TryLater("the server is away")

    kinds = [Kind("mail", mail, outside=True), Kind("ring", lambda _task: order.append("ring"))]
    worker = Worker(database, writer, kinds)
    for _ in range(25):
        ask(writer, "mail")
    for _ in range(25):
        ask(writer, "ring")

    first, second = worker.run_due(), worker.run_due()

    assert (first, second) == (27, 1)
    assert order == [*["ring"] * 25, "mail", "ring", "mail"]


def test_what_was_away_is_logged_without_its_words(writer, database, caplog):
    away = failing(TryLater("refused for bram@otterlea.example"), [])
    ask(writer)
    Worker(database, writer, [Kind("count", away)]).run_due()

    assert "was away at its try 1" in caplog.text
    assert "otterlea" not in caplog.text
    assert [job.last_error for job in jobs(database)] == ["refused for bram@otterlea.example"]


def test_a_name_that_would_not_fit_is_refused(writer):
    with pytest.raises(ValueError):
        ask(writer, once="x" * 81)


def test_the_name_of_a_job_being_done_fits_its_column():
    from service.lib.jobs import LONGEST_NAME

    length = Job.__table__.c.once.type.length  # type: ignore[attr-defined]
    assert len("0" * 32 + ":") + LONGEST_NAME <= length
