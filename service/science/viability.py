"""What share of a bundle is still viable, what limits it, and how long it keeps.

Viable: a bud or scion that would still take if grafted well on sound stock. It is not the take itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from service.science.chill import Portions
from service.science.daylight import Numbers
from service.science.hazards import Doses, Hazard, Traits, age, dose_trace
from service.science.hours import A_DAY, A_WEEK
from service.science.parameters import value

FRESH = value("viability", "fresh")
_EXPONENTS = [
    value("viability", f"exponent_{each}") for each in ("reserve", "drying", "mould", "budbreak", "ethylene")
]
_BAND = value("viability", "band")
_THRESHOLD = value("viability", "threshold")
MOST_DAYS = 730  # beyond it is said: over two years
_POINTS = np.linspace(-3, 3, 61)
_WEIGHTS = np.exp(-(_POINTS**2) / 2)
_HAZARDS = tuple(Hazard)
_PLAIN = ("reserve", "lost_pct", "mould", "bud", "ethylene", "coldest_c", "hours")


class Measured(StrEnum):
    """What the hours of a bundle rest on, which sets how far the estimate may be out."""

    LOGGER = "logger"
    IN_PACK = "in_pack"
    NOMINAL = "nominal"


@dataclass(frozen=True)
class Ageing:
    """How much faster (above 1) or slower wood ages here: ln th is taken as normal around `mu` with `sigma` [-]."""

    mu: float = 0.0
    sigma: float = value("viability", "sigma_logger")

    def factor(self, sigmas: ArrayLike) -> Numbers:
        return np.exp(self.mu + np.asarray(sigmas, np.float64) * self.sigma)


def ageing_before_takes(measured: Measured) -> Ageing:
    """Before any take: 0.30 with a logger, 0.25 with humidity inside the pack too, 0.40 for a named temperature (judgement)."""
    return Ageing(0.0, value("viability", f"sigma_{measured}"))


def hazard_terms(traits: Traits, doses: Doses, faster: ArrayLike = 1.0) -> Numbers:
    """How much each hazard takes off the logarithm of the viable share.

    Parameters
    ----------
    traits, doses : of bundles; of a trace, `traits.by_hour()`.
    faster : how much faster wood ages here [-], above 0; freezing is not scaled by it.

    Returns
    -------
    ln 2 (th D)^n of the five doses and H of freezing [-], in the order of `Hazard` along the first axis. n is 3 for
    reserves, drying and ethylene, 2 for mould, 6 for budbreak: losses start slowly and then run (judgement).

    Notes
    -----
    Freezing, of the coldest hour below 0 °C: H = -ln(1 - 1/(1+exp(k (Tmin-T50)))), T50 = (T10+T90)/2, k = 2 ln 9/(T10-T90),
    with the temperatures that kill a tenth and nine tenths of swelling buds in half an hour (published for five groups).
    """
    th = np.asarray(faster, np.float64)
    dried = doses.lost_pct / traits.lost_half_pct
    five = [
        np.log(2) * (th * dose) ** exponent
        for dose, exponent in zip(
            (doses.reserve, dried, doses.mould, doses.bud, doses.ethylene), _EXPONENTS, strict=True
        )
    ]
    middle, steep = (
        (traits.kill10_c + traits.kill90_c) / 2,
        2 * np.log(9) / (traits.kill10_c - traits.kill90_c),
    )
    # -ln(1 - 1/(1+e^z)) is ln(1+e^-z), which stays a number however cold it was.
    frozen = np.where(
        doses.coldest_c < 0, np.logaddexp(0, -steep * (np.minimum(doses.coldest_c, 0) - middle)), 0.0
    )
    return np.stack(np.broadcast_arrays(*five, frozen))


def viable_share(traits: Traits, doses: Doses, faster: ArrayLike = 1.0) -> Numbers:
    """V = V0 exp(-sum of `hazard_terms`) [-], from 0 to V0 = 0.97 (judgement)."""
    return np.asarray(FRESH * np.exp(-hazard_terms(traits, doses, faster).sum(axis=0)))


@dataclass(frozen=True)
class Viability:
    """Of one bundle: the expected share, the central one, the band four in five lie in [-], and what each hazard has of it."""

    expected: float
    central: float
    low: float
    high: float
    shares: dict[Hazard, float]
    limiting: Hazard | None


def estimate(traits: Traits, doses: Doses, ageing: Ageing | None = None) -> Viability:
    """The viable share of one bundle with its band.

    Parameters
    ----------
    traits, doses : of one bundle.
    ageing : what is known of how fast wood ages here; None: nothing yet, with a logger.

    Returns
    -------
    Expected: the mean over ln th, 61 points from -3 to 3 sigma weighed by exp(-z²/2). Central: at exp(mu). Band: at
    exp(mu ± 1.2816 sigma). Limiting: the largest term, None while nothing has aged.
    """
    speed = ageing or Ageing()
    low, central, high = viable_share(traits, doses, speed.factor([_BAND, 0, -_BAND])).tolist()
    expected = float(np.average(viable_share(traits, doses, speed.factor(_POINTS)), weights=_WEIGHTS))
    return Viability(expected, central, low, high, *_split(hazard_terms(traits, doses, speed.factor(0))))


def _split(terms: Numbers) -> tuple[dict[Hazard, float], Hazard | None]:
    total = float(terms.sum())
    if total <= 0:
        return dict.fromkeys(_HAZARDS, 0.0), None
    shares = dict(zip(_HAZARDS, (terms / total).tolist(), strict=True))
    return shares, max(shares, key=lambda each: shares[each])


def estimate_nominal(
    traits: Traits,
    before: Doses,
    temp_c: float,
    hours: int,
    spread_c: float = value("viability", "nominal_fridge"),
) -> Viability:
    """The viable share of one bundle in a store of which only a temperature is said.

    Parameters
    ----------
    traits, before : of one bundle, when it was put there.
    temp_c : what the store is said to have [°C].
    hours : how long it lay there [h].
    spread_c : how far it may be out, either way [°C]: 2 in a household fridge, 1 in a watched cold room (judgement).

    Returns
    -------
    As `estimate` with sigma 0.40; the low end of the band at `spread_c` warmer, the high end at `spread_c` colder. Call
    it nominal.
    """
    speed = ageing_before_takes(Measured.NOMINAL)
    ends = [
        estimate(traits, age(traits, before, np.full(hours, temp_c + more)), speed)
        for more in (0, spread_c, -spread_c)
    ]
    middle, warm, cold = ends
    return Viability(middle.expected, middle.central, warm.low, cold.high, middle.shares, middle.limiting)


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
    traits: Traits, doses: Doses, week_temp_c: ArrayLike, week_humidity_pct: ArrayLike | None = None, ageing: Ageing | None = None,
    threshold: float = _THRESHOLD,
) -> list[DaysLeft]:  # fmt: skip
    """How long bundles keep if the last week goes on repeating.

    Parameters
    ----------
    traits, doses : of many bundles, one axis.
    week_temp_c : the last hours of each [°C], axis of bundles then hours; usually 168, no gaps.
    week_humidity_pct : of the same hours [%]; None: not measured.
    ageing : what is known of how fast wood ages here, the same for all.
    threshold : of what there was at the start [-], from 0 to 1; 0.75 (judgement).

    Returns
    -------
    One each, in days to the hour: the first at which V/V0 is below the threshold. 0 where it is already.
    """
    speed = (ageing or Ageing()).factor([0, _BAND, -_BAND])
    now, wide = doses, traits.by_hour()
    week = np.atleast_2d(np.asarray(week_temp_c, np.float64))
    crossed = np.full((3, len(week)), np.nan)
    limiting: list[Hazard | None] = [None] * len(week)
    begun = viable_share(traits, doses, speed[:, None]) / FRESH < threshold
    crossed[begun] = 0
    _note(limiting, begun[0], hazard_terms(traits, doses, speed[0]))
    times = max(1, 4 * A_WEEK // week.shape[1])
    warm = np.tile(week, (1, times))
    damp = (
        None
        if week_humidity_pct is None
        else np.tile(np.broadcast_to(week_humidity_pct, week.shape), (1, times))
    )
    past = 0
    while past < MOST_DAYS * A_DAY and np.isnan(crossed).any():
        path, now = dose_trace(traits, now, warm, damp)
        under = viable_share(wide, path, speed[:, None, None]) / FRESH < threshold
        first = under.argmax(axis=-1)
        fresh = under.any(axis=-1) & np.isnan(crossed)
        crossed[fresh] = past + first[fresh] + 1
        terms = hazard_terms(wide, path, speed[0])
        _note(limiting, fresh[0], np.take_along_axis(terms, first[0][None, :, None], axis=-1)[..., 0])
        past += warm.shape[1]
    days = np.where(crossed <= MOST_DAYS * A_DAY, crossed / A_DAY, np.nan)
    ends = [[_or_over(each) for each in row] for row in days.T]
    return [DaysLeft(row[0], row[1], row[2], limiting[place]) for place, row in enumerate(ends)]


def _note(limiting: list[Hazard | None], fresh: Numbers, terms: Numbers) -> None:
    for place in np.flatnonzero(fresh):
        limiting[place] = _HAZARDS[int(terms[:, place].argmax())]


def _or_over(days: float) -> float | None:
    return None if np.isnan(days) else float(days)


def excursion_cost(
    traits: Traits, before: Doses, temp_c: ArrayLike, excursion: ArrayLike, ageing: Ageing | None = None
) -> DaysLeft:
    """What a warm or a cold spell cost one bundle: days left without it less days left with it.

    Parameters
    ----------
    traits, before : of one bundle, at the beginning of the record.
    temp_c : its hours [°C], no gaps.
    excursion : which of them were the spell [true or false].
    ageing : what is known of how fast wood ages here.

    Returns
    -------
    Days lost, central and at both ends of the band; an end is None where it keeps over two years either way. Without the
    spell its hours count as the median of the others, and in both cases the last week outside the spell goes on repeating.
    """
    temp, out = np.asarray(temp_c, np.float64), np.asarray(excursion, np.bool_)
    usual = temp[~out]
    if not usual.size:
        raise ValueError("All hours are the spell: nothing says what it would have been without.")
    without = np.where(out, np.median(usual), temp)
    ends = Traits(*(np.atleast_1d(getattr(traits, each)) for each in traits.__dataclass_fields__))
    left = [
        days_left(ends, _as_one(age(traits, before, hours)), usual[None, -A_WEEK:], None, ageing)[0]
        for hours in (without, temp)
    ]
    lost = [_difference(getattr(left[0], end), getattr(left[1], end)) for end in ("central", "low", "high")]
    return DaysLeft(lost[0], lost[1], lost[2], left[1].limiting)


def _difference(without: float | None, with_it: float | None) -> float | None:
    if with_it is None:
        return None if without is None else 0.0
    return (float(MOST_DAYS) if without is None else without) - with_it


def _as_one(doses: Doses) -> Doses:
    """One bundle as the only one of a column."""
    chill = Portions(np.atleast_1d(doses.chill.portions), np.atleast_1d(doses.chill.precursor))
    five = {name: np.atleast_1d(getattr(doses, name)) for name in _PLAIN}
    return replace(doses, chill=chill, **five)


def weekly_curve(
    traits: Traits, doses: Doses, week_temp_c: ArrayLike, weeks: int, ageing: Ageing | None = None
) -> Sequence[tuple[float, float, float]]:
    """The share of one bundle at the end of each of the coming weeks, if the last goes on repeating.

    Parameters
    ----------
    traits, doses : of one bundle, now.
    week_temp_c : its last 168 hours [°C], no gaps.
    weeks : how many [weeks].
    ageing : what is known of how fast wood ages here.

    Returns
    -------
    Low, central and high share [-] of each week.
    """
    speed = (ageing or Ageing()).factor([_BAND, 0, -_BAND])
    path, now = [], doses
    for _ in range(weeks):
        now = age(traits, now, week_temp_c)
        low, central, high = viable_share(traits, now, speed).tolist()
        path.append((low, central, high))
    return path


class AgeLight(StrEnum):
    """What age alone says."""

    WITHIN = "within"
    LATE = "late"
    BEYOND = "beyond"


def light_by_age(age_weeks: float, keep_weeks_min: float, keep_weeks_max: float) -> AgeLight:
    """Where nothing is known of the store: no share, only where the age lies in the keeping range of its group [weeks]."""
    if age_weeks <= keep_weeks_min:
        return AgeLight.WITHIN
    return AgeLight.LATE if age_weeks <= keep_weeks_max else AgeLight.BEYOND
