"""Where a story stands: its clock, its people, and what its keys stand for."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, TypeVar
from uuid import UUID, uuid5

from service.lib.clock import FixedClock, StartedClock
from service.lib.write import Writer
from service.members.signin import Asker

T = TypeVar("T")
OWN_KEYS = UUID("b7b0f2c4-5d0e-5a53-8f63-0f3f8d7a2c11")


class StoryClock(FixedClock):
    """Stands at each moment of the story while it is told; once told, runs on from there like any clock."""

    def __init__(self, at: datetime) -> None:
        super().__init__(at)
        self._running: StartedClock | None = None

    def now(self) -> datetime:
        return self._running.now() if self._running else self.at

    def run_on_from(self, at: datetime) -> None:
        self._running = StartedClock(at)


@dataclass
class Story:
    """What was told so far. Every key of the files has an id of its own, the same in every telling."""

    writer: Writer
    clock: FixedClock
    zone: str = "UTC"
    askers: dict[str, Asker] = field(default_factory=dict)
    parties: dict[str, UUID] = field(default_factory=dict)
    ids: dict[tuple[str, str], UUID] = field(default_factory=dict)
    codes: dict[str, str] = field(default_factory=dict)  # of bundles, trees and plants, by key
    parts: dict[str, int] = field(default_factory=dict)  # of a cut, a receipt or a graft: how many
    printed: set[str] = field(default_factory=set)  # keys of what has its label

    def new(self, kind: str, key: str) -> UUID:
        """The id of something that begins here."""
        if (kind, key) in self.ids:
            raise ValueError(f"there are two of the {kind} '{key}'")
        self.ids[kind, key] = uuid5(OWN_KEYS, f"{kind}:{key}")
        return self.ids[kind, key]

    def the(self, kind: str, key: str) -> UUID:
        """The id of something that was told before."""
        try:
            return self.ids[kind, key]
        except KeyError:
            raise ValueError(f"no {kind} '{key}' was told before") from None

    def party(self, key: str) -> UUID:
        if key not in self.parties:
            raise ValueError(f"nobody goes by '{key}'")
        return self.parties[key]

    def bundles(self, words: str) -> list[UUID]:
        """Bundles by their keys; `cut.*` stands for all of a cut."""
        found: list[UUID] = []
        for word in words.split():
            cut, _, part = word.rpartition(".")
            keys: Iterable[str] = (
                [word] if part != "*" else (f"{cut}.{n + 1}" for n in range(self.parts[cut]))
            )
            found += [self.the("bundle", key) for key in keys]
        return found

    def asker(self, by: str, on_behalf_of: str = "") -> Asker:
        if by not in self.askers:
            raise ValueError(f"'{by}' cannot sign in")
        asker = self.askers[by]
        return replace(asker, acting_for_id=self.party(on_behalf_of)) if on_behalf_of else asker

    def do(self, action: Callable[..., T], asker: Asker | None, *args: Any) -> T:
        """Do it at the moment where the clock stands."""
        return self.writer.write_now(action, asker, *args)
