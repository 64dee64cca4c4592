"""How bundles keep: reckoned from where they lay, and as it was last reckoned."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any
from uuid import UUID

from sqlalchemy import or_, select
from sqlmodel import Session, col

from service.bundles.rules import MoveKind
from service.bundles.tables import Bundle, StickMove
from service.catalogue.rules import wood_use
from service.catalogue.tables import StorageLimit, Taxon
from service.collection.rules import Wood as WoodKind
from service.collection.rules.dormancy import seen_of
from service.collection.tables import Collection
from service.lib.clock import day_words, local_day, start_of_day
from service.lib.readings import HOUR_SECONDS
from service.members.queries import club
from service.storage.queries.beside import stays_of_all
from service.storage.queries.doses import days_of_stores
from service.storage.queries.hand import fruit_in
from service.storage.queries.learned import ageing_known
from service.storage.rules import Look as LookSeen
from service.storage.rules import Moment, NoSuchBundle, Weighed, judge_look, loss_of, second_of
from service.storage.rules import keeping_words as words
from service.storage.rules.learned import AgeingKnown, explained
from service.storage.rules.words import Buds
from service.storage.schemas import FruitRead, StayRead
from service.storage.schemas.keeping import KeepingInput, KeepingRead, KeepingShare
from service.storage.tables import BagWeighing, BundleCheck, BundleKeeping, Store

if TYPE_CHECKING:
    from service.storage.rules.keeping import BaseDoses, Lay, Looked, Reckoned

MOST_PARENTS = 8


@dataclass(frozen=True)
class _Facts:
    """Everything that is asked of the record for some bundles at once."""

    now: datetime
    zone: str
    rows: Mapping[UUID, Any]
    stays: Mapping[UUID, list[StayRead]]
    checks: Mapping[UUID, list[BundleCheck]]
    weights: Mapping[UUID, list[BagWeighing]]
    changes: Mapping[UUID, list[datetime]]
    fruit: Mapping[UUID, list[FruitRead]]
    kinds: Mapping[UUID, str]
    learned: AgeingKnown

    def line(self, bundle_id: UUID) -> list[tuple[Any, datetime | None]]:
        """A bundle and what it was split from, each with when its wood left it; the bundle itself first."""
        found: list[tuple[Any, datetime | None]] = []
        row: Any = self.rows.get(bundle_id)
        until: datetime | None = None
        while row is not None and len(found) < MOST_PARENTS:
            found.append((row, until))
            until, row = row.made_at, self.rows.get(row.parent_id)
        return found


def hour_of(at: datetime) -> int:
    """The full hour nearest to an instant, counted from the beginning of 1970."""
    return (second_of(at) + HOUR_SECONDS // 2) // HOUR_SECONDS


def reckon(session: Session, bundle_ids: Iterable[UUID], now: datetime) -> dict[UUID, KeepingRead]:
    """How these bundles keep, from their whole way; some twelve statements whatever their number."""
    ids = list(bundle_ids)
    facts = _facts(session, ids, now)
    lays = {one: _lays(facts, one) for one in ids if one in facts.rows}
    stores = _bases(session, facts, lays.values())
    known: dict[Any, Reckoned] = {}
    return {one: _read(facts, one, told, stores, known) for one, told in lays.items()}


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
    kept = col(BundleKeeping.bundle_id).in_(list(bundle_ids))
    rows = session.execute(select(col(BundleKeeping.bundle_id), col(BundleKeeping.told)).where(kept))
    return {row.bundle_id: KeepingRead.model_validate(row.told) for row in rows}


# -- what is asked of the record -------------------------------------------------------------------------------------------


def _facts(session: Session, ids: Sequence[UUID], now: datetime) -> _Facts:
    rows: dict[UUID, Any] = {}
    wanted = set(ids)
    while wanted:
        found = {row.id: row for row in session.execute(_wood().where(col(Bundle.id).in_(list(wanted))))}
        rows |= found
        wanted = {row.parent_id for row in found.values() if row.parent_id} - rows.keys()
    stays = stays_of_all(session, rows) if rows else {}
    store_ids = {one.store_id for each in stays.values() for one in each if one.store_id}
    kinds = session.execute(select(col(Store.id), col(Store.kind)).where(col(Store.id).in_(list(store_ids))))
    weights: dict[UUID, list[BagWeighing]] = {}
    for one in session.execute(
        select(BagWeighing).where(col(BagWeighing.bundle_id).in_(list(rows)), col(BagWeighing.taken_back_at).is_(None))
    ).scalars():  # fmt: skip
        weights.setdefault(one.bundle_id, []).append(one)
    checks: dict[UUID, list[BundleCheck]] = {}
    for look in session.execute(
        select(BundleCheck)
        .where(col(BundleCheck.bundle_id).in_(list(rows)))
        .order_by(col(BundleCheck.seen_at), col(BundleCheck.recorded_at), col(BundleCheck.id))
    ).scalars():
        checks.setdefault(look.bundle_id, []).append(look)
    return _Facts(
        now, club(session).zone, rows, stays, checks, weights, _changes(session, weights), fruit_in(session, store_ids),
        {row.id: row.kind for row in kinds}, ageing_known(session),
    )  # fmt: skip


def _wood() -> Any:
    return (
        select(
            col(Bundle.id), col(Bundle.parent_id), col(Bundle.made_at), col(Bundle.diameter_mm), col(Collection.kind), col(Collection.wood),
            col(Collection.done_at), col(Collection.cut_on), col(Collection.stage), col(Taxon.stage_scale), col(Taxon.species_group),
            col(StorageLimit.keep_weeks_min),
            col(StorageLimit.keep_weeks_max), col(StorageLimit.keep_mark),
        )
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(StorageLimit, col(StorageLimit.species_group) == col(Taxon.species_group))
    )  # fmt: skip


def _changes(session: Session, weighed: Iterable[UUID]) -> dict[UUID, list[datetime]]:
    """When sticks came or went of bundles that were weighed; one statement, none for none."""
    ids, found = list(weighed), dict[UUID, list[datetime]]()
    if ids:
        change = (
            col(StickMove.came_in)
            - col(StickMove.passed_on)
            - col(StickMove.grafted)
            - col(StickMove.discarded)
        )
        for row in session.execute(
            select(col(StickMove.bundle_id), col(StickMove.done_at)).where(
                col(StickMove.bundle_id).in_(ids), col(StickMove.kind) != MoveKind.CORRECTED,
                or_(change != 0, col(StickMove.kind) == MoveKind.CUT_TO_LENGTH),
            )
        ):  # fmt: skip
            found.setdefault(row.bundle_id, []).append(row.done_at)
    return found


# -- where it lay ----------------------------------------------------------------------------------------------------------


def _cut_hour(facts: _Facts, row: Any) -> int:
    if row.kind == "cut" and local_day(row.done_at, facts.zone) == row.cut_on:
        return hour_of(row.done_at)
    noon = hour_of(start_of_day(row.cut_on, facts.zone) + timedelta(hours=12))
    return min(noon, hour_of(row.done_at))  # what came in the morning was cut before


def _lays(facts: _Facts, bundle_id: UUID) -> list[Lay]:
    """From its cutting to now without a gap: in stores, with the fruit in them, and out of them."""
    from service.storage.rules.keeping import Lay

    now, at = hour_of(facts.now), _cut_hour(facts, facts.rows[bundle_id])
    told: list[tuple[int, int, UUID | None]] = []
    for row, left in facts.line(bundle_id):
        for stay in facts.stays.get(row.id, ()):
            ends = [one for one in (stay.until_at, left, facts.now) if one is not None]
            told.append((hour_of(stay.from_at), hour_of(min(ends)), stay.store_id))
    found: list[Lay] = []
    for begin, end, store_id in sorted(told, key=lambda one: (one[0], one[1])):
        first, last = max(begin, at), min(end, now)
        if last <= first or store_id is None:
            continue
        if first > at:
            found.append(Lay(None, at, first))
        found += _beside_fruit(facts, store_id, first, last)
        at = last
    if at < now:
        found.append(Lay(None, at, now))
    # What was put away within the hour lies there all the same, and what was taken out within it does not.
    here = [
        stay.store_id
        for stay in facts.stays.get(bundle_id, ())
        if stay.store_id is not None and (stay.until_at is None or stay.until_at > facts.now)
    ]
    if (here[-1] if here else None) != (found[-1].store_id if found else None):
        found += _beside_fruit(facts, here[-1], now, now) if here else [Lay(None, now, now)]
    return found


def _beside_fruit(facts: _Facts, store_id: UUID, begin: int, end: int) -> list[Lay]:
    from service.science.hazards import Fruit
    from service.storage.rules.keeping import Lay

    spells = [
        (hour_of(start_of_day(one.from_on, facts.zone)),
         end if one.until_on is None else hour_of(start_of_day(one.until_on, facts.zone)), Fruit(one.amount))
        for one in facts.fruit.get(store_id, ())
    ]  # fmt: skip
    edges = sorted({begin, end, *(edge for one in spells for edge in one[:2] if begin < edge < end)})
    order = list(Fruit)
    return [
        Lay(store_id, first, last, max((kind for a, b, kind in spells if a <= first < b), key=order.index, default=Fruit.NONE))
        for first, last in itertools.pairwise(edges if len(edges) > 1 else [begin, end])
    ]  # fmt: skip


def _bases(session: Session, facts: _Facts, lays: Iterable[Sequence[Lay]]) -> dict[UUID, BaseDoses]:
    from service.science.hours import A_WEEK
    from service.science.viability import ASSUMED_C, SPREAD_C
    from service.storage.rules.doses import run_of
    from service.storage.rules.keeping import base_doses

    first: dict[UUID, int] = {}
    for each in lays:
        for lay in each:
            if lay.store_id is not None:
                first[lay.store_id] = min(lay.begin, first.get(lay.store_id, lay.begin))
    if not first:
        return {}
    now = hour_of(facts.now)
    begin = min(now - A_WEEK, *first.values())
    days = days_of_stores(session, first, begin, now)
    kinds = facts.kinds
    runs = {one: run_of(days.get(one, {}), begin, now, ASSUMED_C[kinds[one]]) for one in first}
    return {one: base_doses(run, SPREAD_C[kinds[one]]) for one, run in runs.items()}


def _looked(facts: _Facts, bundle_id: UUID) -> list[Looked]:
    from service.science.dormancy import Seen
    from service.science.looks import Look
    from service.storage.rules.keeping import Looked

    found = _seen_at_cut(facts, facts.rows[bundle_id])
    for row, left in facts.line(bundle_id):
        for one in facts.checks.get(row.id, ()):
            if left is None or one.seen_at <= left:
                seen = Look(
                    Seen(one.buds) if one.buds else None, one.wrinkled, mould=one.mould,
                    green_under_scratch=one.green_under_scratch,
                )  # fmt: skip
                found.append(Looked(hour_of(one.seen_at), seen))
    weighed = _weighed(facts, bundle_id)
    loss = loss_of(weighed, facts.changes.get(bundle_id, ())) if len(weighed) > 1 else None
    if loss is not None and not loss.at_least:
        found.append(
            Looked(hour_of(loss.until_at), Look(lost_pct=max(0.0, loss.lost_pct)), hour_of(loss.from_at))
        )
    return found


def _seen_at_cut(facts: _Facts, row: Any) -> list[Looked]:
    """What the buds were when it was cut, or when it came; none where nobody looked."""
    from service.science.dormancy import Seen
    from service.science.looks import Look
    from service.storage.rules.keeping import Looked

    seen = seen_of(wood_use(row.stage_scale, row.stage) if row.stage else None)
    at = max(_cut_hour(facts, row), hour_of(row.done_at)) if row.kind != "cut" else _cut_hour(facts, row)
    return [] if seen is Seen.NOT_LOOKED else [Looked(at, Look(seen), at_cut=True)]


def _weighed(facts: _Facts, bundle_id: UUID) -> list[Weighed]:
    told = [
        Weighed(one.weighed_at, one.tenths, Moment(one.moment), one.empty_tenths)
        for one in facts.weights.get(bundle_id, ())
    ]
    told += [
        Weighed(one.seen_at, round(one.bag_grams * 10))
        for one in facts.checks.get(bundle_id, ())
        if one.bag_grams
    ]
    return told


# -- what is told of it ------------------------------------------------------------------------------------------------


def _read(
    facts: _Facts, bundle_id: UUID, lays: Sequence[Lay], stores: Mapping[UUID, BaseDoses], known: dict[Any, Reckoned]
) -> KeepingRead:  # fmt: skip
    from service.storage.rules.keeping import LONGEST_OUT_HOURS, Wood, group_of, reckon_one

    row = facts.rows[bundle_id]
    group = group_of(row.species_group)
    if row.wood != WoodKind.DORMANT or group is None:
        return _by_age(facts, row, lays, words.NO_SUMMER if row.wood != WoodKind.DORMANT else words.NO_GROUP)
    wood = Wood(bundle_id, row.species_group, True, _cut_hour(facts, row), row.diameter_mm)
    looked = _looked(facts, bundle_id)
    reckoned = reckon_one(wood, group, lays, looked, stores, known, facts.learned.of(row.species_group))
    found = reckoned.found
    if found.longest_out > LONGEST_OUT_HOURS:
        return _by_age(facts, row, lays, words.NOT_WRITTEN.format(days=found.longest_out // 24))
    if not found.hours.get("measured", 0) + found.hours.get("by_hand", 0):
        return _by_age(facts, row, lays, words.NOT_READ)
    return _reckoned(facts, row, reckoned, lays, looked)


def _by_age(facts: _Facts, row: Any, lays: Sequence[Lay], why: str) -> KeepingRead:
    return KeepingRead(
        **_known(facts, row), store_id=lays[-1].store_id if lays else None, share=None, share_words=why, limits_now="", limits_then="",
        keeps_until=None, keeps_from=None, keeps_to=None, keeps_words=words.A_LOOK_DECIDES, inputs=[],
    )  # fmt: skip


def _known(facts: _Facts, row: Any) -> dict[str, Any]:
    """What stands first of any bundle: how long its kind is usually kept, and the last look."""
    today = local_day(facts.now, facts.zone)
    weeks = None if row.keep_weeks_max is None else (row.keep_weeks_min, row.keep_weeks_max)
    looks = [
        one
        for each, left in facts.line(row.id)
        for one in facts.checks.get(each.id, ())
        if left is None or one.seen_at <= left
    ]
    last = max(looks, key=lambda one: one.seen_at, default=None)
    return {
        "bundle_id": row.id, "as_of": facts.now, "usual_words": words.usual_words(row.cut_on, today, weeks, row.keep_mark or ""),
        "usual_until": None if weeks is None else row.cut_on + timedelta(weeks=weeks[1]),
        "look_words": "Nobody has looked at it yet." if last is None else _look_words(facts, row, last),
    }  # fmt: skip


def _look_words(facts: _Facts, row: Any, last: BundleCheck) -> str:
    buds = Buds(last.buds) if last.buds else None
    seen = LookSeen(buds, last.wrinkled, last.mould, last.green_under_scratch, last.bag_grams)
    found = " ".join(one.words for one in judge_look(seen, dormant=row.wood == WoodKind.DORMANT))
    return f"Looked at on {day_words(local_day(last.seen_at, facts.zone))}: {found}"


def _reckoned(
    facts: _Facts, row: Any, reckoned: Reckoned, lays: Sequence[Lay], looked: Sequence[Looked]
) -> KeepingRead:
    from service.science.hazards import Fruit

    found, now, left = reckoned.found, reckoned.now, reckoned.left
    today = local_day(facts.now, facts.zone)
    ends = [
        None if left is None else _day(facts, each)
        for each in ((left and (left.central, left.low, left.high)) or (None,) * 3)
    ]
    until, early, late = (words.round_day(each, today) for each in ends)
    return KeepingRead(
        **_known(facts, row), **explained(reckoned, facts.learned, row.species_group), store_id=found.here,
        share=KeepingShare(expected=round(now.expected, 4), low=round(min(now.low, now.expected), 4), high=round(now.high, 4)),
        share_words=words.share_words(now.expected, min(now.low, now.expected), now.high),
        limits_now=words.HAZARD_WORDS[now.limiting] if now.limiting else "",
        limits_then=words.HAZARD_WORDS[left.limiting] if left is not None and left.limiting else "",
        keeps_until=until, keeps_from=early, keeps_to=late,
        keeps_words="It lies in no store: put it into one." if left is None else words.keeps_words(until, early, late, today),
        inputs=[
            KeepingInput(what=what, how=how, words=told)
            for what, how, told in words.inputs_told(
                found.hours, row.diameter_mm, weighed=any(one.look.lost_pct is not None for one in looked),
                looks=sum(one.weighed_from is None and not one.at_cut for one in looked),
                at_cut=next((one.look.buds for one in looked if one.at_cut), None), fruit=any(lay.fruit is not Fruit.NONE for lay in lays),
                measured=found.measured != "nominal",
            )
        ],
    )  # fmt: skip


def _day(facts: _Facts, hours: float | None) -> date | None:
    return None if hours is None else local_day(facts.now + timedelta(hours=hours), facts.zone)
