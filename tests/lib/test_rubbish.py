"""Work that makes much is not looked through for rubbish while it lasts, and everything is again after it."""

from __future__ import annotations

import gc
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest

from service.lib.rubbish import not_swept


class Ring:
    """Rubbish that only a sweep finds."""

    def __init__(self, gone: list[str]) -> None:
        self.me, self.gone = self, gone

    def __del__(self) -> None:
        self.gone.append("swept")


def many() -> list[list[int]]:
    return [[] for _ in range(50_000)]


def test_rubbish_lies_while_it_lasts_and_is_swept_after() -> None:
    gone: list[str] = []
    with not_swept():
        Ring(gone)
        made = many()
        lay = not gone

    made += many()

    assert lay
    assert gone == ["swept"]


def test_it_is_swept_again_once_the_last_of_several_at_the_same_time_ended() -> None:
    both = Barrier(2, timeout=10)

    def work(ends_last: bool) -> bool:
        with not_swept():
            both.wait()
            if not ends_last:
                return gc.isenabled()
            first.result()
            return gc.isenabled()

    with ThreadPoolExecutor(2) as threads:
        first = threads.submit(work, False)
        last = threads.submit(work, True)

    assert [first.result(), last.result()] == [False, False]
    assert gc.isenabled()


def test_it_is_swept_again_after_work_that_went_wrong() -> None:
    with pytest.raises(ZeroDivisionError), not_swept():
        _ = 1 / 0

    assert gc.isenabled()


def test_what_was_not_swept_before_is_not_after() -> None:
    gc.disable()
    try:
        with not_swept():
            pass

        assert not gc.isenabled()
    finally:
        gc.enable()
