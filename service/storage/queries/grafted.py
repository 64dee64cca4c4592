"""How wood stood at moments of its own, from the record as it stands today: how far it had aged, how it was to keep."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any, TypeVar
from uuid import UUID

from sqlmodel import Session

from service.collection.rules import Wood as WoodKind
from service.storage.queries.keeping import told_of
from service.storage.queries.ways import bases_of, facts_of, lays_of, looked_of, wood_of
from service.storage.schemas.keeping import KeepingRead

if TYPE_CHECKING:
    from service.science.hazards import Doses, Traits

AT_ONCE = 1_000
Wanted = Mapping[UUID, set[datetime]]
Moment = tuple[UUID, datetime]
Told = TypeVar("Told")


@dataclass(frozen=True)
class WoodThen:
    """Wood at a moment. Without doses it is not known how it lay until then, or nothing is reckoned of such wood."""

    group: str
    is_reckoned: bool  # dormant wood of a kind of which something is known
    traits: Traits | None = None
    doses: Doses | None = None


def wood_then(session: Session, wanted: Wanted) -> dict[Moment, WoodThen]:
    """How far bundles had aged at moments of theirs; a dozen statements for each thousand bundles of a year."""
    return _then(session, wanted, _walked)


def keeping_then(session: Session, wanted: Wanted) -> dict[Moment, KeepingRead]:
    """How bundles were to keep at moments of theirs, by what is learned today; as many statements."""
    known: dict[Any, Any] = {}

    def told(facts: Any, bundle_id: UUID, _at: datetime, lays: Any, stores: Any) -> KeepingRead:
        return told_of(facts, bundle_id, lays, stores, known)

    return _then(session, wanted, told)


def _then(session: Session, wanted: Wanted, do: Callable[..., Told]) -> dict[Moment, Told]:
    """Year by year, so that the hours of many winters never lie side by side."""
    found: dict[Moment, Told] = {}
    for year in sorted({at.year for moments in wanted.values() for at in moments}):
        own = {one: {at for at in moments if at.year == year} for one, moments in wanted.items()}
        ids = sorted(one for one, moments in own.items() if moments)
        for part in range(0, len(ids), AT_ONCE):
            found |= _some_then(session, {one: own[one] for one in ids[part : part + AT_ONCE]}, do)
    return found


def _some_then(session: Session, wanted: Wanted, do: Callable[..., Told]) -> dict[Moment, Told]:
    last = max(at for moments in wanted.values() for at in moments)
    facts = facts_of(session, list(wanted), last)
    seen = {
        (one, at): _facts_then(facts, one, at)
        for one, moments in wanted.items()
        for at in moments
        if one in facts.rows
    }
    lays = {key: lays_of(then, key[0]) for key, then in seen.items()}
    stores = bases_of(session, facts, lays.values())
    return {key: do(then, *key, lays[key], stores) for key, then in seen.items()}


def _facts_then(facts: Any, bundle_id: UUID, at: datetime) -> Any:
    """What was seen and weighed of a bundle until then."""
    line = [row.id for row, _ in facts.line(bundle_id)]
    return replace(
        facts,
        now=at,
        checks={one: [each for each in facts.checks.get(one, ()) if each.seen_at <= at] for one in line},
        weights={one: [each for each in facts.weights.get(one, ()) if each.weighed_at <= at] for one in line},
    )


def _walked(facts: Any, bundle_id: UUID, _at: datetime, lays: Any, stores: Any) -> WoodThen:
    from service.storage.rules.keeping import LONGEST_OUT_HOURS, group_of, one_of, walk

    row = facts.rows[bundle_id]
    group, is_dormant = group_of(row.species_group), row.wood == WoodKind.DORMANT
    told = WoodThen(row.species_group, is_dormant and group is not None)
    if group is None or not is_dormant:
        return told
    wood = wood_of(facts, bundle_id)
    found = walk(wood, group, lays, looked_of(facts, bundle_id), stores)
    # What a store is only said to have teaches nothing of how fast wood ages.
    is_known = found.hours.get("measured", 0) + found.hours.get("by_hand", 0) > 0
    if found.longest_out > LONGEST_OUT_HOURS or not is_known:
        return told
    return replace(told, traits=found.traits, doses=one_of(found.doses))
