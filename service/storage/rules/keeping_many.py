"""Many bundles along their ways at once: what `keeping.walk` says of each, its steps taken side by side.

`walk` is the rule, and this comes to its numbers. Imported where it is needed, and not at the start: it is arrays throughout.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import numpy as np

from service.lib.readings import Column
from service.science.chill import Portions
from service.science.hazards import Doses, Fruit, Traits, fresh_doses
from service.science.hours import A_WEEK
from service.storage.rules.keeping import (
    Lay,
    Walked,
    factors_of,
    see,
    steady,
    temp_outside,
    three_ways,
    traits_beside,
    whole_stays,
)
from service.storage.rules.packing import NOT_TOLD, Packed
from service.storage.rules.remembered import Counts
from service.storage.rules.resting_many import AheadMany, ahead_many, forced_many
from service.storage.rules.store_hours import COUNTED, OF_STORE, StoreHours
from service.storage.rules.store_sums import DRYING, FIVE, MIDDLE, UNIT, WARM
from service.storage.rules.stretches import Asked, LaysOfAll, Stretches, stretch_sums

_BUD, _COLDEST = FIVE.index("bud"), len(FIVE)  # in a state the coldest hour stands after the five doses
_ASSUMED, _DAMP, _IN_PACK = (COUNTED.index(name) for name in ("assumed", "damp", "in_pack"))
_Lies = tuple[
    Traits, Column, float
]  # as it lies, its factors, and how much faster it dries by the air inside its pack
_Frost = tuple[int, int, Counts, float]  # the stretch it fell into, its place among those of its store


@dataclass(frozen=True)
class WalkedMany:
    """How each stands, and stood week by week. Of each `Walked`, its week and what lies ahead stand here for all."""

    found: list[Walked]
    state: Column  # five doses and the coldest hour, three ways, bundles
    path: Column  # the same, of all weeks of the first bundle, then of the next
    weeks: Column  # how many of each
    stored: Column  # whether it lies in a store
    week: Column  # what an hour like those of the last week adds: five doses, three ways, bundles
    ahead: AheadMany | None


def walk_many(asked: Sequence[Asked], stores: Mapping[UUID, StoreHours]) -> WalkedMany:
    """Of bundles whose lays are gapless."""
    along = _Along(asked, stores)
    along.tell_hours()
    for step in range(int(along.cuts.count.max())):
        along.step(step)
    along.end()
    week, ahead = along.week_and_ahead()
    stored = along.lays.store[along.last_lay] >= 0
    return WalkedMany(along.found, along.state, along.path, along.cuts.weeks, stored, week, ahead)


class _Along:
    """The state of all bundles as they go along their ways."""

    def __init__(self, asked: Sequence[Asked], stores: Mapping[UUID, StoreHours]) -> None:
        self.asked, self.lays = asked, LaysOfAll(asked)
        self.cuts = Stretches(asked, self.lays)
        self.stores = [stores[one] for one in self.lays.stores]
        self.last_lay = np.searchsorted(self.lays.bundle, np.arange(len(asked)), "right") - 1
        self._known: dict[Any, _Lies] = {}
        self._nothing = three_ways(fresh_doses(UNIT), None)
        self.found = [self._fresh(one) for one in asked]
        lies = [self._lies(asked[n], lay.fruit, lay.packed) for n, lay in self._owned()]
        self.factors = np.stack([factors for _, factors, _ in lies], axis=-1)
        self.per_pack = np.array([per_pack for _, _, per_pack in lies])  # of each lay
        self.needs = np.stack([one.needs_cp for one in self.found])
        rests = [one.wood.rest for one in asked]
        begun = np.array([
            (float(one.traits.need_cp), 0.0) if rest is None else (rest.portions_cp, rest.precursor)
            for one, rest in zip(self.found, rests, strict=True)
        ])  # fmt: skip
        self.portions, self.precursor = (np.tile(each[:, None], 3) for each in begun.T)
        self.state = np.zeros((_COLDEST + 1, 3, len(asked)))
        self.state[_COLDEST] = np.inf
        self.path = np.empty((_COLDEST + 1, 3, int(self.cuts.weeks.sum())))
        self.sums = np.empty((_COLDEST + 1, 3, len(self.cuts.begin)))
        self.weights: dict[int, dict[int, Column]] = {}
        self.marked = {
            self.cuts.number(n, hour): (n, hour)
            for n, one in enumerate(asked) if one.looked
            for hour in one.marks if self.cuts.first[n] <= hour < self.cuts.last[n]
        }  # fmt: skip
        self.marked_at = np.isin(np.arange(len(self.cuts.begin)), list(self.marked))

    def _owned(self) -> Iterator[tuple[int, Lay]]:
        yield from zip(self.lays.bundle.tolist(), self.lays.each, strict=True)

    def _lies(self, one: Asked, fruit: Fruit = Fruit.NONE, packed: Packed = NOT_TOLD) -> _Lies:
        wood = one.wood
        key = wood.group, wood.diameter_mm, wood.rest and wood.rest.need_cp, fruit, packed
        if key not in self._known:
            traits, inside = (
                traits_beside(wood, one.group, fruit, packed, in_pack=each) for each in (False, True)
            )
            self._known[key] = traits, factors_of(traits), float(inside.drying) / float(traits.drying)
        return self._known[key]

    def _fresh(self, one: Asked) -> Walked:
        plain, _, _ = self._lies(one)
        rest = one.wood.rest
        needs = rest.needs if rest else np.full(3, float(plain.need_cp))
        return Walked(plain, self._nothing, needs)

    # -- what the hours of all are -----------------------------------------------------------------------------------------

    def tell_hours(self) -> None:
        """The sums and the coldest hour of each stretch; and of each bundle, how its hours are known."""
        self._outside()
        counts = np.zeros((len(COUNTED), len(self.lays.each)), np.int64)
        for number, hours in enumerate(self.stores):
            of_stretch, of_lay = (
                np.flatnonzero(each == number) for each in (self.lays.store[self.cuts.lay], self.lays.store)
            )
            begin, end = self.cuts.begin[of_stretch], self.cuts.end[of_stretch]
            first = hours.store.first_hour
            self.sums[:_COLDEST, :, of_stretch] = stretch_sums(hours.store.summed, begin - first, end - first)
            self.sums[_COLDEST][:, of_stretch] = hours.coldest(begin, end)
            counts[:OF_STORE, of_lay] = hours.counts(self.lays.begin[of_lay], self.lays.end[of_lay])
        outside = self.lays.store < 0
        hours_of = self.lays.end - self.lays.begin
        counts[_ASSUMED, outside] = hours_of[outside]
        self._in_packs(counts)
        bundles = np.arange(len(self.asked))
        begins = np.searchsorted(self.lays.bundle, bundles, "left")
        longest = np.maximum.reduceat(self.lays.hours_out(), begins)
        was_stored = np.maximum.reduceat(~outside, begins)
        told = np.add.reduceat(counts, begins, axis=1).T
        for one, row, out, stored in zip(
            self.found, told.tolist(), longest.tolist(), was_stored, strict=True
        ):
            one.hours = dict(zip(COUNTED, row, strict=True)) if stored else {"assumed": row[_ASSUMED]}
            one.longest_out = out
        for n, asked in enumerate(self.asked):
            self._remembered(n, asked)

    def _outside(self) -> None:
        self.outside_c = np.stack([temp_outside(was_stored=each) for each in (False, True)])
        for was_stored, temp in zip((False, True), self.outside_c, strict=True):
            mine = (self.lays.store < 0) & (self.lays.was_stored == was_stored)
            at = np.flatnonzero(mine[self.cuts.lay])
            if len(at):
                hours = self.cuts.end[at] - self.cuts.begin[at]
                self.sums[:_COLDEST, :, at] = steady(temp)[..., None] * hours
                self.sums[_COLDEST][:, at] = temp[:, None]

    def _in_packs(self, counts: Column) -> None:
        """Drying by the air inside of packs, where that was measured."""
        for lay in (n for n, each in enumerate(self.lays.each) if each.pack_id is not None):
            store, told = self.stores[self.lays.store[lay]].store, self.lays.each[lay]
            own = store.packs.get(told.pack_id) if told.pack_id else None
            if own is None:
                continue
            at = np.flatnonzero(self.cuts.lay == lay)
            first, last = self.cuts.begin[at] - store.first_hour, self.cuts.end[at] - store.first_hour
            inside, outside = (stretch_sums(each, first, last) for each in (own.inside, own.outside))
            self.sums[DRYING][:, at] = outside + inside * self.per_pack[lay]
            part = slice(told.begin - store.first_hour, told.end - store.first_hour)
            known = own.known[part]
            counts[_DAMP, lay], counts[_IN_PACK, lay] = (
                int((store.damp[part] & ~known).sum()),
                int(known.sum()),
            )

    def _remembered(self, n: int, one: Asked) -> None:
        """Frosts that a thermometer of its stores kept in mind, in the order in which `walk` comes to them."""
        found, its_stores = list[_Frost](), dict.fromkeys(lay.store_id for lay in one.lays if lay.store_id)
        told = {store_id: self.stores[self.lays.stores.index(store_id)].store for store_id in its_stores}
        self.found[n].lies_by_packs = any(store.has_packs for store in told.values())
        if not any(store.frosts for store in told.values()):
            return
        for lay, stay in zip(one.lays, whole_stays(one.lays), strict=True):
            store = told.get(lay.store_id) if lay.store_id else None
            for place, frost in enumerate(store.frosts if store else ()):
                hour = min(frost.end, stay[1])
                if store is not None and lay.begin < hour <= lay.end:
                    at = self.cuts.number(n, hour - 1)
                    hours = int(self.cuts.begin[at]), int(self.cuts.end[at])
                    counts = frost.counts(stay, hours, store.known, store.first_hour)
                    found += [] if counts is None else [(at, place, counts, frost.lowest_c)]
        for at, _, counts, lowest_c in sorted(found, key=lambda each: each[:2]):
            ways = [MIDDLE, WARM] if counts is Counts.WHOLE else [WARM]
            self.sums[_COLDEST, ways, at] = np.minimum(self.sums[_COLDEST, ways, at], lowest_c)
            self.found[n].frosts.append((counts, lowest_c))

    # -- along the way -----------------------------------------------------------------------------------------------------

    def step(self, number: int) -> None:
        """Each bundle that has so many goes along its next stretch."""
        cuts = self.cuts
        who = np.flatnonzero(cuts.count > number)
        at = cuts.at[who] + number
        for each in at[self.marked_at[at]].tolist():
            n, hour = self.marked[each]
            self._look(n, [one for one in self.asked[n].looked if one.hour == hour])
            self.weights.setdefault(n, {})[hour] = self.state[DRYING, :, n].copy()
        week = cuts.week[at]
        told = week >= 0
        self.path[:, :, cuts.weeks_at[who[told]] + week[told]] = self.state[:, :, who[told]]
        base = self.sums[:, :, at]
        resting = (self.portions[who] < self.needs[who]).any(axis=1)
        if resting.any():
            base[_BUD][:, resting] = self._forced(who[resting], at[resting])
        base[:_COLDEST] *= self.factors[:, None, cuts.lay[at]]
        base[:_COLDEST] += self.state[:_COLDEST, :, who]
        base[_COLDEST] = np.minimum(self.state[_COLDEST][:, who], base[_COLDEST])
        self.state[:, :, who] = base

    def _forced(self, who: Column, at: Column) -> Column:
        """Forcing of the hours of some stretches; chill goes on."""
        hours = self.cuts.end[at] - self.cuts.begin[at]
        temp = np.full((len(who), 3, int(hours.max())), np.nan)
        for row, (each, count) in enumerate(zip(at.tolist(), hours.tolist(), strict=True)):
            lay = self.cuts.lay[each]
            if self.lays.store[lay] < 0:
                temp[row, :, :count] = self.outside_c[int(self.lays.was_stored[lay])][:, None]
            else:
                store = self.stores[self.lays.store[lay]].store
                first = int(self.cuts.begin[each]) - store.first_hour
                temp[row, :, :count] = store.temp_c[:, first : first + count]
        chill = Portions(self.portions[who], self.precursor[who])
        forcing, after = forced_many(self.needs[who], chill, temp)
        self.portions[who], self.precursor[who] = after.portions, after.precursor
        return np.asarray(forcing[..., -1].T)

    def _look(self, n: int, events: Sequence[Any]) -> None:
        if events:
            seen = see(self.found[n].traits, self._doses(n), events, self.weights.get(n, {}))
            self.state[:_COLDEST, :, n] = [getattr(seen, name) for name in FIVE]

    def _doses(self, n: int) -> Doses:
        hours = np.full(3, float(self.cuts.last[n] - self.cuts.first[n]))
        six = np.ascontiguousarray(self.state[:, :, n])
        chill = Portions(self.portions[n], self.precursor[n])
        return Doses(six[0], six[1], six[2], six[3], six[4], six[5], chill, hours)

    def end(self) -> None:
        """What was seen since, how each stands, and what it lies by."""
        cuts = self.cuts
        for n, one in enumerate(self.asked):
            if one.looked:
                late = [each for each in one.looked if each.hour >= cuts.last[n]]
                self._look(n, sorted(late, key=lambda each: each.hour))
        whole = np.flatnonzero((cuts.last - cuts.first) % A_WEEK == 0)
        self.path[:, :, cuts.weeks_at[whole] + cuts.weeks[whole] - 1] = self.state[:, :, whole]
        for n, walked in enumerate(self.found):
            last = self.asked[n].lays[-1]
            walked.doses, walked.here, walked.packed = self._doses(n), last.store_id, last.packed
            walked.per_pack = float(self.per_pack[self.last_lay[n]])
            if last.store_id is not None:
                store = self.stores[self.lays.store[self.last_lay[n]]].store
                walked.is_in_pack = last.pack_id in store.packs

    def week_and_ahead(self) -> tuple[Column, AheadMany | None]:
        week = np.zeros((len(FIVE), 3, len(self.asked)))
        temps: list[Column] = [np.empty((3, 0))] * len(self.asked)
        last = self.cuts.last
        for number in np.unique(self.lays.store[self.last_lay]).tolist():
            if number < 0:
                continue
            store = self.stores[number].store
            mine = np.flatnonzero(self.lays.store[self.last_lay] == number)
            first, until = (
                np.maximum(0, last[mine] - A_WEEK - store.first_hour),
                last[mine] - store.first_hour,
            )
            sums = stretch_sums(store.summed, first, until)
            for place, n in enumerate(mine.tolist()):
                pack_id = self.asked[n].lays[-1].pack_id
                if pack_id in store.packs:
                    begin, now = int(first[place]) + store.first_hour, int(last[n])
                    sums[:, :, place] = store.between(begin, now, (pack_id, self.found[n].per_pack))
            factors = self.factors[:, None, self.last_lay[mine]]
            week[:, :, mine] = sums * factors / np.maximum(1, until - first)
            weeks_c = {now: store.last_week(now) for now in np.unique(last[mine]).tolist()}
            for n in mine.tolist():
                temps[n] = weeks_c[int(last[n])]
        resting = (self.portions < self.needs).any(axis=1) & (self.lays.store[self.last_lay] >= 0)
        rows = np.flatnonzero(resting)
        per_day = np.array([float(self.found[n].traits.per_forcing_day) for n in rows.tolist()])
        chill = Portions(self.portions[rows], self.precursor[rows])
        return week, ahead_many(rows, per_day, self.needs[rows], chill, [temps[n] for n in rows.tolist()])
