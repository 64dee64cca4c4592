"""When memory is looked through for rubbish. Work that makes much, all of which lasts, would be looked through again and again for none."""

from __future__ import annotations

import gc
import threading
from collections.abc import Iterator
from contextlib import contextmanager


class _Sweeper:
    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.waited_for = 0
        self.was_on = False

    def pause(self) -> None:
        with self.lock:
            if not self.waited_for:
                self.was_on = gc.isenabled()
                gc.disable()
            self.waited_for += 1

    def go_on(self) -> None:
        with self.lock:
            self.waited_for -= 1
            if not self.waited_for and self.was_on:
                gc.enable()


_sweeper = _Sweeper()


@contextmanager
def not_swept() -> Iterator[None]:
    """Nothing is looked through while this lasts, in no thread of the process: for work of a second or two at a time."""
    _sweeper.pause()
    try:
        yield
    finally:
        _sweeper.go_on()
