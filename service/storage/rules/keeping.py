"""Will this wood live? A bundle's own way through stores and places, aged hour by hour. It warns and sorts, no more.

Imported where it is needed, and not at the start: it is arrays throughout.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from uuid import UUID

import numpy as np

from service.lib.readings import Column
from service.science.chill import Portions
from service.science.groups import GROUPS, Group
from service.science.hazards import (
    Doses,
    Fruit,
    Hazard,
    Keeping,
    Traits,
    age,
    fresh_doses,
    traits_of,
)
from service.science.hours import A_WEEK, NEIGHBOUR_HOURS
from service.science.keeping_time import MOST_DAYS, THRESHOLD
from service.science.looks import Look, after_look
from service.science.packings import Packing
from service.science.viability import (
    BAND,
    FRESH,
    INDOORS_C,
    OUTDOORS_C,
    SPREAD_C,
    Ageing,
    Measured,
    Viability,
    ageing_before_takes,
    ageing_with,
    estimate,
    hazard_terms,
    viable_share,
)
from service.storage.rules.doses import Basis
from service.storage.rules.packing import NOT_TOLD, Packed
from service.storage.rules.remembered import Counts
from service.storage.rules.resting import Ahead, Rest, ahead_of, forced, is_resting
from service.storage.rules.store_sums import FIVE, MIDDLE, UNIT, WARM, BaseDoses

# Longer out of every store than this, and nothing is reckoned: where it lay is simply not written down. Judgement.
LONGEST_OUT_HOURS = 7 * 24
COARSE_HOURS = 240


@dataclass(frozen=True)
class Wood:
    """What is known of a bundle's wood. Hours are counted from the beginning of 1970, UTC."""

    bundle_id: UUID
    group: str
    dormant: bool
    cut_hour: int
    diameter_mm: float | None = None
    rest: Rest | None = None  # none: nobody knows how much chill it had, and its rest is taken as over


@dataclass(frozen=True)
class Lay:
    """Some hours in a store, with the fruit that lay beside it; without a store, somewhere else."""

    store_id: UUID | None
    begin: int
    end: int
    fruit: Fruit = Fruit.NONE
    # The logger inside its own pack; the doses tell of it, so that the digest of all other wood stays what it was.
    pack_id: UUID | None = field(default=None, repr=False)
    packed: Packed = field(default=NOT_TOLD, repr=False)  # the digest has it apart, where somebody told


@dataclass(frozen=True)
class Looked:
    """A look, or a loss that was weighed, at an hour. `weighed_from`: the hour of the first weight, which the loss counts from.

    `at_cut`: it was seen when the wood was cut or came, and not in store.
    """

    hour: int
    look: Look
    weighed_from: int | None = None
    at_cut: bool = False


@dataclass
class Walked:
    """How a bundle stands at an hour: doses three ways, how its hours are known, and what a week like the last adds."""

    traits: Traits
    doses: Doses
    needs_cp: Column  # chill that ends its rest, three ways
    hours: dict[str, int] = field(default_factory=dict)
    frosts: list[tuple[Counts, float]] = field(default_factory=list)  # that a thermometer kept in mind
    longest_out: int = 0
    week: Column | None = None
    ahead: Ahead | None = None  # while its rest is not over: what the buds come to in the hours that follow
    here: UUID | None = None
    per_pack: float = 1.0  # by so much faster wood dries by the air inside its pack than by the store's
    is_in_pack: bool = False  # the air inside its own pack is measured where it lies now
    lies_by_packs: bool = False  # in a store where the air inside of a pack was measured
    packed: Packed = NOT_TOLD  # as it lies now

    @property
    def measured(self) -> Measured:
        loose = sum(self.hours.get(name, 0) for name in ("by_hand", "nominal", "assumed"))
        if loose > NEIGHBOUR_HOURS:
            return Measured.NOMINAL
        inside = self.hours.get("in_pack", 0)
        outside = loose + self.hours.get("measured", 0) - inside
        return Measured.IN_PACK if outside <= NEIGHBOUR_HOURS and outside < inside else Measured.LOGGER


def traits_beside(
    wood: Wood, group: Group, fruit: Fruit, packed: Packed = NOT_TOLD, *, in_pack: bool = False
) -> Traits:
    lies = Keeping(
        packed.packing or Packing.DAMP_PAPER, wood.diameter_mm or Keeping().diameter_mm, in_pack, bool(packed.waxed),
        bool(packed.disinfected), fruit,
    )  # fmt: skip
    return traits_of(group, lies, wood.rest.need_cp if wood.rest else None)


class _Lies:
    """The traits of wood as it lies, by its packing and the fruit beside it; each reckoned once."""

    def __init__(self, wood: Wood, group: Group) -> None:
        self._of = wood, group
        self._known: dict[tuple[Fruit, Packed], tuple[Traits, float]] = {}

    def traits(self, fruit: Fruit = Fruit.NONE, packed: Packed = NOT_TOLD) -> tuple[Traits, float]:
        """And by how much faster it dries by the air inside its pack than by the store's."""
        key = fruit, packed
        if key not in self._known:
            traits = traits_beside(*self._of, fruit, packed)
            inside = traits_beside(*self._of, fruit, packed, in_pack=True)
            self._known[key] = traits, float(inside.drying / traits.drying)
        return self._known[key]


def walk(
    wood: Wood, group: Group, lays: Sequence[Lay], looked: Sequence[Looked], stores: Mapping[UUID, BaseDoses],
    weekly: list[Doses] | None = None,
) -> Walked:  # fmt: skip
    """A bundle along its lays, which follow one another from its cutting to now, with what was seen on the way.

    `weekly` is filled with how it stood at its beginning and a week, two weeks … after it.
    """
    lies = _Lies(wood, group)
    plain, per_pack = lies.traits()
    doses = three_ways(fresh_doses(plain, wood.rest.portions_cp if wood.rest else None), wood.rest)
    needs = wood.rest.needs if wood.rest else np.full(3, float(plain.need_cp))
    found = Walked(plain, doses, needs, per_pack=per_pack)
    weights = dict[int, Column]()
    marks = sorted(
        {each.hour for each in looked} | {w for each in looked if (w := each.weighed_from) is not None}
    )
    weeks = range(lays[0].begin, lays[-1].end + 1, A_WEEK) if lays and weekly is not None else range(0)
    marks = sorted({*marks, *weeks})
    events = sorted(looked, key=lambda one: one.hour)
    was_stored = False
    for lay, stay in zip(lays, whole_stays(lays), strict=True):
        traits, found.per_pack = lies.traits(lay.fruit, lay.packed)
        cuts = [lay.begin, *(hour for hour in marks if lay.begin < hour < lay.end), lay.end]
        for begin, end in itertools.pairwise(cuts):
            doses = see(plain, doses, [one for one in events if one.hour == begin], weights)
            weights[begin] = np.array(doses.lost_pct)
            if weekly is not None and begin in weeks and len(weekly) <= (begin - weeks.start) // A_WEEK:
                weekly.append(doses)
            if end > begin:
                told = _told(lay, stay, (begin, end), stores, found, out_of_store=was_stored)
                doses = _add(traits, needs, doses, *told)
        was_stored = was_stored or lay.store_id is not None
        out = stay[1] - stay[0] if lay.store_id is None else 0
        found.longest_out = max(found.longest_out, out)
    last = lays[-1] if lays else None
    found.packed = last.packed if last is not None else NOT_TOLD
    doses = see(plain, doses, [one for one in events if last is not None and one.hour >= last.end], weights)
    found.doses = doses
    if last is not None and weekly is not None and len(weekly) < len(weeks):
        weekly.append(doses)
    if last is not None and last.store_id is not None:
        found.here = last.store_id
        store = stores[last.store_id]
        found.week = week_in(traits, store, last.end, (last.pack_id, found.per_pack))
        found.is_in_pack = last.pack_id in store.packs
        found.ahead = ahead_of(plain, needs, doses.chill, store.last_week(last.end))
    return found


def three_ways(one: Doses, rest: Rest | None) -> Doses:
    wide = {name: np.zeros(3) for name in (*FIVE, "hours")}
    portions = Portions(np.full(3, float(one.chill.portions)), np.full(3, rest.precursor if rest else 0.0))
    return Doses(**wide, coldest_c=np.full(3, np.inf), chill=portions)


def see(traits: Traits, doses: Doses, events: Sequence[Looked], weights: Mapping[int, Column]) -> Doses:
    for one in events:
        look = one.look
        doses = after_look(traits, doses, replace(look, lost_pct=None))
        if look.lost_pct is not None:
            before = weights.get(one.weighed_from or one.hour, np.zeros(3))
            doses = replace(doses, lost_pct=np.maximum(0.0, before + look.lost_pct))
    return doses


def whole_stays(lays: Sequence[Lay]) -> list[tuple[int, int]]:
    """Of each lay, from when until when it lay in that store without having left it, whatever fruit came and went."""
    found: list[tuple[int, int]] = []
    for _, each in itertools.groupby(lays, key=lambda lay: lay.store_id):
        together = list(each)
        found += [(together[0].begin, together[-1].end)] * len(together)
    return found


def _told(
    lay: Lay, stay: tuple[int, int], hours: tuple[int, int], stores: Mapping[UUID, BaseDoses], found: Walked, *, out_of_store: bool
) -> tuple[Column, Column, Column]:  # fmt: skip
    """The base sums, the coldest and the temperatures of some hours, three ways; how they are known is counted."""
    count = found.hours
    begin, end = hours
    if lay.store_id is None:
        count["assumed"] = count.get("assumed", 0) + end - begin
        temp = temp_outside(was_stored=out_of_store)
        return steady(temp) * (end - begin), temp, np.broadcast_to(temp[:, None], (3, end - begin))
    store = stores[lay.store_id]
    part = slice(begin - store.first_hour, end - store.first_hour)
    known, inside = store.known[part], store.known_inside(part, lay.pack_id)
    found.lies_by_packs |= store.has_packs
    for name, number in (
        ("measured", int((known <= Basis.NEIGHBOURS).sum())), ("by_hand", int((known == Basis.BY_HAND).sum())),
        ("nominal", int((known == Basis.NOMINAL).sum())), ("assumed", int((known == Basis.ASSUMED).sum())),
        ("damp", int((store.damp[part] & ~inside).sum())), ("in_pack", int(inside.sum())),
    ):  # fmt: skip
        count[name] = count.get(name, 0) + number
    # What was only assumed or said may be warmer, which costs; that it froze is for a logger or a thermometer to say.
    middle = store.temp_c[MIDDLE, part]
    cold = np.where(known >= Basis.ASSUMED, np.maximum(middle, 0.0), middle)
    coldest = np.full(3, cold.min(initial=np.inf))
    for frost in store.frosts:
        counts = frost.counts(stay, hours, store.known, store.first_hour)
        if counts is not None:
            found.frosts.append((counts, frost.lowest_c))
            ways = [MIDDLE, WARM] if counts is Counts.WHOLE else [WARM]
            coldest[ways] = np.minimum(coldest[ways], frost.lowest_c)
    return store.between(begin, end, (lay.pack_id, found.per_pack)), coldest, store.temp_c[:, part]


def temp_outside(*, was_stored: bool) -> Column:
    """Where wood lies in no store, three ways [°C]: outdoors until it was put away, indoors after."""
    return (INDOORS_C if was_stored else OUTDOORS_C) + np.array([0.0, 1.0, -1.0]) * SPREAD_C["fridge"]


def steady(temp_c: Column) -> Column:
    """What one hour at each of these temperatures adds to wood of which every factor is 1."""
    return _steady(tuple(temp_c.tolist())).copy()


@lru_cache(maxsize=64)
def _steady(temps_c: tuple[float, ...]) -> Column:
    doses = age(UNIT, fresh_doses(UNIT), np.array(temps_c)[:, None])
    return np.stack([getattr(doses, name) for name in FIVE])


def factors_of(traits: Traits) -> Column:
    return np.array([
        1 / float(traits.reserve_weeks), float(traits.drying), float(traits.mould), float(traits.per_forcing_day),
        float(traits.ethylene),
    ])  # fmt: skip


def _add(
    traits: Traits, needs_cp: Column, doses: Doses, base: Column, coldest: Column, temp_c: Column
) -> Doses:
    chill = doses.chill
    if is_resting(needs_cp, chill):
        forcing, chill = forced(needs_cp, chill, temp_c)
        base = np.array(base)
        base[FIVE.index("bud")] = forcing[:, -1]
    more = base * factors_of(traits)[:, None]
    return Doses(
        doses.reserve + more[0], doses.lost_pct + more[1], doses.mould + more[2], doses.bud + more[3], doses.ethylene + more[4],
        np.minimum(doses.coldest_c, coldest), chill, doses.hours + temp_c.shape[1],
    )  # fmt: skip


def week_in(
    traits: Traits, store: BaseDoses, now: int, pack: tuple[UUID | None, float] = (None, 1.0)
) -> Column:
    """What the last week of a store adds in an hour, three ways; of a shorter record all of it. `pack`: as of `between`."""
    begin = max(store.first_hour, now - A_WEEK)
    return np.asarray(store.between(begin, now, pack) * factors_of(traits)[:, None] / max(1, now - begin))


# -- how it stands, and how long -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Left:
    """Hours until less than three quarters of the start are left; None: over two years."""

    central: float | None
    low: float | None
    high: float | None
    limiting: Hazard | None


def one_of(doses: Doses, way: int = MIDDLE) -> Doses:
    five = {name: np.asarray(getattr(doses, name))[way] for name in (*FIVE, "coldest_c", "hours")}
    return Doses(**five, chill=Portions(doses.chill.portions[way], doses.chill.precursor[way]))


def stands(found: Walked, ageing: Ageing) -> Viability:
    """The share with its band. What was not measured widens it: the low end as if it had been warmer, the high end colder."""
    middle = estimate(found.traits, one_of(found.doses), ageing)
    speed = ageing.factor([0, BAND, -BAND])
    _, low, high = viable_share(found.traits, found.doses, speed).tolist()
    return replace(middle, low=min(low, middle.central), high=max(high, middle.central))


def hours_left(found: Walked, week: Column, ageing: Ageing) -> Left:
    """As `science.keeping_time.days_left`, but of even hours: each adds what the mean hour of the last week does."""
    speed = ageing.factor([0, BAND, -BAND])
    most = MOST_DAYS * 24
    # In two steps, all hours of each side by side: the ten days in which it falls below, then the hour.
    coarse, under = _first_under(found, week, speed, np.zeros(3), COARSE_HOURS, most // COARSE_HOURS)
    fine, _ = _first_under(found, week, speed, np.maximum(0, coarse - COARSE_HOURS), 1, COARSE_HOURS)
    told = [float(each) if known else None for each, known in zip(fine, under, strict=True)]
    then = one_of(later_doses(found, week, np.full(3, float(most) if told[0] is None else told[0])))
    terms = hazard_terms(found.traits, then)
    limiting = tuple(Hazard)[int(terms.argmax())] if float(terms.sum()) > 0 else None
    return Left(told[0], told[1], told[2], limiting)


def _first_under(
    found: Walked, week: Column, speed: Column, begin: Column, step: int, steps: int
) -> tuple[Column, Column]:
    """The first of some hours at which less than the threshold is left, three ways, and whether there is one."""
    hours = begin[:, None] + step * np.arange(steps + 1)
    under = viable_share(found.traits, later_doses(found, week, hours), speed[:, None]) / FRESH < THRESHOLD
    return np.take_along_axis(hours, under.argmax(axis=1)[:, None], axis=1)[:, 0], np.asarray(
        under.any(axis=1)
    )


def later_doses(found: Walked, week: Column, hours: Column) -> Doses:
    wide = (slice(None), None) if hours.ndim > 1 else (slice(None),)
    doses, more = found.doses, [row[wide] * hours for row in week]
    if found.ahead is not None:
        more[FIVE.index("bud")] = found.ahead.until(hours)
    five = {
        name: np.asarray(getattr(doses, name))[wide] + each for name, each in zip(FIVE, more, strict=True)
    }
    return replace(doses, coldest_c=np.asarray(doses.coldest_c)[wide], **five)


def ageing_of(found: Walked, learned: tuple[float, float] | None = None) -> Ageing:
    """`learned`: mean and spread of ln th; none where no take says anything of this group."""
    if learned is None:
        return ageing_before_takes(found.measured)
    return ageing_with(Ageing(*learned), found.measured)


def group_of(name: str) -> Group | None:
    return GROUPS.get(name)
