"""What share of a bundle is still viable, what limits it, and how long it keeps.

Viable: a bud or scion that would still take if grafted well on sound stock. It is not the take itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from service.science.daylight import Numbers
from service.science.hazards import Doses, Hazard, Traits
from service.science.parameters import value

FRESH = value("viability", "fresh")
_EXPONENTS = [
    value("viability", f"exponent_{each}") for each in ("reserve", "drying", "mould", "budbreak", "ethylene")
]
BAND = value("viability", "band")
# What nobody measured: what a kind of store has, how far that may be out either way, and where wood is that lies in none.
ASSUMED_C = {kind: value("viability", f"assumed_{kind}") for kind in ("fridge", "cold_room", "cellar")}
SPREAD_C = {
    "fridge": value("viability", "nominal_fridge"),
    "cold_room": value("viability", "nominal_cold_room"),
    "cellar": value("viability", "nominal_fridge"),
}
OUTDOORS_C, INDOORS_C = value("viability", "outdoors"), value("viability", "indoors")
_POINTS = np.linspace(-3, 3, 61)
_WEIGHTS = np.exp(-(_POINTS**2) / 2)
HAZARDS = tuple(Hazard)


class Measured(StrEnum):
    """What the hours of a bundle rest on, which sets how far the estimate may be out."""

    LOGGER = "logger"
    IN_PACK = "in_pack"
    NOMINAL = "nominal"


@dataclass(frozen=True)
class Ageing:
    """How much faster (above 1) or slower wood ages here: ln th is taken as normal around `mu` with `sigma` [-]."""

    mu: float = 0.0
    sigma: float = value("learning", "sigma")

    def factor(self, sigmas: ArrayLike) -> Numbers:
        return np.exp(self.mu + np.asarray(sigmas, np.float64) * self.sigma)


def ageing_with(learned: Ageing, measured: Measured, *, has_long_gap: bool = False) -> Ageing:
    """What was learned of a group, spread no less than what this bundle's hours rest on (judgement); see `Filled`."""
    rests = Measured.NOMINAL if has_long_gap else measured
    least = ageing_before_takes(rests).sigma if rests is Measured.NOMINAL else 0.0
    return Ageing(learned.mu, max(learned.sigma, least))


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
    return np.stack(np.broadcast_arrays(*_terms(traits, doses, faster)))


def _terms(traits: Traits, doses: Doses, faster: ArrayLike) -> Iterator[Numbers]:
    th = np.asarray(faster, np.float64)
    dried = doses.lost_pct / traits.lost_half_pct
    five = (doses.reserve, dried, doses.mould, doses.bud, doses.ethylene)
    for dose, exponent in zip(five, _EXPONENTS, strict=True):
        # Apart, so that many speeds and many moments cost their sum and not their product.
        yield np.log(2) * th**exponent * np.asarray(dose) ** exponent
    middle, steep = (
        (traits.kill10_c + traits.kill90_c) / 2,
        2 * np.log(9) / (traits.kill10_c - traits.kill90_c),
    )
    # -ln(1 - 1/(1+e^z)) is ln(1+e^-z), which stays a number however cold it was.
    yield np.where(
        doses.coldest_c < 0, np.logaddexp(0, -steep * (np.minimum(doses.coldest_c, 0) - middle)), 0.0
    )


def viable_share(traits: Traits, doses: Doses, faster: ArrayLike = 1.0) -> Numbers:
    """V = V0 exp(-sum of `hazard_terms`) [-], from 0 to V0 = 0.97 (judgement)."""
    return np.asarray(FRESH * np.exp(-sum(_terms(traits, doses, faster), np.zeros(()))))


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
    low, central, high = viable_share(traits, doses, speed.factor([BAND, 0, -BAND])).tolist()
    expected = float(np.average(viable_share(traits, doses, speed.factor(_POINTS)), weights=_WEIGHTS))
    return Viability(expected, central, low, high, *_split(hazard_terms(traits, doses, speed.factor(0))))


def expected_share(traits: Traits, doses: Doses, ageing: Ageing) -> Numbers:
    """The expected share at many moments, as `estimate` has it at one [-]. `doses`: an axis of moments; `traits`: of one or each."""
    return np.asarray(
        np.average(
            viable_share(traits.by_hour(), _apart(doses), ageing.factor(_POINTS)), axis=-1, weights=_WEIGHTS
        )
    )


def _apart(doses: Doses) -> Doses:
    """With an axis for how fast they age."""
    return Doses(
        doses.reserve[:, None], doses.lost_pct[:, None], doses.mould[:, None], doses.bud[:, None], doses.ethylene[:, None],
        doses.coldest_c[:, None], doses.chill, doses.hours,
    )  # fmt: skip


def estimates(traits: Traits, doses: Doses, ageing: Ageing) -> list[Viability]:
    """As `estimate`, of each of many bundles."""
    expected = expected_share(traits, doses, ageing).tolist()
    bands = viable_share(traits.by_hour(), _apart(doses), ageing.factor([BAND, 0, -BAND])).tolist()
    terms = hazard_terms(traits, doses, ageing.factor(0)).T
    return [
        Viability(one, central, low, high, *_split(each))
        for one, (low, central, high), each in zip(expected, bands, terms, strict=True)
    ]


def _split(terms: Numbers) -> tuple[dict[Hazard, float], Hazard | None]:
    total = float(terms.sum())
    if total <= 0:
        return dict.fromkeys(HAZARDS, 0.0), None
    shares = dict(zip(HAZARDS, (terms / total).tolist(), strict=True))
    return shares, max(shares, key=lambda each: shares[each])
