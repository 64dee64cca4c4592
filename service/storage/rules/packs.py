"""Whose pack a logger lies in: it is told to be inside a pack, and of which bundle follows only where no other lay with it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from uuid import UUID

from service.storage.rules.stays import Span, Spell

_NEVER = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True)
class InPack:
    """A logger inside a pack, in a box; without one, somewhere in a store."""

    logger_id: UUID
    box_id: UUID | None
    store_id: UUID | None
    span: Span

    def is_with(self, spell: Spell) -> bool:
        if self.box_id is not None:
            return spell.box_id == self.box_id
        return self.store_id is not None and spell.store_id == self.store_id


@dataclass(frozen=True)
class OwnPack:
    """A time in which a logger lay in the pack of one bundle."""

    logger_id: UUID
    span: Span


@dataclass(frozen=True)
class Packs:
    """The loggers inside packs, and of whom it is known that one lay in theirs."""

    loggers: tuple[InPack, ...] = ()
    own: Mapping[UUID, list[OwnPack]] = field(default_factory=dict)

    def are_in(self, store_id: UUID, span: Span) -> bool:
        return any(one.store_id == store_id and one.span.overlap(span) is not None for one in self.loggers)


def own_packs(loggers: Iterable[InPack], spells: Iterable[Spell]) -> dict[UUID, list[OwnPack]]:
    """Of each bundle the times in which it was the only one with a logger. `spells`: of all that lay in those boxes and stores."""
    found: dict[UUID, list[OwnPack]] = {}
    lying = list(spells)
    for logger in loggers:
        events: list[tuple[datetime, int, UUID]] = []
        for spell in lying:
            span = spell.span.overlap(logger.span) if logger.is_with(spell) else None
            if span is not None and span.from_at is not None:
                events += [(span.from_at, 1, spell.bundle_id), (span.until_at or _NEVER, -1, spell.bundle_id)]
        for bundle_id, span in _alone(events):
            found.setdefault(bundle_id, []).append(OwnPack(logger.logger_id, span))
    return found


def _alone(events: list[tuple[datetime, int, UUID]]) -> list[tuple[UUID, Span]]:
    found: list[tuple[UUID, Span]] = []
    there: Counter[UUID] = Counter()
    told = sorted(events, key=lambda one: (one[0], one[1], one[2].int))
    for place, (at, change, bundle_id) in enumerate(told):
        there[bundle_id] += change
        if not there[bundle_id]:
            del there[bundle_id]
        ends = told[place + 1][0] if place + 1 < len(told) else at
        if len(there) == 1 and ends > at:
            found.append((next(iter(there)), Span(at, None if ends == _NEVER else ends)))
    return found
