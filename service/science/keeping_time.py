"""How long bundles keep, if the last week goes on repeating, and what a spell cost them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.science.daylight import Numbers
from service.science.hazards import Doses, Hazard, Traits, dose_trace
from service.science.hours import A_DAY
from service.science.parameters import value
from service.science.viability import BAND, FRESH, HAZARDS, Ageing, hazard_terms, viable_share

THRESHOLD = value("days_left", "threshold")
MOST_DAYS = int(value("days_left", "most"))  # beyond it is said: over two years
_FIVE = ("reserve", "lost_pct", "mould", "bud", "ethylene")


@dataclass(frozen=True)
class DaysLeft:
    """Days until less than the threshold is left [days]: central, and at both ends of the band. None: over two years.

    `limiting` is the hazard that limits it by then.
    """

    central: float | None
    low: float | None
    high: float | None
    limiting: Hazard | None


def days_left(
    traits: Traits, doses: Doses, week_temp_c: ArrayLike, week_humidity_pct: ArrayLike | None = None,
    ageing: Ageing | Sequence[Ageing] | None = None, threshold: float = THRESHOLD,
) -> list[DaysLeft]:  # fmt: skip
    """How long bundles keep if the last week goes on repeating.

    Parameters
    ----------
    traits, doses : of many bundles, one axis.
    week_temp_c : the last hours of each [°C], axis of bundles then hours; usually 168, no gaps.
    week_humidity_pct : of the same hours [%]; None: not measured.
    ageing : what is known of how fast wood ages here, of all alike or of each; None: nothing yet.
    threshold : of what there was at the start [-], from 0 to 1; 0.75 (judgement).

    Returns
    -------
    One each, in days to the hour: the first at which V/V0 is below the threshold. 0 where it is already.
    """
    week = np.atleast_2d(np.asarray(week_temp_c, np.float64))
    each = [ageing or Ageing()] * len(week) if ageing is None or isinstance(ageing, Ageing) else ageing
    found = _Crossing(traits, np.stack([one.factor([0, BAND, -BAND]) for one in each], axis=-1), threshold)
    found.at_once(doses)
    damp = None if week_humidity_pct is None else np.broadcast_to(week_humidity_pct, week.shape)
    now, hours, past = doses, week.shape[1], 0
    while past < MOST_DAYS * A_DAY and found.is_open:
        path, now = dose_trace(traits, now, week, damp)
        found.along(path, past)
        past += hours
        # Once rest is over in all, each week adds what this one adds, and nothing more need be stepped through.
        if found.is_open and (now.chill.portions >= traits.need_cp).all():
            path, after = dose_trace(traits, now, week, damp)
            found.by_weeks(now, path, after, past, hours)
            break
    return found.told()


class _Crossing:
    """When bundles fall below the threshold: central, low end, high end (first axis), and how fast each ages by these."""

    def __init__(self, traits: Traits, speed: Numbers, threshold: float) -> None:
        self.wide, self.speed, self.threshold = traits.by_hour(), speed[..., None], threshold
        self.hours = np.full(speed.shape, np.nan)
        self.limiting: list[Hazard | None] = [None] * speed.shape[1]

    @property
    def is_open(self) -> bool:
        return bool(np.isnan(self.hours).any())

    def _is_under(self, path: Doses) -> NDArray[np.bool_]:
        share = viable_share(self.wide, path, self.speed)
        return np.asarray(share / FRESH < self.threshold)

    def at_once(self, doses: Doses) -> None:
        wide = replace(doses, **{name: getattr(doses, name)[..., None] for name in (*_FIVE, "coldest_c")})
        self.along(wide, -1)

    def along(self, path: Doses, past: int) -> None:
        """Steps of an hour, so many hours on."""
        under = self._is_under(path)
        first = under.argmax(axis=-1)
        fresh = under.any(axis=-1) & np.isnan(self.hours)
        self.hours[fresh] = past + first[fresh] + 1
        self._note(fresh[0], path, first[0])

    def _note(self, fresh: NDArray[np.bool_], path: Doses, first: NDArray[np.intp]) -> None:
        """What limits, of those that fall now by the central reckoning."""
        terms = np.take_along_axis(
            hazard_terms(self.wide, path, self.speed[0]), first[None, :, None], axis=-1
        )
        for place in np.flatnonzero(fresh):
            self.limiting[place] = HAZARDS[int(terms[:, place, 0].argmax())]

    def by_weeks(self, now: Doses, path: Doses, after: Doses, past: int, hours: int) -> None:
        """The week that `path` goes through from `now` to `after` repeats: first the week is found, then the hour in it."""
        weeks = np.arange(1.0, MOST_DAYS * A_DAY // hours + 2)
        ends = self._is_under(_repeated(now, after, weeks))
        which = np.where(ends.any(axis=-1), ends.argmax(axis=-1), len(weeks))
        for row in range(3):
            later = _later(now, path, after, which[row].astype(np.float64))
            under = viable_share(self.wide, later, self.speed[row]) / FRESH < self.threshold
            fresh = np.isnan(self.hours[row]) & (which[row] < len(weeks))
            first = under.argmax(axis=-1)
            self.hours[row, fresh] = past + which[row, fresh] * hours + first[fresh] + 1
            if row == 0:
                self._note(fresh, later, first)

    def told(self) -> list[DaysLeft]:
        days = np.where(self.hours <= MOST_DAYS * A_DAY, self.hours / A_DAY, np.nan)
        ends = [[None if np.isnan(each) else float(each) for each in row] for row in days.T]
        return [DaysLeft(row[0], row[1], row[2], self.limiting[place]) for place, row in enumerate(ends)]


def _repeated(now: Doses, after: Doses, weeks: Numbers) -> Doses:
    """The doses after so many weeks, weeks as last axis. It is never colder than it was."""
    grown = {
        name: getattr(now, name)[:, None] + (getattr(after, name) - getattr(now, name))[:, None] * weeks
        for name in _FIVE
    }
    return replace(now, coldest_c=now.coldest_c[:, None], **grown)


def _later(now: Doses, path: Doses, after: Doses, weeks: Numbers) -> Doses:
    """The hours of the same week, each bundle so many weeks later."""
    grown = {
        name: getattr(path, name) + ((getattr(after, name) - getattr(now, name)) * weeks)[:, None]
        for name in _FIVE
    }
    return replace(path, **grown)


def rounded_days(days: float) -> int:
    """As days are told: to one below fourteen, to seven above [days]. Always with their band."""
    return round(days) if days < 14 else 7 * round(days / 7)
