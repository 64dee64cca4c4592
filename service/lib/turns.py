"""Heavy work that few do at once: others wait their turn, and where too many wait already, it is said at once."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from service.lib.errors import TooMany

WAIT_SECONDS = 10  # after which it is worth another try


class Turns:
    """So many at once, in whatever thread they are; so many more wait."""

    def __init__(self, at_once: int, most_waiting: int, words: str) -> None:
        self._free = threading.Semaphore(at_once)
        self._most, self._words = at_once + most_waiting, words
        self._here = 0
        self._lock = threading.Lock()

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Wait until it is one's turn. Raises `TooMany`."""
        with self._lock:
            if self._here >= self._most:
                raise TooMany(self._words, wait_seconds=WAIT_SECONDS)
            self._here += 1
        try:
            with self._free:
                yield
        finally:
            with self._lock:
                self._here -= 1


# A file of twenty megabytes is many times that once it is open.
FILES = Turns(at_once=2, most_waiting=8, words="Too many files are being read at this moment.")
