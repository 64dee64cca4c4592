"""Mean kinetic temperature: one number for a record of temperatures, in which warm hours weigh more."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from service.science.parameters import value

_ACTIVATION, _GAS, _KELVIN = (
    value("mean_kinetic", name) for name in ("activation", "gas_constant", "kelvin")
)


def mean_kinetic_temperature(
    temp_c: ArrayLike, hours: ArrayLike | None = None, activation_kj_mol: float = _ACTIVATION
) -> float | None:
    """The steady temperature that would have aged what is stored as much as the record did.

    Parameters
    ----------
    temp_c : temperatures [°C]; what is not a number is left out.
    hours : how long each lasted [h]; None: all equally long.
    activation_kj_mol : energy of activation [kJ/mol]; 83.144 as published, above 0.

    Returns
    -------
    Mean kinetic temperature [°C], at least the mean; None where no temperature is known.

    Notes
    -----
    T = (dH/R)/(-ln(mean of exp(-dH/(R T)))) with T in kelvin, 273.15 at 0 °C [1]_ [2]_. With the published numbers dH/R is
    10,000 K. Made for medicines: dH equals a Q10 of 3.64 between 0 and 10 °C, resting wood has about 2. A plain summary of
    a record, then; the age of wood is computed from its hours.

    References
    ----------
    .. [1] USP 29, chapter 1160.
    .. [2] Haynes 1971, J Pharm Sci (seen in a compilation).
    """
    temp = np.asarray(temp_c, np.float64).ravel()
    weights = np.ones_like(temp) if hours is None else np.asarray(hours, np.float64).ravel()
    known = ~np.isnan(temp)
    if not weights[known].sum() > 0:
        return None
    steep = activation_kj_mol / _GAS
    # Against the coldest, so that no exponential vanishes.
    coldest = float(temp[known].min()) + _KELVIN
    rates = np.exp(steep / coldest - steep / (temp[known] + _KELVIN))
    mean = float(np.average(rates, weights=weights[known]))
    return steep / (steep / coldest - math.log(mean)) - _KELVIN
