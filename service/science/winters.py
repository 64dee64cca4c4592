"""The winter of a place out of its days: hours, chill, and the warmth that each kind has had since its rest ended."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

from service.science.chill import Portions, chill_portions
from service.science.daylight import Numbers, hourly_temperatures, sun_times
from service.science.dormancy import AirFacts
from service.science.heat import forcing_per_hour, rest_gate
from service.science.parameters import value

_BUDBREAK_SHARE = value("phases", "budbreak_share")
_ENDS = slice(23, None, 24)  # the last hour of each day
_WEEK = int(value("verdict", "warm_as_last"))


@dataclass(frozen=True)
class Span:
    """The days of one winter as told: from `first` to `last`, both with it, and the lowest and highest of those measured [°C].

    `hours`: the twenty-four temperatures [°C] of those that were measured by the hour; not a number where an hour was not.
    """

    first: date
    last: date
    measured: Mapping[date, tuple[float, float]]
    hours: Mapping[date, Sequence[float]] = field(default_factory=dict)

    @property
    def days(self) -> int:
        return (self.last - self.first).days + 1

    @property
    def count_measured(self) -> int:
        return sum(self.first <= day <= self.last for day in self.measured)

    @property
    def count_by_hour(self) -> int:
        return sum(self.first <= day <= self.last for day in self.hours)


@dataclass(frozen=True)
class Kind:
    """What a kind of wood needs: chill portions [CP], and forcing that costs half a stored bundle [days at 20 °C]."""

    need_cp: float
    forcing_days: float


@dataclass(frozen=True)
class Course:
    """A winter day by day: chill portions so far [CP], hours so far that nobody measured [h], and for each kind its bud dose [-].

    `forcing`: of every hour [days at 20 °C], not a number where nobody measured; `forcing_days`: of each kind, as `Kind` has it.
    """

    portions_cp: Numbers
    unknown_hours: Numbers
    bud_dose: tuple[Numbers, ...]
    forcing: Numbers
    forcing_days: tuple[float, ...]

    def facts(self, kind: int, day: int) -> AirFacts:
        """What the air says of one kind at the end of a day."""
        until = (day % len(self.portions_cp) + 1) * 24
        known = self.forcing[:until][~np.isnan(self.forcing[:until])][-_WEEK:]
        an_hour = float(known.mean()) / self.forcing_days[kind] if len(known) else 0.0
        return AirFacts(
            float(self.portions_cp[day]),
            float(self.bud_dose[kind][day]),
            float(self.unknown_hours[day]),
            an_hour,
        )

    def warmth(self, kind: int) -> Numbers:
        """Of each day: the warmth so far as a share of what brings buds to move [-]; 1 where they move."""
        return np.asarray(self.bud_dose[kind] * _BUDBREAK_SHARE)


def hours_of(span: Span, latitude_deg: float) -> Numbers:
    """The hours of a span of days.

    Parameters
    ----------
    span : days with their lowest and highest [°C].
    latitude_deg : north positive [degrees].

    Returns
    -------
    Temperatures [°C] in one row, 24 a day, not a number where nobody measured: the hours themselves where they were
    measured, elsewhere out of the day's lowest and highest (`daylight.hourly_temperatures`).
    """
    days = [span.first + timedelta(days=day) for day in range(span.days)]
    told = np.array([span.measured.get(day, (np.nan, np.nan)) for day in days], np.float64)
    of_year = np.array([day.timetuple().tm_yday for day in days])
    found = hourly_temperatures(told[:, 0], told[:, 1], latitude_deg, of_year)
    for place, day in enumerate(days):
        if day in span.hours:
            own = np.asarray(span.hours[day], np.float64)
            found[place] = np.where(np.isnan(own), found[place], own)
    return found.ravel()


def days_without_sunrise(span: Span, latitude_deg: float) -> int:
    """On how many days told by lowest and highest alone the sun does not rise or does not set.

    Parameters
    ----------
    span : days with their lowest and highest [°C].
    latitude_deg : north positive [degrees].

    Returns
    -------
    Days [days]; each of their hours is the mean of the lowest and the highest (`daylight.hourly_temperatures`). 0 outside
    the polar circles.
    """
    days = [span.first + timedelta(days=day) for day in range(span.days)]
    of_year = np.array(
        [day.timetuple().tm_yday for day in days if day in span.measured and day not in span.hours]
    )
    return int(sun_times(latitude_deg, of_year).is_polar.sum())


def chill_at_ends(spans: Sequence[Span], latitude_deg: float) -> tuple[Portions, Numbers]:
    """How far the Dynamic Model had come at the end of several spans of one place.

    Parameters
    ----------
    spans : each counted from its own first day.
    latitude_deg : north positive [degrees].

    Returns
    -------
    The state to go on from, one of each span, and the hours of each that nobody measured [h], in which it stood still.
    """
    hours = np.full((len(spans), max(span.days for span in spans) * 24), np.nan)
    for row, span in enumerate(spans):
        hours[row, : span.days * 24] = hours_of(span, latitude_deg)
    _, after = chill_portions(hours)
    asked = np.array([span.days * 24 for span in spans])
    return after, asked - (~np.isnan(hours)).sum(axis=1).astype(np.float64)


def courses(spans: Sequence[Span], latitude_deg: float, kinds: Sequence[Kind]) -> list[Course]:
    """Several winters of one place at once.

    Parameters
    ----------
    spans : a winter each.
    latitude_deg : north positive [degrees].
    kinds : what stands there; the same kinds for every winter.

    Returns
    -------
    A course for each winter. Hours that nobody measured earn neither chill nor warmth, and are counted.
    """
    if not spans:
        return []
    longest = max(span.days for span in spans)
    hours = np.full((len(spans), longest * 24), np.nan)
    for row, span in enumerate(spans):
        hours[row, : span.days * 24] = hours_of(span, latitude_deg)
    portions, _ = chill_portions(hours)
    forcing = forcing_per_hour(hours)
    doses = [
        np.cumsum(rest_gate(portions, kind.need_cp) * forcing, axis=1)[:, _ENDS] / kind.forcing_days
        for kind in kinds
    ]
    unknown = np.cumsum(np.isnan(hours), axis=1)[:, _ENDS]
    return [
        Course(
            portions[row, _ENDS][: span.days],
            unknown[row, : span.days].astype(np.float64),
            tuple(dose[row, : span.days] for dose in doses),
            np.where(np.isnan(hours[row]), np.nan, forcing[row])[: span.days * 24],
            tuple(kind.forcing_days for kind in kinds),
        )
        for row, span in enumerate(spans)
    ]
