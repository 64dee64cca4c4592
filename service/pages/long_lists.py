"""Long lists read and taken aside, while their page says how far it is: it comes again by itself, without script.

What is under way is known to this process alone. Where it ends, a list waits as it did before: nothing of it was taken.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from service.lib.errors import Broken, Problem

LONG_ROWS = 2_000  # from here on a page does not wait
KEPT_SECONDS = 300  # a reading is shown for so long; what is asked for later is read anew
MOST_KEPT = 16
Told = Callable[[int, int], None]


@dataclass
class Work:
    """One list being read or taken: how many of its rows are done, and what came of it."""

    what: str  # reading, taking
    begun: float = field(default_factory=time.monotonic)
    done: int = 0
    of: int = 0
    result: Any = None
    problem: Problem | None = None
    is_over: bool = False

    def tell(self, done: int, of: int) -> None:
        self.done, self.of = done, of


class LongLists:
    """Work that is under way or just over, by list and version."""

    def __init__(self) -> None:
        self._work: dict[tuple[UUID, int, str], Work] = {}
        self._lock = threading.Lock()

    def find(self, list_id: UUID, version: int, what: str) -> Work | None:
        with self._lock:
            return self._work.get((list_id, version, what))

    def begin(self, list_id: UUID, version: int, what: str, do: Callable[[Told], Any]) -> Work:
        """Begin it, or join what was begun before."""
        with self._lock:
            self._forget_old()
            work = self._work.get((list_id, version, what))
            if work is None:
                work = self._work[list_id, version, what] = Work(what)
                threading.Thread(target=_run, args=(work, do), name=f"list {what}", daemon=True).start()
        return work

    def forget(self, list_id: UUID, version: int, what: str) -> None:
        with self._lock:
            self._work.pop((list_id, version, what), None)

    def _forget_old(self) -> None:
        over = [key for key, work in self._work.items() if work.is_over]
        old = [key for key in over if time.monotonic() - self._work[key].begun > KEPT_SECONDS]
        for key in {*old, *over[: max(0, len(over) - MOST_KEPT)]}:
            del self._work[key]


def _run(work: Work, do: Callable[[Told], Any]) -> None:
    try:
        work.result = do(work.tell)
    except Problem as problem:
        work.problem = problem
    except Exception:  # noqa: BLE001 - whatever it was, the page must not wait for ever
        work.problem = Broken("The list could not be read or taken; nothing of it was written.")
    finally:
        work.is_over = True
