"""What a spell cost, and shares week by week, walked hour by hour: the slow way that tests hold the quick one against."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
from numpy.typing import ArrayLike

from service.science.chill import Portions
from service.science.hazards import Doses, Traits, age, fresh_doses
from service.science.hours import A_WEEK
from service.science.keeping_time import MOST_DAYS, days_left
from service.science.viability import BAND, Ageing, viable_share

_COLUMNS = ("reserve", "lost_pct", "mould", "bud", "ethylene", "coldest_c", "hours")


def hourly_cost(traits: Traits, temp_c: ArrayLike, spell: ArrayLike, ageing: Ageing | None = None) -> float:
    """Days left without it less days left with it, of fresh wood from the first hour on: its hours count as the median of the others."""
    temp, out = np.asarray(temp_c, np.float64), np.asarray(spell, np.bool_)
    usual = temp[~out]
    one = Traits(*(np.atleast_1d(getattr(traits, each.name)) for each in fields(traits)))
    without, with_it = (
        days_left(one, as_one(age(traits, fresh_doses(traits), hours)), usual[None, -A_WEEK:], None, ageing)[
            0
        ].central
        for hours in (np.where(out, np.median(usual), temp), temp)
    )
    assert with_it is not None
    return (MOST_DAYS if without is None else without) - with_it


def weekly_shares(
    traits: Traits, week_temp_c: ArrayLike, weeks: int, ageing: Ageing | None = None
) -> list[tuple[float, float, float]]:
    """Low, central and high share of one fresh bundle at the end of each of so many weeks, if the same one goes on repeating."""
    speed = (ageing or Ageing()).factor([BAND, 0, -BAND])
    path, now = [], fresh_doses(traits)
    for _ in range(weeks):
        now = age(traits, now, week_temp_c)
        low, central, high = viable_share(traits, now, speed).tolist()
        path.append((low, central, high))
    return path


def as_one(doses: Doses) -> Doses:
    """One bundle as the only one of a column."""
    chill = Portions(np.atleast_1d(doses.chill.portions), np.atleast_1d(doses.chill.precursor))
    return replace(doses, chill=chill, **{name: np.atleast_1d(getattr(doses, name)) for name in _COLUMNS})
