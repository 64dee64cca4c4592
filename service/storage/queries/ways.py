"""The ways of bundles as the record has them: where they lay, hour by hour, what was seen of them, what they lay beside."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING, Any
from uuid import UUID

from sqlalchemy import or_, select
from sqlmodel import Session, col

from service.bundles.rules import MoveKind
from service.bundles.tables import Bundle, StickMove
from service.catalogue.rules import wood_use
from service.catalogue.tables import Cultivar, StorageLimit, Taxon
from service.collection.rules.dormancy import seen_of
from service.collection.tables import Collection
from service.lib.clock import local_day, start_of_day
from service.lib.given import these
from service.lib.readings import HOUR_SECONDS
from service.members.queries import club
from service.storage.queries.beside import spells_of_all
from service.storage.queries.chill import rests_of
from service.storage.queries.doses import days_of_stores
from service.storage.queries.hand import dials_at, dials_between, fruit_in
from service.storage.queries.learned import ageing_known
from service.storage.queries.nominal import nominal_in
from service.storage.queries.packing import packed_of, packings_of_all
from service.storage.queries.packs import humidity_inside, packs_of
from service.storage.rules import Moment, Span, Weighed, instant_of, loss_of, second_of
from service.storage.rules.learned import AgeingKnown
from service.storage.rules.packing import PackedFrom, packed_through
from service.storage.rules.packs import OwnPack, Packs
from service.storage.rules.stays import Spell
from service.storage.schemas import FruitRead
from service.storage.tables import BagWeighing, BundleCheck, BundlePacking, Store
from service.trees.tables import Site, SourceTree

if TYPE_CHECKING:
    from service.storage.rules.keeping import Lay, Looked, Wood
    from service.storage.rules.resting import Rest
    from service.storage.rules.store_sums import BaseDoses

MOST_PARENTS = 8


@dataclass(frozen=True)
class Facts:
    """Everything that is asked of the record for some bundles at once."""

    now: datetime
    zone: str
    rows: Mapping[UUID, Any]
    stays: Mapping[UUID, list[Spell]]
    checks: Mapping[UUID, list[BundleCheck]]
    weights: Mapping[UUID, list[BagWeighing]]
    changes: Mapping[UUID, list[datetime]]
    fruit: Mapping[UUID, list[FruitRead]]
    kinds: Mapping[UUID, str]
    store_names: Mapping[UUID, str]
    learned: AgeingKnown
    rests: Mapping[UUID, Rest]
    packs: Packs
    packings: Mapping[UUID, list[BundlePacking]]
    # Hours in a store with the fruit beside them: bundles that came and went together share theirs.
    beside: dict[tuple[UUID, int, int], list[Lay]] = field(default_factory=dict)
    # Once told of what lay and was seen alike, by which reckoning and of when; the reckoning with it, so that it stays itself.
    alike: dict[tuple[int, datetime], tuple[Any, dict[str, Any]]] = field(default_factory=dict)

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


# -- what is asked of the record -------------------------------------------------------------------------------------------


def facts_of(session: Session, ids: Sequence[UUID], now: datetime) -> Facts:
    rows: dict[UUID, Any] = {}
    wanted = set(ids)
    while wanted:
        found = {
            row.id: row for row in session.execute(_wood().where(col(Bundle.id).in_(these(session, wanted))))
        }
        rows |= found
        wanted = {row.parent_id for row in found.values() if row.parent_id} - rows.keys()
    stays: dict[UUID, list[Spell]] = {}
    for spell in spells_of_all(session, rows) if rows else ():
        stays.setdefault(spell.bundle_id, []).append(spell)
    store_ids = {one.store_id for each in stays.values() for one in each if one.store_id}
    told = select(col(Store.id), col(Store.kind), col(Store.name)).where(col(Store.id).in_(list(store_ids)))
    stores = session.execute(told).all()
    weights: dict[UUID, list[BagWeighing]] = {}
    for one in session.execute(
        select(BagWeighing).where(col(BagWeighing.bundle_id).in_(these(session, rows)), col(BagWeighing.taken_back_at).is_(None))
    ).scalars():  # fmt: skip
        weights.setdefault(one.bundle_id, []).append(one)
    checks: dict[UUID, list[BundleCheck]] = {}
    for look in session.execute(
        select(BundleCheck)
        .where(col(BundleCheck.bundle_id).in_(these(session, rows)))
        .order_by(col(BundleCheck.seen_at), col(BundleCheck.recorded_at), col(BundleCheck.id))
    ).scalars():
        checks.setdefault(look.bundle_id, []).append(look)
    return Facts(
        now, club(session).zone, rows, stays, checks, weights, _changes(session, weights), fruit_in(session, store_ids),
        {row.id: row.kind for row in stores}, {row.id: row.name for row in stores}, ageing_known(session),
        rests_of(session, [rows[one] for one in ids if one in rows]), packs_of(session, stays),
        packings_of_all(session, rows),
    )  # fmt: skip


def _wood() -> Any:
    return (
        select(
            col(Bundle.id), col(Bundle.parent_id), col(Bundle.made_at), col(Bundle.diameter_mm), col(Bundle.open_stops),
            col(Collection.kind), col(Collection.wood), col(Collection.done_at), col(Collection.cut_on), col(Collection.stage),
            col(Taxon.stage_scale), col(Taxon.species_group), col(StorageLimit.keep_weeks_min), col(StorageLimit.keep_weeks_max),
            col(StorageLimit.keep_mark), col(StorageLimit.store_temp_min_c), col(Cultivar.epithet),
            col(SourceTree.site_id), col(Site.latitude),
        )
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(SourceTree, col(SourceTree.id) == col(Collection.tree_id))
        .outerjoin(Site, col(Site.id) == col(SourceTree.site_id))
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
                col(StickMove.bundle_id).in_(these(session, ids)), col(StickMove.kind) != MoveKind.CORRECTED,
                or_(change != 0, col(StickMove.kind) == MoveKind.CUT_TO_LENGTH),
            )
        ):  # fmt: skip
            found.setdefault(row.bundle_id, []).append(row.done_at)
    return found


# -- where it lay ----------------------------------------------------------------------------------------------------------


def cut_hour(facts: Facts, row: Any) -> int:
    return _cut_hour(row.kind, row.done_at, row.cut_on, facts.zone)


@lru_cache(maxsize=4_096)
def _cut_hour(kind: str, done_at: datetime, cut_on: date, zone: str) -> int:
    """Remembered: bundles of one cut are many, and days in a zone are slow to tell."""
    if kind == "cut" and local_day(done_at, zone) == cut_on:
        return hour_of(done_at)
    noon = hour_of(start_of_day(cut_on, zone) + timedelta(hours=12))
    return min(noon, hour_of(done_at))  # what came in the morning was cut before


def wood_of(facts: Facts, bundle_id: UUID) -> Wood:
    from service.storage.rules.keeping import Wood

    row = facts.rows[bundle_id]
    return Wood(
        bundle_id, row.species_group, True, cut_hour(facts, row), row.diameter_mm, facts.rests.get(bundle_id)
    )


def lays_of(facts: Facts, bundle_id: UUID) -> list[Lay]:
    """From its cutting to now without a gap: in stores, with the fruit in them, and out of them."""
    from service.storage.rules.keeping import Lay

    now, at = hour_of(facts.now), cut_hour(facts, facts.rows[bundle_id])
    told: list[tuple[int, int, UUID | None, UUID | None]] = []
    for row, left in facts.line(bundle_id):
        for stay in facts.stays.get(row.id, ()):
            ends = [one for one in (stay.span.until_at, left, facts.now) if one is not None]
            pieces = _by_pack(
                hour_of(_sure(stay.span.from_at)), hour_of(min(ends)), facts.packs.own.get(row.id, ())
            )
            told += [(begin, end, stay.store_id, pack_id) for begin, end, pack_id in pieces]
    found: list[Lay] = []
    for begin, end, store_id, pack_id in sorted(told, key=lambda one: (one[0], one[1])):
        first, last = max(begin, at), min(end, now)
        if last <= first or store_id is None:
            continue
        if first > at:
            found.append(Lay(None, at, first))
        lies = beside_fruit(facts, store_id, first, last)
        found += lies if pack_id is None else [replace(one, pack_id=pack_id) for one in lies]
        at = last
    if at < now:
        found.append(Lay(None, at, now))
    # What was put away within the hour lies there all the same, and what was taken out within it does not.
    here = [
        stay.store_id
        for stay in facts.stays.get(bundle_id, ())
        if stay.store_id is not None and stay.span.covers(facts.now)
    ]
    if (here[-1] if here else None) != (found[-1].store_id if found else None):
        found += beside_fruit(facts, here[-1], now, now) if here else [Lay(None, now, now)]
    told_of_packing = _packings_told(facts, bundle_id)
    return _as_packed(found, told_of_packing) if told_of_packing else found


def _packings_told(facts: Facts, bundle_id: UUID) -> list[PackedFrom]:
    """What was told of a bundle, and of what it was split from until it was; in order."""
    told = [
        one
        for row, left in facts.line(bundle_id)
        for one in facts.packings.get(row.id, ())
        if left is None or one.done_at <= left
    ]
    told.sort(key=lambda one: (one.done_at, one.seq or 0))
    return [PackedFrom(hour_of(one.done_at), packed_of(one)) for one in told]


def _as_packed(lays: Sequence[Lay], told: Sequence[PackedFrom]) -> list[Lay]:
    return [
        replace(lay, begin=begin, end=end, packed=packed)
        for lay in lays
        for begin, end, packed in packed_through(told, lay.begin, lay.end)
    ]


def _by_pack(begin: int, end: int, own: Sequence[OwnPack]) -> list[tuple[int, int, UUID | None]]:
    """Some hours, cut where a logger came into the wood's own pack or left it."""
    spans = [
        (hour_of(_sure(one.span.from_at)), end if one.span.until_at is None else hour_of(one.span.until_at), one.logger_id)
        for one in own
    ]  # fmt: skip
    edges = sorted({begin, end, *(edge for one in spans for edge in one[:2] if begin < edge < end)})
    return [
        (first, last, next((logger_id for a, b, logger_id in spans if a <= first and last <= b), None))
        for first, last in itertools.pairwise(edges if len(edges) > 1 else [begin, end])
    ]


def _sure(at: datetime | None) -> datetime:
    assert at is not None  # a stay always has a beginning
    return at


def beside_fruit(facts: Facts, store_id: UUID, begin: int, end: int) -> list[Lay]:
    key = store_id, begin, end
    if key not in facts.beside:
        facts.beside[key] = _beside_fruit(facts, *key)
    return facts.beside[key]


def _beside_fruit(facts: Facts, store_id: UUID, begin: int, end: int) -> list[Lay]:
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


def bases_of(session: Session, facts: Facts, lays: Iterable[Sequence[Lay]]) -> dict[UUID, BaseDoses]:
    from service.science.hours import A_WEEK
    from service.science.viability import ASSUMED_C, SPREAD_C
    from service.storage.rules.doses import run_of
    from service.storage.rules.remembered import remembered_frosts
    from service.storage.rules.store_sums import base_doses

    first: dict[UUID, int] = {}
    inside: set[tuple[UUID, UUID]] = set()
    for each in lays:
        for lay in each:
            if lay.store_id is not None:
                inside |= {(lay.store_id, lay.pack_id)} if lay.pack_id else set()
                first[lay.store_id] = min(lay.begin, first.get(lay.store_id, lay.begin))
    if not first:
        return {}
    now = hour_of(facts.now)
    begin = min(now - A_WEEK, *first.values())
    days = days_of_stores(session, first, begin, now)
    kinds = facts.kinds
    nominal = nominal_in(session, first)
    runs = {
        one: run_of(days.get(one, {}), begin, now, ASSUMED_C[kinds[one]], nominal.get(one, ()))
        for one in first
    }
    dials = dials_between(session, first, Span())
    damp = humidity_inside(session, inside, runs, now)
    while_ = Span(instant_of(begin * HOUR_SECONDS), facts.now)
    return {
        one: replace(
            base_doses(run, SPREAD_C[kinds[one]], damp.get(one)),
            frosts=remembered_frosts(dials_at(dials.get(one, ()))), has_packs=facts.packs.are_in(one, while_),
        )
        for one, run in runs.items()
    }  # fmt: skip


def looked_of(facts: Facts, bundle_id: UUID) -> list[Looked]:
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


def _seen_at_cut(facts: Facts, row: Any) -> list[Looked]:
    """What the buds were when it was cut, or when it came; none where nobody looked."""
    from service.science.dormancy import Seen
    from service.science.looks import Look
    from service.storage.rules.keeping import Looked

    seen = seen_of(wood_use(row.stage_scale, row.stage) if row.stage else None)
    at = max(cut_hour(facts, row), hour_of(row.done_at)) if row.kind != "cut" else cut_hour(facts, row)
    return [] if seen is Seen.NOT_LOOKED else [Looked(at, Look(seen), at_cut=True)]


def _weighed(facts: Facts, bundle_id: UUID) -> list[Weighed]:
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
