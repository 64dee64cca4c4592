"""Long lists are done one at a time; a reading is its asker's own; why a taking failed stays to be seen."""

from __future__ import annotations

import logging
import threading
import time
from uuid import uuid4

import pytest

from service.lib.errors import Broken, Refused, TooMany
from service.pages import long_lists
from service.pages.long_lists import MOST_WAITING, LongLists, Work

LIST, ME, OTHER = uuid4(), uuid4(), uuid4()


def over(work: Work) -> Work:
    for _ in range(400):
        if work.is_over:
            return work
        time.sleep(0.005)
    raise AssertionError("it never came to an end")


def refused(_tell):
    raise Refused("The tree is stopped.")


def test_a_reading_is_joined_by_its_own_asker_and_made_anew_for_another():
    lists, made = LongLists(), iter("abc")

    mine = over(lists.read(LIST, 1, ME, lambda _: next(made)))
    again = lists.read(LIST, 1, ME, lambda _: next(made))
    theirs = over(lists.read(LIST, 1, OTHER, lambda _: next(made)))

    assert again is mine
    assert (mine.result, theirs.result) == ("a", "b")


def test_a_reading_that_is_over_is_forgotten_for_its_asker_alone_and_no_taking_is():
    lists, may_go, slow = LongLists(), threading.Event(), uuid4()
    mine = over(lists.read(LIST, 1, ME, lambda _: "mine"))
    theirs = over(lists.read(LIST, 1, OTHER, lambda _: "theirs"))
    taking = over(lists.take(LIST, 1, ME, refused))
    under_way = lists.read(slow, 1, ME, lambda _: may_go.wait(5))

    lists.forget_readings(LIST, ME)
    lists.forget_readings(slow, ME)
    joined = lists.read(slow, 1, ME, lambda _: "twice")
    may_go.set()

    assert over(lists.read(LIST, 1, ME, lambda _: "anew")) is not mine
    assert lists.read(LIST, 1, OTHER, lambda _: "anew") is theirs
    assert lists.taking(LIST) is taking
    assert joined is under_way


def test_a_list_is_taken_once_whoever_presses_and_tried_anew_only_after_it_failed():
    lists, may_go = LongLists(), threading.Event()

    def slowly(_tell):
        may_go.wait(5)
        refused(_tell)

    first = lists.take(LIST, 1, ME, slowly)
    second = lists.take(LIST, 1, OTHER, slowly)
    may_go.set()
    failed = over(first)
    kept = lists.taking(LIST), lists.taking(LIST)
    third = over(lists.take(LIST, 1, OTHER, lambda _: "taken"))

    assert second is first
    assert failed.problem is not None and kept == (first, first)
    assert (third.result, third.account_id, third.problem) == ("taken", OTHER, None)


def test_what_came_of_it_is_kept_from_its_end_on_however_long_it_took(monkeypatch):
    lists, now = LongLists(), [0.0]
    monkeypatch.setattr(long_lists.time, "monotonic", lambda: now[0])

    def for_long(_tell):
        now[0] += 1_000
        return "read"

    reading = over(lists.read(LIST, 1, ME, for_long))
    joined = lists.read(LIST, 1, ME, lambda _: "again")
    now[0] += long_lists.KEPT_SECONDS + 1
    anew = lists.read(LIST, 1, ME, lambda _: "again")

    assert joined is reading
    assert over(anew).result == "again"


def test_a_fault_is_told_and_stands_in_the_log(caplog):
    def broken(_tell):
        raise ZeroDivisionError("by the gate")

    with caplog.at_level(logging.ERROR):
        work = over(LongLists().read(LIST, 1, ME, broken))

    assert isinstance(work.problem, Broken)
    (entry,) = caplog.records
    assert "the reading of a long list went wrong" in entry.getMessage()
    assert entry.exc_info and "by the gate" in str(entry.exc_info[1])


def test_one_is_done_at_a_time_and_too_many_that_wait_are_turned_away():
    lists, may_go, at_once, most = LongLists(), threading.Event(), [0], [0]

    def one(_tell):
        at_once[0] += 1
        most[0] = max(most[0], at_once[0])
        may_go.wait(5)
        at_once[0] -= 1

    first = lists.read(LIST, 0, ME, one)
    while not first.is_begun:
        time.sleep(0.005)
    waiting = [lists.read(LIST, version + 1, ME, one) for version in range(MOST_WAITING)]
    begun = [work.is_begun for work in waiting]
    with pytest.raises(TooMany):
        lists.read(LIST, 99, ME, one)
    may_go.set()

    assert not any(begun)
    assert all(over(work).is_over for work in (first, *waiting))
    assert most == [1]
