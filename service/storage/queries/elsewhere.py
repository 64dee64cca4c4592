"""A bundle in each of the club's stores: how long it would keep there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.lib.clock import local_day
from service.lib.counted import several
from service.lib.temperatures import signed
from service.storage.queries.doses import days_of_stores
from service.storage.queries.hand import dials_at, dials_between, fruit_now
from service.storage.queries.keeping import told_of
from service.storage.queries.nominal import nominal_in
from service.storage.queries.way import way_of
from service.storage.queries.ways import Facts, bases_of, facts_of, hour_of, lays_of, wood_of
from service.storage.rules import NoSuchBundle, Span
from service.storage.rules import elsewhere_words as said
from service.storage.rules import keeping_words as words
from service.storage.schemas import FruitRead
from service.storage.schemas.keeping import ElsewhereRead, GainedRead, KeepingInput, WhatIfRead
from service.storage.tables import Store

if TYPE_CHECKING:
    from service.storage.rules.elsewhere import Elsewhere, LastWeek
    from service.storage.rules.reckoning import Reckoned
    from service.storage.rules.store_sums import BaseDoses


def what_if(session: Session, bundle_id: UUID, now: datetime) -> WhatIfRead:
    """How long a bundle would keep in every open store, reckoned now; some fifteen statements. Raises `NoSuchBundle`."""
    facts = facts_of(session, [bundle_id], now)
    if bundle_id not in facts.rows:
        raise NoSuchBundle("There is no bundle under this id.")
    lays, known = lays_of(facts, bundle_id), dict[Any, Any]()
    told = told_of(facts, bundle_id, lays, bases_of(session, facts, [lays]), known)
    nothing = WhatIfRead(
        bundle_id=bundle_id,
        as_of=now,
        words=told.share_words,
        best_id=None,
        stores=[],
        keeping=told,
        way=way_of(session, facts, bundle_id, lays),
    )
    if told.share is None:
        return nothing
    (reckoned,) = known.values()
    found = _in_stores(session, facts, bundle_id, reckoned)
    if facts.rows[bundle_id].open_stops:
        return nothing.model_copy(update={"words": said.STOPPED, "stores": found})
    best, here = _best(found), next((one for one in found if one.is_here), None)
    first = said.answer_words(
        best, lies=here is not None, must_go=here is not None and bool(here.not_proposed), others=len(found) - (here is not None),
    )  # fmt: skip
    return nothing.model_copy(
        update={"words": first, "best_id": best.store_id if best else None, "stores": found}
    )


def _in_stores(session: Session, facts: Facts, bundle_id: UUID, reckoned: Reckoned) -> list[ElsewhereRead]:
    """Every open store, and the one where it lies; the longest first, what is not proposed last. Three statements."""
    here = reckoned.found.here
    stores = session.execute(
        select(col(Store.id), col(Store.name), col(Store.kind))
        .where(col(Store.closed_at).is_(None) | (col(Store.id) == here))
        .order_by(col(Store.name))
    ).all()
    fruit = fruit_now(session, [store.id for store in stores], local_day(facts.now, facts.zone))
    bases = _last_weeks(session, {store.id: store.kind for store in stores}, hour_of(facts.now))
    there = _reckoned_there(facts, bundle_id, reckoned, bases, fruit)
    read = [_store_read(facts, bundle_id, store, there, bases[store.id], fruit, here) for store in stores]
    hours = {one: each.left.central for one, each in there.items()}
    return sorted(
        read, key=lambda each: (bool(each.not_proposed), -_long(hours[each.store_id]), each.store_name)
    )


def _reckoned_there(
    facts: Facts, bundle_id: UUID, reckoned: Reckoned, bases: Mapping[UUID, BaseDoses], fruit: Mapping[UUID, FruitRead]
) -> dict[UUID, Elsewhere]:  # fmt: skip
    from service.science.hazards import Fruit
    from service.storage.rules.elsewhere import elsewhere
    from service.storage.rules.keeping import group_of

    row = facts.rows[bundle_id]
    group = group_of(row.species_group)
    assert group is not None  # told with a share
    wood = wood_of(facts, bundle_id)
    beside = {one: Fruit(fruit[one].amount) if one in fruit else Fruit.NONE for one in bases}
    learned = facts.learned.of(row.species_group)
    return {
        one: elsewhere(reckoned.found, wood, group, base, beside[one], learned) for one, base in bases.items()
    }


def _store_read(
    facts: Facts, bundle_id: UUID, store: Any, there: Mapping[UUID, Elsewhere], base: BaseDoses, fruit: Mapping[UUID, FruitRead],
    here: UUID | None,
) -> ElsewhereRead:  # fmt: skip
    from service.storage.rules.costs import plain
    from service.storage.rules.elsewhere import gained, why_not_there

    row, one = facts.rows[bundle_id], there[store.id]
    more = gained(there[here].left, one.left) if here is not None and store.id != here else None
    return ElsewhereRead(
        store_id=store.id, store_name=store.name, kind=store.kind, is_here=store.id == here, **_until(facts, one),
        gained=GainedRead(**asdict(more)) if more else None, gained_words=said.gained_words(more), **_week(one.week),
        inputs=_inputs(one.week, fruit.get(store.id)),
        not_proposed=why_not_there(base, store.kind, row.store_temp_min_c, plain(row.species_group)),
    )  # fmt: skip


def _long(hours: float | None) -> float:
    return float("inf") if hours is None else hours


def _last_weeks(session: Session, kinds: Mapping[UUID, str], now: int) -> dict[UUID, BaseDoses]:
    """The last week of stores as wood ages by it, with what their thermometers kept in mind; three statements."""
    from service.science.hours import A_WEEK
    from service.science.viability import ASSUMED_C, SPREAD_C
    from service.storage.rules.doses import run_of
    from service.storage.rules.remembered import remembered_frosts
    from service.storage.rules.store_sums import base_doses

    days, said_of = days_of_stores(session, kinds, now - A_WEEK, now), nominal_in(session, kinds)
    dials = dials_between(session, kinds, Span())
    return {
        one: replace(
            base_doses(
                run_of(days.get(one, {}), now - A_WEEK, now, ASSUMED_C[kind], said_of.get(one, ())),
                SPREAD_C[kind],
            ),
            frosts=remembered_frosts(dials_at(dials.get(one, ()))),
        )
        for one, kind in kinds.items()
    }


def _until(facts: Facts, one: Elsewhere) -> dict[str, Any]:
    today = local_day(facts.now, facts.zone)
    days = [
        None
        if each is None
        else words.round_day(local_day(facts.now + timedelta(hours=each), facts.zone), today)
        for each in (one.left.central, one.left.low, one.left.high)
    ]
    return {
        "keeps_until": days[0], "keeps_from": days[1], "keeps_to": days[2],
        "until_words": said.until_words(days[0], days[1], days[2], today),
        "limits_then": words.HAZARD_WORDS[one.left.limiting] if one.left.limiting else "",
    }  # fmt: skip


def _week(week: LastWeek) -> dict[str, float]:
    return {"mean_c": round(week.mean_c, 1), "low_c": round(week.low_c, 1), "high_c": round(week.high_c, 1)}


def _inputs(week: LastWeek, fruit: FruitRead | None) -> list[KeepingInput]:
    counted = ", ".join(f"{several(count, 'hour')} {name}" for name, count in week.hours.items() if count)
    frost = ", ".join(f"down to {signed(lowest)} °C" for _, lowest in week.frosts)
    damp = ("measured", several(week.damp, "hour")) if week.damp else ("assumed", "80 %")
    beside = ("by hand", f"{fruit.amount} fruit") if fruit else ("not known", "none was told of")
    return [
        KeepingInput(what="temperature", how=week.how, words=counted),
        *([KeepingInput(what="remembered frost", how="by hand", words=frost)] if frost else []),
        KeepingInput(what="humidity", how=damp[0], words=damp[1]),
        KeepingInput(what="fruit", how=beside[0], words=beside[1]),
    ]


def _best(found: Sequence[ElsewhereRead]) -> ElsewhereRead | None:
    """Where it keeps longest, surely longer than where it lies, and only by what was measured or read there.

    From where it must not stay, or lies in no store, it goes to the best there is.
    """
    here = next((one for one in found if one.is_here), None)
    must = here is None or bool(here.not_proposed)
    for one in found:
        if one.is_here or one.not_proposed or one.inputs[0].how in ("assumed", "nominal"):
            continue
        if must or (one.gained is not None and one.gained.days > 0 and one.gained.low >= 0):
            return one
    return None
