"""From when until when things lie somewhere, and what lay beside what."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from service.storage.rules.words import NEARER_FIRST, Closeness


@dataclass(frozen=True)
class Spot:
    """In a box, or on a place of a store; neither means taken out."""

    box_id: UUID | None = None
    place_id: UUID | None = None

    @property
    def is_out(self) -> bool:
        return self.box_id is None and self.place_id is None


@dataclass(frozen=True)
class Act:
    """One act of putting a thing (a bundle or a box) somewhere, at the person's time."""

    thing_id: UUID
    spot: Spot
    done_at: datetime
    seq: int


@dataclass(frozen=True)
class Span:
    """From an instant on until, but not including, another; None is open to that side."""

    from_at: datetime | None = None
    until_at: datetime | None = None

    def overlap(self, other: Span) -> Span | None:
        from_at = max((at for at in (self.from_at, other.from_at) if at), default=None)
        until_at = min((at for at in (self.until_at, other.until_at) if at), default=None)
        if from_at and until_at and from_at >= until_at:
            return None
        return Span(from_at, until_at)

    def covers(self, at: datetime) -> bool:
        return (self.from_at is None or self.from_at <= at) and (self.until_at is None or at < self.until_at)


EVER = Span()


@dataclass(frozen=True)
class PlannedStay:
    thing_id: UUID
    spot: Spot
    span: Span


def plan_stays(acts: Iterable[Act]) -> list[PlannedStay]:
    """The stays that follow from all acts on some things, in the order of the person's time, then of recording.

    An act recorded late takes its own place in that order. Of acts at the same instant the last recorded counts.
    Being put again where it already lies changes nothing.
    """
    by_thing: dict[UUID, dict[datetime, Act]] = {}
    for act in sorted(acts, key=lambda act: (act.done_at, act.seq)):
        by_thing.setdefault(act.thing_id, {})[act.done_at] = act
    return [
        stay for thing_id, by_time in by_thing.items() for stay in _stays_of(thing_id, list(by_time.values()))
    ]


def _stays_of(thing_id: UUID, acts: Sequence[Act]) -> list[PlannedStay]:
    changes = [
        act
        for before, act in zip([None, *acts], acts, strict=False)
        if before is None or before.spot != act.spot
    ]
    ends = [*(act.done_at for act in changes[1:]), None]
    return [
        PlannedStay(thing_id, act.spot, Span(act.done_at, end))
        for act, end in zip(changes, ends, strict=True)
        if not act.spot.is_out
    ]


@dataclass(frozen=True)
class BundleStay:
    """A bundle in a box, or on a place of a store."""

    bundle_id: UUID
    box_id: UUID | None
    place_id: UUID | None
    store_id: UUID | None
    span: Span


@dataclass(frozen=True)
class BoxStay:
    """A box on a place of a store."""

    box_id: UUID
    place_id: UUID
    store_id: UUID
    span: Span


@dataclass(frozen=True)
class Spell:
    """A time during which a bundle lay in one box and on one place, either of which may be unknown."""

    bundle_id: UUID
    box_id: UUID | None
    place_id: UUID | None
    store_id: UUID | None
    span: Span


@dataclass(frozen=True)
class Beside:
    """Another bundle that lay near, how near, and from when until when."""

    bundle_id: UUID
    other_id: UUID
    closeness: Closeness
    span: Span


def plan_spells(
    stays: Iterable[BundleStay], box_stays: Iterable[BoxStay], window: Span = EVER
) -> list[Spell]:
    """Where bundles lay through time: a stay in a box is cut where the box itself was moved."""
    by_box: dict[UUID, list[BoxStay]] = {}
    for box_stay in sorted(box_stays, key=lambda stay: _start(stay.span)):
        by_box.setdefault(box_stay.box_id, []).append(box_stay)
    spells: list[Spell] = []
    for stay in stays:
        span = stay.span.overlap(window)
        if span is None:
            continue
        if stay.box_id is None:
            spells.append(Spell(stay.bundle_id, None, stay.place_id, stay.store_id, span))
        else:
            spells += _in_box(stay.bundle_id, stay.box_id, by_box.get(stay.box_id, ()), span)
    return sorted(spells, key=lambda spell: _start(spell.span))


def _in_box(bundle_id: UUID, box_id: UUID, box_stays: Sequence[BoxStay], span: Span) -> list[Spell]:
    spells: list[Spell] = []
    rest: Span | None = span
    for box_stay in box_stays:
        placed = rest.overlap(box_stay.span) if rest else None
        if rest is None or placed is None:
            continue
        if placed.from_at != rest.from_at:
            spells.append(Spell(bundle_id, box_id, None, None, Span(rest.from_at, placed.from_at)))
        spells.append(Spell(bundle_id, box_id, box_stay.place_id, box_stay.store_id, placed))
        rest = None if placed.until_at == rest.until_at else Span(placed.until_at, rest.until_at)
    if rest is not None:
        spells.append(Spell(bundle_id, box_id, None, None, rest))
    return spells


def plan_beside(
    spells: Iterable[Spell], others: Iterable[Spell], at_least: Closeness = Closeness.STORE
) -> list[Beside]:
    """Which of the others lay near each bundle, and when; times that touch are told as one."""
    wanted = set(NEARER_FIRST[: NEARER_FIRST.index(at_least) + 1])
    by_box: dict[UUID, list[Spell]] = {}
    by_store: dict[UUID, list[Spell]] = {}
    for other in others:
        if other.box_id is not None:
            by_box.setdefault(other.box_id, []).append(other)
        if other.store_id is not None:
            by_store.setdefault(other.store_id, []).append(other)
    found: dict[tuple[UUID, UUID, Closeness], list[Span]] = {}
    for spell in spells:
        near = {id(o): o for o in by_box.get(spell.box_id, ())} if spell.box_id else {}
        if spell.store_id and at_least is not Closeness.BOX:
            near.update((id(o), o) for o in by_store.get(spell.store_id, ()))
        for other in near.values():
            closeness = _closeness(spell, other)
            span = spell.span.overlap(other.span)
            if other.bundle_id != spell.bundle_id and span is not None and closeness in wanted:
                found.setdefault((spell.bundle_id, other.bundle_id, closeness), []).append(span)
    beside = [Beside(*key, span) for key, spans in found.items() for span in merge_spans(spans)]
    return sorted(beside, key=lambda b: (NEARER_FIRST.index(b.closeness), _start(b.span), b.other_id.int))


def _closeness(spell: Spell, other: Spell) -> Closeness | None:
    if spell.box_id is not None and spell.box_id == other.box_id:
        return Closeness.BOX
    if spell.place_id is not None and spell.place_id == other.place_id:
        return Closeness.PLACE
    return Closeness.STORE if spell.store_id is not None and spell.store_id == other.store_id else None


def merge_spans(spans: Iterable[Span]) -> list[Span]:
    """The same time told in as few spans as can be."""
    merged: list[Span] = []
    for span in sorted(spans, key=_start):
        last = merged[-1] if merged else None
        if last is not None and (
            last.until_at is None or span.from_at is None or span.from_at <= last.until_at
        ):
            until_at = (
                None if last.until_at is None or span.until_at is None else max(last.until_at, span.until_at)
            )
            merged[-1] = Span(last.from_at, until_at)
        else:
            merged.append(span)
    return merged


def _start(span: Span) -> float:
    return span.from_at.timestamp() if span.from_at else float("-inf")
