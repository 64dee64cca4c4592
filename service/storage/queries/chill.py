"""How much chill wood had at its tree when it was cut, out of its site's air."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import TYPE_CHECKING, Any
from uuid import UUID

from sqlmodel import Session

from service.collection.rules.dormancy import Need, need_of
from service.science.air_records import is_enough, is_stale
from service.science.dormancy import AirFacts, is_unmet
from service.science.seasons import days_after_midwinter, winter_begins
from service.trees.queries.air import air_days_of_sites
from service.trees.rules.air_hours import DayOfAir, hours_by_day

if TYPE_CHECKING:
    from service.storage.rules.resting import Rest

Days = Mapping[date, DayOfAir]


def rests_of(session: Session, rows: Iterable[Any]) -> dict[UUID, Rest]:
    """Of bundles cut at a tree whose air says enough; one statement. Of others nobody knows, and rest is taken as over.

    `rows`: with `id`, `cut_on`, `species_group`, `epithet`, `site_id` and `latitude`.
    """
    asked: dict[tuple[UUID, float], dict[tuple[date, date], list[tuple[UUID, Need]]]] = {}
    for row in rows:
        need = need_of(row.species_group, row.epithet or "")
        if need is None or not need.rests or row.site_id is None or row.latitude is None:
            continue
        begins = winter_begins(row.latitude, row.cut_on)
        if begins is not None:
            spans = asked.setdefault((row.site_id, row.latitude), {})
            spans.setdefault((begins, row.cut_on), []).append((row.id, need))
    if not asked:
        return {}
    ends = [span for spans in asked.values() for span in spans]
    sites = {site_id for site_id, _ in asked}
    days = air_days_of_sites(session, sites, min(begins for begins, _ in ends), max(end for _, end in ends))
    found: dict[UUID, Rest] = {}
    for (site_id, latitude), spans in asked.items():
        found |= _at_site(days.get(site_id, {}), latitude, spans)
    return found


def _at_site(
    days: Days, latitude: float, spans: Mapping[tuple[date, date], list[tuple[UUID, Need]]]
) -> dict[UUID, Rest]:
    from service.science.winters import Span, chill_at_ends
    from service.storage.rules.resting import Rest

    measured, hours = {day: one[:2] for day, one in days.items()}, hours_by_day(days)
    told = [(key, Span(*key, measured, hours)) for key in sorted(spans)]
    told = [(key, span) for key, span in told if _says_enough(days, *key)]
    if not told:
        return {}
    after, unknown = chill_at_ends([span for _, span in told], latitude)
    found = {}
    for place, ((begins, cut_on), _) in enumerate(told):
        # What nobody measured may have been as cold as chills quickest: the cautious side, since rest then ends sooner.
        most = AirFacts(float(after.portions[place]), 0.0, float(unknown[place])).at_most_cp
        late = days_after_midwinter(latitude, cut_on)
        for bundle_id, need in spans[begins, cut_on]:
            air = AirFacts(most, 0.0, float(unknown[place]), 0.0)
            if not is_unmet(air, need.portions_cp, late):
                found[bundle_id] = Rest(need.portions_cp, most, float(after.precursor[place]), need.spread)
    return found


def _says_enough(days: Days, begins: date, cut_on: date) -> bool:
    measured = [day for day in days if begins <= day <= cut_on]
    asked = (cut_on - begins).days + 1
    return bool(measured) and is_enough(len(measured), asked) and not is_stale(max(measured), cut_on)
