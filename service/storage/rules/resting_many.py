"""Wood whose rest is not over, of many bundles at once: the steps of `resting`, side by side. See `keeping_many`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.lib.readings import Column
from service.science.chill import Portions, chill_portions
from service.science.heat import forcing_per_hour, rest_gate
from service.science.hours import A_WEEK
from service.science.keeping_time import MOST_DAYS
from service.storage.rules.resting import STEADY


def forced_many(needs_cp: Column, chill: Portions, temp_c: Column) -> tuple[Column, Portions]:
    """As `resting.forced`: bundles, three ways, hours. An hour that is not a number comes after the last, and adds nothing."""
    portions, after = chill_portions(temp_c, chill)
    return np.cumsum(rest_gate(portions, needs_cp[..., None]) * forcing_per_hour(temp_c), axis=-1), after


@dataclass(frozen=True)
class AheadMany:
    """As `resting.Ahead`, of some of the bundles."""

    bundles: Column
    summed: Column  # these bundles, three ways, hours and one more; filled up with the last
    last: Column  # of each, its last hour
    rate: Column  # these bundles, three ways

    def put_into(self, bud: Column, hours: Column) -> None:
        """Into the buds' row of what hours ahead add (three ways and bundles, or three ways, bundles and hours)."""
        mine = np.moveaxis(hours[:, self.bundles], 0, 1)
        last = self.last.reshape(-1, *(1,) * (mine.ndim - 1))
        place = np.minimum(mine, last).astype(np.intp)
        told = np.take_along_axis(self.summed, place.reshape(len(place), 3, -1), axis=2).reshape(mine.shape)
        rate = self.rate.reshape(*self.rate.shape, *(1,) * (mine.ndim - 2))
        bud[:, self.bundles] = np.moveaxis(told + rate * np.maximum(0.0, mine - last), 1, 0)


def ahead_many(
    bundles: Column, per_day: Column, needs_cp: Column, chill: Portions, weeks_c: Sequence[Column]
) -> AheadMany | None:
    """As `resting.ahead_of`, of bundles whose rest is not over. `weeks_c`: the last week of each; None: there are none."""
    if not len(bundles):
        return None
    told: list[tuple[Column, Column]] = [(np.empty(0), np.empty(0))] * len(bundles)
    alike: dict[int, list[int]] = {}
    for row, week in enumerate(weeks_c):
        alike.setdefault(id(week), []).append(row)
    for rows in map(np.array, alike.values()):
        begun = Portions(np.asarray(chill.portions)[rows], np.asarray(chill.precursor)[rows])
        for row, found in zip(rows.tolist(), _one_week(needs_cp[rows], begun, weeks_c[rows[0]]), strict=True):
            told[row] = found
    last = np.array([summed.shape[1] - 1 for summed, _ in told])
    wide = int(last.max()) + 1
    summed = np.stack([np.pad(one, ((0, 0), (0, wide - one.shape[1])), mode="edge") for one, _ in told])
    rate = np.stack([one for _, one in told])
    return AheadMany(bundles, summed * per_day[:, None, None], last, rate * per_day[:, None])


def _one_week(needs: Column, chill: Portions, week_c: Column) -> list[tuple[Column, Column]]:
    """Forcing of the hours ahead, summed up, and after them in an hour: of bundles that lie by the same week."""
    full = forcing_per_hour(week_c).mean(axis=1)
    hours = week_c.shape[1]
    left = np.arange(len(needs))
    summed: list[list[Column]] = [[np.zeros((3, 1))] for _ in left]
    rates = np.tile(full, (len(needs), 1))
    for step in range(1, -(-MOST_DAYS * 24 // A_WEEK) + 1):
        part, after = forced_many(needs[left], chill, np.broadcast_to(week_c, (len(left), 3, hours)))
        portions = np.asarray(after.portions)
        gained = portions - np.asarray(chill.portions)
        rests = portions < needs[left]
        rates[left] = np.where(rests, part[..., -1] / hours, full)
        for place, row in enumerate(left.tolist()):
            summed[row].append(summed[row][-1][:, -1:] + part[place])
        goes_on = (rests & (gained > STEADY)).any(axis=1) | (step < 3)
        left, chill = left[goes_on], Portions(portions[goes_on], np.asarray(after.precursor)[goes_on])
        if not len(left):
            break
    return [(np.concatenate(one, axis=1), rate) for one, rate in zip(summed, rates, strict=True)]
