"""Heavy work waits its turn."""

from __future__ import annotations

import threading
import time

import pytest

from service.lib.errors import TooMany
from service.lib.turns import Turns


def test_so_many_at_once_so_many_wait_and_one_more_is_told():
    turns = Turns(at_once=2, most_waiting=1, words="Too many at this moment.")
    may_go, inside = threading.Event(), []

    def work() -> None:
        with turns.turn():
            inside.append(1)
            may_go.wait(5)

    threads = [threading.Thread(target=work) for _ in range(3)]
    for thread in threads:
        thread.start()
    while turns._here < 3 or len(inside) < 2:
        time.sleep(0.005)
    with pytest.raises(TooMany, match="Too many at this moment"), turns.turn():
        pass
    at_once = len(inside)
    may_go.set()
    for thread in threads:
        thread.join(5)

    assert (at_once, len(inside)) == (2, 3)
    with turns.turn():  # what went wrong or ended leaves its turn to others
        pass


def test_what_went_wrong_leaves_its_turn():
    turns = Turns(at_once=1, most_waiting=0, words="Too many at this moment.")

    for _ in range(3):
        with pytest.raises(ZeroDivisionError), turns.turn():
            raise ZeroDivisionError
