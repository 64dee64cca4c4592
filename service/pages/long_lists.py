"""Long lists read and taken aside, while their page says how far it is: it comes again by itself, without script.

What is under way is known to this process alone. Where it ends, a list waits as it did before: nothing of it was taken.
"""

from __future__ import annotations

import logging
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from service.lib.errors import Broken, Problem, TooMany

LONG_ROWS = 2_000  # from here on a page does not wait
KEPT_SECONDS = 300  # after its end a reading, or why a taking failed, is shown for so long
MOST_KEPT = 16
MOST_WAITING = 12  # one is done at a time, so that the record answers others meanwhile
Told = Callable[[int, int], None]
Key = tuple[Any, ...]
_log = logging.getLogger(__name__)


@dataclass
class Work:
    """One list being read or taken: for whom and of which version, how many of its rows are done, and what came of it."""

    what: str  # reading, taking
    version: int
    account_id: UUID
    is_begun: bool = False
    done: int = 0
    of: int = 0
    result: Any = None
    problem: Problem | None = None
    is_over: bool = False
    ended: float = 0.0

    def tell(self, done: int, of: int) -> None:
        self.done, self.of = done, of


class LongLists:
    """Work that waits, is under way or is just over.

    A list is taken once, whoever presses, so a taking goes by the list; what is shown of a list is its asker's own.
    """

    def __init__(self) -> None:
        self._work: dict[Key, Work] = {}
        self._waiting: deque[tuple[Work, Callable[[Told], Any]]] = deque()
        self._is_busy = False
        self._lock = threading.Lock()

    def taking(self, list_id: UUID) -> Work | None:
        """How far a list is taken, or why it could not be."""
        with self._lock:
            self._forget_old()
            return self._work.get((list_id,))

    def read(self, list_id: UUID, version: int, account_id: UUID, do: Callable[[Told], Any]) -> Work:
        """Begin to read a list, or join what this asker began before. Raises `TooMany`."""
        return self._begin((list_id, version, account_id), Work("reading", version, account_id), do)

    def take(self, list_id: UUID, version: int, account_id: UUID, do: Callable[[Told], Any]) -> Work:
        """Begin to take a list, unless somebody began before; one that failed is tried anew. Raises `TooMany`."""
        with self._lock:
            before = self._work.get((list_id,))
            if before is not None and before.is_over:
                del self._work[(list_id,)]
        return self._begin((list_id,), Work("taking", version, account_id), do)

    def forget(self, work: Work) -> None:
        with self._lock:
            self._work = {key: one for key, one in self._work.items() if one is not work}

    def forget_readings(self, list_id: UUID, account_id: UUID) -> None:
        """What this asker was shown of a list is read again; what is under way goes on."""
        with self._lock:
            self._work = {
                key: one
                for key, one in self._work.items()
                if not (one.is_over and key[0] == list_id and key[1:] == (one.version, account_id))
            }

    def _begin(self, key: Key, new: Work, do: Callable[[Told], Any]) -> Work:
        with self._lock:
            self._forget_old()
            work = self._work.get(key)
            if work is None:
                if len(self._waiting) >= MOST_WAITING:
                    raise TooMany("Too many long lists wait to be read at this moment.", wait_seconds=30)
                work = self._work[key] = new
                self._waiting.append((work, do))
                if not self._is_busy:
                    self._is_busy = True
                    threading.Thread(target=self._serve, name="long lists", daemon=True).start()
        return work

    def _forget_old(self) -> None:
        over = sorted((work.ended, key) for key, work in self._work.items() if work.is_over)
        spare = len(over) - MOST_KEPT
        for place, (ended, key) in enumerate(over):
            if place < spare or time.monotonic() - ended > KEPT_SECONDS:
                del self._work[key]

    def _serve(self) -> None:
        """One after the other, until none waits."""
        while True:
            with self._lock:
                if not self._waiting:
                    self._is_busy = False
                    return
                work, do = self._waiting.popleft()
            _run(work, do)


def _run(work: Work, do: Callable[[Told], Any]) -> None:
    work.is_begun = True
    try:
        work.result = do(work.tell)
    except Problem as problem:
        work.problem = problem
    except Exception:  # noqa: BLE001 - whatever it was, the page must not wait for ever
        _log.exception("the %s of a long list went wrong", work.what)
        work.problem = Broken(f"The {work.what} of the list did not come to its end.")
    finally:
        work.ended = time.monotonic()
        work.is_over = True
