"""How bundles keep: reckoned from where they lay, and as it was last reckoned."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING, Any
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.collection.rules import Wood as WoodKind
from service.lib.clock import day_words, local_day
from service.lib.given import these
from service.lib.readings import HOUR_SECONDS
from service.storage.queries.ways import Facts, bases_of, facts_of, lays_of, looked_of, wood_of
from service.storage.rules import Call, Finding, NoSuchBundle, judge_look, worst_of
from service.storage.rules import Look as LookSeen
from service.storage.rules import keeping_words as words
from service.storage.rules.learned import explained
from service.storage.rules.words import Buds
from service.storage.schemas.keeping import KeepingCurve, KeepingInput, KeepingRead, KeepingShare
from service.storage.tables import BundleCheck, BundleKeeping

if TYPE_CHECKING:
    from service.storage.rules.keeping import Lay, Looked, Walked
    from service.storage.rules.reckoning import Reckoned
    from service.storage.rules.store_sums import BaseDoses
    from service.storage.rules.stretches import Asked


def reckon(session: Session, bundle_ids: Iterable[UUID], now: datetime) -> dict[UUID, KeepingRead]:
    """How these bundles keep, from their whole way; some twelve statements whatever their number."""
    from service.storage.rules.reckoning_many import reckon_many

    ids = list(bundle_ids)
    facts = facts_of(session, ids, now)
    lays = {one: lays_of(facts, one) for one in ids if one in facts.rows}
    stores = bases_of(session, facts, lays.values())
    asked = {one: told for one, way in lays.items() if (told := _asked(facts, one, way)) is not None}
    reckoned = dict(zip(asked, reckon_many(list(asked.values()), stores, facts.learned.of), strict=True))
    return {
        one: _told(facts, one, asked[one], reckoned[one]) if one in asked else _not_reckoned(facts, one, way)
        for one, way in lays.items()
    }


def keeping_of(session: Session, bundle_id: UUID, now: datetime) -> KeepingRead:
    """How one bundle keeps, reckoned now; some twelve statements. Raises `NoSuchBundle`."""
    found = reckon(session, [bundle_id], now).get(bundle_id)
    if found is None:
        raise NoSuchBundle("There is no bundle under this id.")
    return found


def kept_keeping(session: Session, bundle_id: UUID) -> KeepingRead | None:
    """As it was last reckoned; one statement."""
    told = session.execute(
        select(col(BundleKeeping.told)).where(col(BundleKeeping.bundle_id) == bundle_id)
    ).scalar()
    return None if told is None else KeepingRead.model_validate(told)


def keeping_of_all(session: Session, bundle_ids: Iterable[UUID]) -> dict[UUID, KeepingRead]:
    """Of these as they were last reckoned; one statement."""
    kept = col(BundleKeeping.bundle_id).in_(these(session, bundle_ids))
    rows = session.execute(select(col(BundleKeeping.bundle_id), col(BundleKeeping.told)).where(kept))
    return {row.bundle_id: KeepingRead.model_validate(row.told) for row in rows}


# -- what is told of it ------------------------------------------------------------------------------------------------


def told_of(
    facts: Facts, bundle_id: UUID, lays: Sequence[Lay], stores: Mapping[UUID, BaseDoses], known: dict[Any, Reckoned]
) -> KeepingRead:  # fmt: skip
    from service.storage.rules.reckoning import reckon_one

    asked = _asked(facts, bundle_id, lays)
    if asked is None:
        return _not_reckoned(facts, bundle_id, lays)
    learned = facts.learned.of(asked.wood.group)
    reckoned = reckon_one(asked.wood, asked.group, lays, asked.looked, stores, known, learned)
    return _told(facts, bundle_id, asked, reckoned)


def _asked(facts: Facts, bundle_id: UUID, lays: Sequence[Lay]) -> Asked | None:
    """None: of such wood nothing is reckoned."""
    from service.storage.rules.keeping import group_of
    from service.storage.rules.stretches import Asked

    row = facts.rows[bundle_id]
    group = group_of(row.species_group)
    if row.wood != WoodKind.DORMANT or group is None:
        return None
    return Asked(wood_of(facts, bundle_id), group, lays, looked_of(facts, bundle_id))


def _not_reckoned(facts: Facts, bundle_id: UUID, lays: Sequence[Lay]) -> KeepingRead:
    row = facts.rows[bundle_id]
    return _by_age(facts, row, lays, words.NO_SUMMER if row.wood != WoodKind.DORMANT else words.NO_GROUP)


def _told(facts: Facts, bundle_id: UUID, asked: Asked, reckoned: Reckoned) -> KeepingRead:
    from service.storage.rules.keeping import LONGEST_OUT_HOURS

    row, found, lays = facts.rows[bundle_id], reckoned.found, asked.lays
    if found.longest_out > LONGEST_OUT_HOURS:
        return _by_age(facts, row, lays, words.NOT_WRITTEN.format(days=found.longest_out // 24))
    if not any(found.hours.get(name, 0) for name in ("measured", "by_hand", "nominal")):
        return _by_age(facts, row, lays, words.NOT_READ)
    return _reckoned(facts, row, reckoned, lays, asked.looked)


def _by_age(facts: Facts, row: Any, lays: Sequence[Lay], why: str) -> KeepingRead:
    return KeepingRead(
        **_known(facts, row), store_id=lays[-1].store_id if lays else None, share=None, share_words=why, limits_now="", limits_then="",
        keeps_until=None, keeps_from=None, keeps_to=None, keeps_words=words.A_LOOK_DECIDES, inputs=[],
    )  # fmt: skip


def _known(facts: Facts, row: Any) -> dict[str, Any]:
    """What stands first of any bundle: how long its kind is usually kept, and the last look."""
    today = local_day(facts.now, facts.zone)
    weeks = None if row.keep_weeks_max is None else (row.keep_weeks_min, row.keep_weeks_max)
    looks = [
        one
        for each, left in facts.line(row.id)
        for one in facts.checks.get(each.id, ())
        if left is None or one.seen_at <= left
    ]
    last = max(looks, key=lambda one: (one.seen_at, one.recorded_at, one.id), default=None)
    return {
        "bundle_id": row.id, "as_of": facts.now, "usual_words": words.usual_words(row.cut_on, today, weeks, row.keep_mark or ""),
        "cut_on": row.cut_on, "usual_weeks": weeks, "usual_mark": row.keep_mark or "",
        "usual_until": None if weeks is None else row.cut_on + timedelta(weeks=weeks[1]),
        **_last_look(facts, row, last),
    }  # fmt: skip


def _last_look(facts: Facts, row: Any, last: BundleCheck | None) -> dict[str, Any]:
    """What the last look said, and what of it asks for something, as long as no later look stands."""
    if last is None:
        return {"look_words": "Nobody has looked at it yet."}
    findings, told = _findings(row, last), {"look_words": look_words(facts, row, last)}
    worst = worst_of(one.call for one in findings)
    if worst is Call.FINE:
        return told
    found = " ".join(one.words for one in findings if one.call is worst)
    return {
        **told,
        "found_on": local_day(last.seen_at, facts.zone),
        "found": worst.value,
        "found_words": found,
        "found_rank": min(one.rank for one in findings),
    }


def _findings(row: Any, look: BundleCheck) -> list[Finding]:
    buds = Buds(look.buds) if look.buds else None
    seen = LookSeen(buds, look.wrinkled, look.mould, look.green_under_scratch, look.bag_grams)
    return judge_look(seen, dormant=row.wood == WoodKind.DORMANT)


def look_words(facts: Facts, row: Any, look: BundleCheck) -> str:
    found = " ".join(one.words for one in _findings(row, look))
    return f"Looked at on {day_words(local_day(look.seen_at, facts.zone))}: {found}"


def _reckoned(
    facts: Facts, row: Any, reckoned: Reckoned, lays: Sequence[Lay], looked: Sequence[Looked]
) -> KeepingRead:
    """What stands first is each bundle's own; the rest is told once of all that lay and were seen alike."""
    key = id(reckoned), facts.now
    if key not in facts.alike:
        facts.alike[key] = reckoned, _told_alike(facts, row, reckoned, lays, looked)
    return KeepingRead(**_known(facts, row), **facts.alike[key][1])


def _told_alike(
    facts: Facts, row: Any, reckoned: Reckoned, lays: Sequence[Lay], looked: Sequence[Looked]
) -> dict[str, Any]:
    from service.science.hazards import Fruit
    from service.storage.rules.remembered import remembered_words

    found, now, left = reckoned.found, reckoned.now, reckoned.left
    today = local_day(facts.now, facts.zone)
    ends = [
        None if left is None else _day(facts, each)
        for each in ((left and (left.central, left.low, left.high)) or (None,) * 3)
    ]
    until, early, late = (words.round_day(each, today) for each in ends)
    told = words.inputs_told(
        found.hours, row.diameter_mm, weighed=any(one.look.lost_pct is not None for one in looked),
        looks=sum(one.weighed_from is None and not one.at_cut for one in looked),
        at_cut=next((one.look.buds for one in looked if one.at_cut), None), fruit=any(lay.fruit is not Fruit.NONE for lay in lays),
        chill=_chill(facts, row.id, found),
        frost=remembered_words(found.frosts), by_packs=found.lies_by_packs,
        packed=[(lay.end - lay.begin, lay.packed) for lay in lays],
    )  # fmt: skip
    return {
        **explained(reckoned, facts.learned, row.species_group), "store_id": found.here,
        "share": KeepingShare(expected=round(now.expected, 4), low=round(min(now.low, now.expected), 4), high=round(now.high, 4)),
        "share_words": words.share_words(now.expected, min(now.low, now.expected), now.high),
        "limits_now": words.HAZARD_WORDS[now.limiting] if now.limiting else "",
        "limits_then": words.HAZARD_WORDS[left.limiting] if left is not None and left.limiting else "",
        "keeps_until": until, "keeps_from": early, "keeps_to": late,
        "keeps_words": "It lies in no store: put it into one." if left is None else words.keeps_words(until, early, late, today),
        "curve": _curve(reckoned), "inputs": [_input(*each) for each in told],
    }  # fmt: skip


def _chill(facts: Facts, bundle_id: UUID, found: Walked) -> words.Chill | None:
    rest = facts.rests.get(bundle_id)
    if rest is None:
        return None
    return words.Chill(rest.portions_cp, float(found.doses.chill.portions[0]), rest.need_cp, rest.spread)


def _curve(reckoned: Reckoned) -> KeepingCurve | None:
    curve = reckoned.curve
    if curve is None:
        return None
    at = datetime.fromtimestamp(curve.begin * HOUR_SECONDS, UTC)
    return KeepingCurve(
        begins_at=at, past=curve.past, expected=curve.expected, low=curve.low, high=curve.high
    )


@lru_cache(maxsize=1_024)
def _input(what: str, how: str, told: str) -> KeepingInput:
    """Remembered: of most bundles the same is known in the same way."""
    return KeepingInput(what=what, how=how, words=told)


def _day(facts: Facts, hours: float | None) -> date | None:
    return None if hours is None else _day_after(facts.now, hours, facts.zone)


@lru_cache(maxsize=4_096)
def _day_after(now: datetime, hours: float, zone: str) -> date:
    """Remembered: many bundles keep as long to the hour, and days in a zone are slow to tell."""
    return local_day(now + timedelta(hours=hours), zone)
