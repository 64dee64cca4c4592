"""How hard the air pulls at water."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from service.science.daylight import Numbers
from service.science.parameters import value

_AT_ZERO, _FACTOR, _OFFSET = (value("vapour_pressure", name) for name in ("at_zero", "factor", "offset"))


def saturation_pressure(temp_c: ArrayLike) -> Numbers:
    """Vapour pressure of air that can hold no more, over liquid water.

    Parameters
    ----------
    temp_c : temperatures [°C]; made for -5 to 50.

    Returns
    -------
    es = 0.6108 exp(17.27 T/(T+237.3)) [kPa] [1]_ [2]_.

    References
    ----------
    .. [1] Tetens 1930.
    .. [2] Allen, Pereira, Raes and Smith 1998, FAO Irrigation and Drainage Paper 56, equation 11.
    """
    temp = np.asarray(temp_c, np.float64)
    return np.asarray(_AT_ZERO * np.exp(_FACTOR * temp / (temp + _OFFSET)))


def vapour_deficit(temp_c: ArrayLike, humidity_pct: ArrayLike) -> Numbers:
    """How much more vapour the air could hold.

    Parameters
    ----------
    temp_c : temperatures [°C].
    humidity_pct : relative humidity [%], from 0 to 100; a sensor's 101 counts as 100.

    Returns
    -------
    VPD = es (1 - RH/100) [kPa], never below 0; not a number where one of the two is not known.
    """
    share = np.clip(np.asarray(humidity_pct, np.float64) / 100, 0, 1)
    return np.asarray(saturation_pressure(temp_c) * (1 - share))
