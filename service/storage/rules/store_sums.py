"""What a store's hours add to wood of which every factor is 1, summed up once for all bundles. Imported where it is needed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from uuid import UUID

import numpy as np

from service.lib.readings import Column
from service.science.hazards import Traits, dose_trace, fresh_doses
from service.science.hours import A_WEEK
from service.science.viability import SPREAD_C
from service.storage.rules.doses import Basis, StoreRun
from service.storage.rules.remembered import Remembered

# As told; if what was not measured is warmer, and so much loss; if it is colder.
MIDDLE, WARM, COLD = 0, 1, 2
FIVE = ("reserve", "lost_pct", "mould", "bud", "ethylene")
DRYING = FIVE.index("lost_pct")
UNIT = Traits(*(np.asarray(each, np.float64) for each in (0, 1, 1, 1, -1, -2, 1, 1, 1)))
_SATURATED = 100.0  # in it nothing dries


@dataclass(frozen=True)
class PackDoses:
    """Drying by the air inside one pack in the hours in which that was measured, and by the store's air in the others."""

    inside: Column  # three ways, hours and one more, summed up
    outside: Column
    known: Column  # whether its humidity was measured, by hours


@dataclass(frozen=True)
class BaseDoses:
    """What a store's hours add to wood of which every factor is 1, summed up from its first hour; three ways of each."""

    first_hour: int
    summed: Column  # five doses, three ways, hours and one more
    temp_c: Column  # three ways, hours
    known: Column
    damp: Column  # whether the humidity of its air was measured
    frosts: tuple[Remembered, ...] = ()
    packs: Mapping[UUID, PackDoses] = field(default_factory=dict)  # by the logger inside
    has_packs: bool = False  # a logger lay inside of a pack here, of whichever wood

    def between(self, begin: int, end: int, pack: tuple[UUID | None, float] = (None, 1.0)) -> Column:
        """`pack`: the logger inside the wood's own pack, and by how much faster wood dries by that air than by the store's."""
        first, last = begin - self.first_hour, end - self.first_hour
        found = self.summed[:, :, last] - self.summed[:, :, first]
        own = self.packs.get(pack[0]) if pack[0] else None
        if own is not None:
            inside, outside = (each[:, last] - each[:, first] for each in (own.inside, own.outside))
            found[DRYING] = outside + inside * pack[1]
        return np.asarray(found)

    def known_inside(self, part: slice, pack_id: UUID | None) -> Column:
        own = self.packs.get(pack_id) if pack_id else None
        return np.zeros(len(self.known[part]), bool) if own is None else own.known[part]

    def last_week(self, now: int) -> Column:
        return self.temp_c[:, max(0, now - A_WEEK - self.first_hour) : now - self.first_hour]


def base_doses(
    run: StoreRun, spread_c: float = SPREAD_C["fridge"], packs: Mapping[UUID, Column] | None = None
) -> BaseDoses:
    """The sums of a store, reckoned for all its days side by side: a winter takes a thousandth of a second.

    What nobody measured may be out by `spread_c` either way. `packs`: humidity inside packs by their logger, of the same hours,
    not a number where it was not measured.
    """
    loose = run.known >= Basis.BY_HAND
    temp = np.stack([run.temp_c, run.temp_c + loose * spread_c, run.temp_c - loose * spread_c])
    own = {}
    for logger_id, humidity in (packs or {}).items():
        dark = np.isnan(humidity)
        inside = _summed(temp, np.where(dark, _SATURATED, humidity))[DRYING]
        outside = _summed(temp, np.where(dark, run.humidity, _SATURATED))[DRYING]
        own[logger_id] = PackDoses(inside, outside, ~dark)
    return BaseDoses(
        run.first_hour, _summed(temp, run.humidity), temp, run.known, ~np.isnan(run.humidity), packs=own
    )


def _summed(temp: Column, humidity: Column) -> Column:
    """Five doses, three ways, hours and one more."""
    hours = temp.shape[1]
    full = -(-hours // 24) * 24
    even = np.pad(temp, ((0, 0), (0, full - hours))).reshape(3, -1, 24)
    damp = np.broadcast_to(np.pad(humidity, (0, full - hours)).reshape(-1, 24), even.shape)
    trace, _ = dose_trace(UNIT, fresh_doses(UNIT), even.reshape(-1, 24), damp.reshape(-1, 24))
    rows = []
    for name in FIVE:
        within = np.asarray(getattr(trace, name)).reshape(even.shape)
        before = np.cumsum(within[:, :, -1], axis=1) - within[:, :, -1]
        rows.append((within + before[:, :, None]).reshape(3, -1)[:, :hours])
    return np.pad(np.stack(rows), ((0, 0), (0, 0), (1, 0)))
