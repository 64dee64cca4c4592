"""Chill, by five counts, of one series or of many at once.

Each takes hourly temperatures whose last axis is hours. What was counted is carried in a small frozen state, so that new
hours go on from it and nothing is counted twice. An hour that is not known (not a number) earns nothing, is never cold,
and is told beside the result.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from service.science.daylight import Numbers
from service.science.parameters import value

_LOWER, _UPPER = value("chilling_hours", "lower"), value("chilling_hours", "upper")
_UPPER_WITHOUT_FLOOR = value("chilling_hours_no_floor", "upper")
_UTAH = ("up_to_1.4", "up_to_2.4", "up_to_9.1", "up_to_12.4", "up_to_15.9", "up_to_18", "above")
_UTAH_LIMITS = np.array([float(name.removeprefix("up_to_")) for name in _UTAH[:-1]])
_UTAH_WEIGHTS = np.array([value("utah", name) for name in _UTAH])
_LEAST_POSITIVE = value("positive", "least")
_E0, _E1, _A0, _A1 = (value("dynamic_model", name) for name in ("E0", "E1", "A0", "A1"))
_SLOPE, _TF, _KELVIN = (value("dynamic_model", name) for name in ("slope", "Tf", "kelvin"))
_FEW = 8  # series that are quicker walked one by one than all at once
_BLOCK = (
    32  # hours that are prepared at once: enough to pay, few enough to stay in the processor's own memory
)


def chilling_hours(temp_c: ArrayLike, *, floor: bool = True) -> Numbers:
    """What each hour counts as a chilling hour.

    Parameters
    ----------
    temp_c : hourly temperatures [°C]; not a number where not known.
    floor : whether hours below 0 °C count nothing (the usual form); without a floor they count as well.

    Returns
    -------
    1 or 0 [h], one an hour: 1 for 0 <= T <= 7.2 °C [1]_, without a floor for T <= 7.2 °C [2]_; both ends included.

    References
    ----------
    .. [1] Weinberger 1950, Proc Am Soc Hortic Sci 56:122-128; Bennett 1949, Calif Agric 3(11):9,12.
    .. [2] Common practice, no source.
    """
    temp = np.asarray(temp_c, np.float64)
    cold = (temp >= _LOWER) & (temp <= _UPPER) if floor else temp <= _UPPER_WITHOUT_FLOOR
    return cold.astype(np.float64)


def utah_units(temp_c: ArrayLike) -> Numbers:
    """What each hour counts in Utah chill units.

    Parameters
    ----------
    temp_c : hourly temperatures [°C]; not a number where not known.

    Returns
    -------
    Weights [CU], one an hour: 0 up to 1.4 °C, 0.5 up to 2.4, 1 up to 9.1, 0.5 up to 12.4, 0 up to 15.9, -0.5 up to 18, -1
    above; 0 where not known.

    Notes
    -----
    The Celsius table [1]_; a table in Fahrenheit is in circulation too and does not convert exactly. A fridge at 1 °C
    earns nothing and one at 3 °C one an hour: not for wood in store.

    References
    ----------
    .. [1] Richardson, Seeley and Walker 1974, HortScience 9(4):331-332; ends of intervals as in the R package chillR 0.77.
    """
    temp = np.asarray(temp_c, np.float64)
    weights = _UTAH_WEIGHTS[np.searchsorted(_UTAH_LIMITS, temp, "left")]
    return np.asarray(np.where(np.isnan(temp), 0.0, weights))


def positive_units(temp_c: ArrayLike) -> Numbers:
    """What each hour counts in positive chill units: Utah's weights without the negative ones.

    Parameters
    ----------
    temp_c : hourly temperatures [°C]; not a number where not known.

    Returns
    -------
    Weights [PCU], one an hour, from 0 to 1 [1]_.

    References
    ----------
    .. [1] Linsley-Noakes and Allan 1994, Sci Hortic 59(2):107-113.
    """
    return np.maximum(utah_units(temp_c), _LEAST_POSITIVE)


@dataclass(frozen=True)
class Portions:
    """How far the Dynamic Model has come, per series: finished portions [CP], and the precursor that is under way [-]."""

    portions: Numbers
    precursor: Numbers


def no_portions(series: int | tuple[int, ...] = ()) -> Portions:
    """The beginning of a count, for so many series."""
    return Portions(np.zeros(series), np.zeros(series))


def chill_portions(temp_c: ArrayLike, start: Portions | None = None) -> tuple[Numbers, Portions]:
    """Chill portions by the Dynamic Model, hour by hour.

    Parameters
    ----------
    temp_c : hourly temperatures [°C], the last axis hours, any axes before it series; not a number where not known.
    start : where an earlier count ended; None begins at nothing.

    Returns
    -------
    Portions so far [CP] after each hour, of the shape of `temp_c`; and the state to go on from.

    Notes
    -----
    With TK = T + 273: xs = A0/A1 exp((E1-E0)/TK); k1 = A1 exp(-E1/TK); x = xs - (xs-x) exp(-k1); once x >= 1 a portion
    xi x is laid down, xi = 1/(1+exp(-slope Tf (TK-Tf)/TK)), and what is left of x carries on [1]_ [2]_. One step an hour:
    the R package chillR gives the same a step later. In an hour that is not known both stand still.

    References
    ----------
    .. [1] Fishman, Erez and Couvillon 1987, J Theor Biol 124:473-483 and 126:309-321.
    .. [2] Erez, Fishman, Linsley-Noakes and Allan 1990, Acta Hortic 276:165-174; numbers as in the R package chillR 0.77.
    """
    temp = np.asarray(temp_c, np.float64)
    flat = np.ascontiguousarray(temp.reshape(-1, temp.shape[-1]).T)
    begins = start or no_portions(temp.shape[:-1])
    precursor = np.array(begins.precursor, np.float64).ravel()
    total = np.array(begins.portions, np.float64).ravel()
    trace = np.empty_like(flat)
    for part in blocks_of(len(flat), flat.shape[1]):
        total = portion_block(flat[part], precursor, total, trace[part])
    after = Portions(total.reshape(temp.shape[:-1]), precursor.reshape(temp.shape[:-1]))
    return trace.T.reshape(temp.shape), after


def blocks_of(hours: int, series: int) -> Iterator[slice]:
    """Stretches of hours to prepare at once: enough to pay, few enough to stay in the processor's own memory."""
    most = max(32, 8_192 // max(1, series))
    for begin in range(0, hours, most):
        yield slice(begin, begin + most)


def portion_block(temp: Numbers, precursor: Numbers, total: Numbers, trace: Numbers) -> Numbers:
    """Some hours (first axis) of all series: the precursor goes on in place, `trace` is filled, the total comes back."""
    kelvin = temp + _KELVIN
    level = _A0 / _A1 * np.exp((_E1 - _E0) / kelvin)
    keeps = np.exp(-_A1 * np.exp(-_E1 / kelvin))
    # Not known: the level is the precursor itself, so that nothing moves.
    unknown = np.isnan(temp)
    has_gaps = bool(unknown.any())
    if has_gaps:
        level, keeps = np.where(unknown, 0.0, level), np.where(unknown, 1.0, keeps)
    gains = level * (1 - keeps)
    trace[:] = 0
    if temp.shape[1] <= _FEW:
        shares = _laid_share(kelvin)
        for at in range(temp.shape[1]):
            precursor[at] = _walk_one(
                float(precursor[at]), keeps[:, at], gains[:, at], shares[:, at], trace[:, at]
            )
    else:
        for hour in range(len(temp)):
            precursor *= keeps[hour]
            precursor += gains[hour]
            ripe = np.flatnonzero(precursor >= 1)
            if len(ripe):
                _lay_down(ripe, kelvin[hour], precursor, trace[hour])
    trace[0] += total
    np.cumsum(trace, axis=0, out=trace)
    return np.array(trace[-1])


def _walk_one(ripens: float, keeps: Numbers, gains: Numbers, shares: Numbers, trace: Numbers) -> float:
    """The same steps for one series, with plain numbers: a site or a bundle by itself is not worth an array an hour."""
    for hour, (kept, gained, share) in enumerate(
        zip(keeps.tolist(), gains.tolist(), shares.tolist(), strict=True)
    ):
        ripens = ripens * kept + gained
        if ripens >= 1:
            gone = share * ripens
            trace[hour] = gone
            ripens -= gone
    return ripens


def _lay_down(
    ripe: np.ndarray[tuple[int], np.dtype[np.intp]], kelvin: Numbers, precursor: Numbers, laid: Numbers
) -> None:
    """A portion where the precursor is ripe."""
    gone = _laid_share(kelvin[ripe]) * precursor[ripe]
    laid[ripe] = gone
    precursor[ripe] -= gone


def _laid_share(kelvin: Numbers) -> Numbers:
    """How much of a ripe precursor is laid down. It can be ripe and the hour unknown only where a count began so: it waits."""
    exponent = _SLOPE * _TF * (kelvin - _TF) / kelvin
    share = 1 / (1 + np.exp(np.minimum(-exponent, 700)))
    return np.where(np.isnan(kelvin), 0.0, share)
