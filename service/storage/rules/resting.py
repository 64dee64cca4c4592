"""Wood cut before its rest is over: warmth counts as forcing only as far as chill has ended the rest. Imported where it is needed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from service.lib.readings import Column
from service.science.chill import Portions, chill_portions
from service.science.hazards import Traits
from service.science.heat import forcing_per_hour, rest_gate
from service.science.hours import A_WEEK
from service.science.keeping_time import MOST_DAYS

STEADY = 1e-9  # portions a week: no more chill comes, however long it lies


@dataclass(frozen=True)
class Rest:
    """What a bundle's wood needs [CP], and how far the Dynamic Model had come at its tree when it was cut.

    `spread`: how far the need may be out, either way [of the need].
    """

    need_cp: float
    portions_cp: float
    precursor: float = 0.0
    spread: float = 0.0

    @property
    def needs(self) -> Column:
        """The need as told; and for the low end of the band as low as it may be, for the high end as high."""
        return self.need_cp * np.array([1.0, 1 - self.spread, 1 + self.spread])


@dataclass(frozen=True)
class Ahead:
    """Bud doses that each hour ahead brings, summed up, three ways; after the last of them `rate` an hour."""

    summed: Column  # three ways, hours and one more
    rate: Column

    def until(self, hours: Column) -> Column:
        last = self.summed.shape[1] - 1
        place = np.minimum(hours, last).astype(np.intp).reshape(3, -1)
        told = np.take_along_axis(self.summed, place, axis=1).reshape(hours.shape)
        rate = self.rate.reshape(3, *(1,) * (hours.ndim - 1))
        return np.asarray(told + rate * np.maximum(0.0, hours - last))


def is_resting(needs_cp: Column, chill: Portions) -> bool:
    return bool((np.asarray(chill.portions) < needs_cp).any())


def forced(needs_cp: Column, chill: Portions, temp_c: Column) -> tuple[Column, Portions]:
    """Forcing of some hours, summed up, as far as rest lets it count [days at 20 °C], three ways; and the chill after them."""
    portions, after = chill_portions(temp_c, chill)
    return np.cumsum(rest_gate(portions, needs_cp[:, None]) * forcing_per_hour(temp_c), axis=1), after


def ahead_of(traits: Traits, needs_cp: Column, chill: Portions, week_c: Column) -> Ahead | None:
    """If a week (hours along the second axis) goes on repeating, until rest is over or no more chill comes; None: it is over."""
    if not is_resting(needs_cp, chill):
        return None
    summed = [np.zeros((3, 1))]
    full = forcing_per_hour(week_c).mean(axis=1)
    rate = full
    for _ in range(-(-MOST_DAYS * 24 // A_WEEK)):
        part, after = forced(needs_cp, chill, week_c)
        summed.append(summed[-1][:, -1:] + part)
        gained, chill = np.asarray(after.portions) - np.asarray(chill.portions), after
        rate = np.where(np.asarray(chill.portions) >= needs_cp, full, part[:, -1] / week_c.shape[1])
        resting = np.asarray(chill.portions) < needs_cp
        if not (resting & (gained > STEADY)).any() and len(summed) > 3:
            break
    per_day = float(traits.per_forcing_day)
    return Ahead(np.concatenate(summed, axis=1) * per_day, rate * per_day)
