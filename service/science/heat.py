"""Warmth, once rest is over: growing degree hours, and forcing with the gate that rest keeps before it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from service.science.daylight import Numbers
from service.science.parameters import value

_TB, _TU, _TC, _STRESS = (value("gdh_asymcur", name) for name in ("Tb", "Tu", "Tc", "stress"))
_BASE, _CAP = value("gdh_linear", "base"), value("gdh_linear", "cap")
_STEEPNESS, _MIDDLE = value("forcing", "steepness"), value("forcing", "middle")
_REFERENCE, _LEAST = value("forcing", "reference"), value("forcing", "least")
_GATE_WIDTH = value("budbreak", "gate_width")


def linear_degree_hours(temp_c: ArrayLike) -> Numbers:
    """What each hour counts in growing degree hours, the straight form.

    Parameters
    ----------
    temp_c : hourly temperatures [°C]; not a number where not known.

    Returns
    -------
    Degree hours [GDH], one an hour: T - 4.5 above 4.5 °C, 20.5 from 25 °C on; 0 below and where not known [1]_.

    Notes
    -----
    That hours above 25 °C count as 25 °C is from memory, unverified; another reading counts them as nothing. In a cold
    store the difference never matters.

    References
    ----------
    .. [1] Richardson, Seeley, Walker, Anderson and Ashcroft 1975, HortScience 10:236-237.
    """
    temp = np.asarray(temp_c, np.float64)
    return np.nan_to_num(np.clip(temp, _BASE, _CAP) - _BASE)


def curved_degree_hours(temp_c: ArrayLike) -> Numbers:
    """What each hour counts in growing degree hours, the curved form (ASYMCUR).

    Parameters
    ----------
    temp_c : hourly temperatures [°C]; not a number where not known.

    Returns
    -------
    Degree hours [GDH], one an hour, from 0 up to 4 °C to 21 at 25 °C and 0 again from 36 °C on; 0 where not known [1]_.

    Notes
    -----
    Rising half a cosine from Tb = 4 to Tu = 25 °C, falling a quarter from there to Tc = 36 °C; no stress (F = 1).

    References
    ----------
    .. [1] Anderson, Richardson and Kesner 1986, Validation of chill unit and flower bud phenology models, Acta Hortic 184:71-78.
    """
    temp = np.asarray(temp_c, np.float64)
    rising = (_TU - _TB) / 2 * (1 + np.cos(np.pi + np.pi * (temp - _TB) / (_TU - _TB)))
    falling = (_TU - _TB) * (1 + np.cos(np.pi / 2 + np.pi / 2 * (temp - _TU) / (_TC - _TU)))
    within, beyond = (temp >= _TB) & (temp <= _TU), (temp > _TU) & (temp <= _TC)
    return np.asarray(_STRESS * np.select([within, beyond], [rising, falling], 0.0))


def forcing_per_hour(temp_c: ArrayLike) -> Numbers:
    """How much of a day at 20 °C an hour is worth to buds whose rest is over.

    Parameters
    ----------
    temp_c : hourly temperatures [°C]; not a number where not known.

    Returns
    -------
    Forcing [days at 20 °C per hour]: f(T)/24, 0 below -1 °C and where not known.

    Notes
    -----
    f(T) = s(T)/s(20), s(T) = 1/(1+exp(-0.185 (T-18.4))). The curve is published [1]_, its numbers are from memory,
    unverified, the cut below -1 °C is judgement. Unlike degree hours it is not nothing in a fridge: roses kept at 0-2 °C for
    12-16 weeks broke bud 7 days sooner at 20 °C [2]_, and f(1 °C) times 84-112 days gives 5.6-7.5.

    References
    ----------
    .. [1] Kramer 1994, as cited in the R package phenor.
    .. [2] Menoud, Mauget and Frossard 1991, Acta Hortic 298:237-245.
    """
    temp = np.asarray(temp_c, np.float64)
    at_reference = 1 + np.exp(-_STEEPNESS * (_REFERENCE - _MIDDLE))
    days = at_reference / (1 + np.exp(-_STEEPNESS * (temp - _MIDDLE)))
    # Compared so that what is not known counts as too cold to move, which is no claim that it was cold: it is told beside.
    return np.asarray(np.where(temp >= _LEAST, days, 0.0) / 24)


def rest_gate(portions_cp: ArrayLike, need_cp: ArrayLike) -> Numbers:
    """How far rest lets warmth count.

    Parameters
    ----------
    portions_cp : chill portions so far [CP].
    need_cp : chill portions that end the rest [CP]; 0 for wood without rest.

    Returns
    -------
    From 0 to 1 [-]; 1 once the need is met, 0.15 at four fifths of it: min(1, 2/(1+exp(-(P-CR)/(0.08 CR)))), judgement.
    """
    need = np.asarray(need_cp, np.float64)
    short = (np.asarray(portions_cp, np.float64) - need) / (_GATE_WIDTH * np.where(need > 0, need, 1))
    return np.asarray(np.where(need > 0, np.minimum(1, 2 / (1 + np.exp(np.clip(-short, -700, 700)))), 1.0))
