"""How long the day is, and hours of temperature from a day's lowest and highest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.science.parameters import value

Numbers: TypeAlias = NDArray[np.float64]
_AMPLITUDE, _SHIFT = value("day_length", "amplitude"), value("day_length", "shift")
_RIM, _HOUR_ANGLE = value("sun_times", "rim"), value("sun_times", "hour_angle")
_AFTER_SUNSET, _SHORT_NIGHT = value("hourly", "after_sunset"), value("hourly", "short_night")
_MOMENT = 1.01  # beside a polar day there may be no night at all; no hour of it is asked for


def day_length(latitude_deg: ArrayLike, day_of_year: ArrayLike) -> Numbers:
    """The most hours the sun can shine on a day.

    Parameters
    ----------
    latitude_deg : north positive [degrees], from -90 to 90.
    day_of_year : 1 on 1 January [-], from 1 to 366.

    Returns
    -------
    Day length [h], from 0 (polar night) to 24 (polar day); the two arguments are broadcast against each other.

    Notes
    -----
    Declination 0.409 sin(2 pi J / 365 - 1.39) (equation 24), sunset at the hour angle acos(-tan(lat) tan(decl))
    (equation 25), length 24/pi times that (equation 34) [1]_. The sun counts as a point and the air as nothing, so the
    days are some minutes shorter than those of `sun_times`.

    References
    ----------
    .. [1] Allen, Pereira, Raes and Smith 1998, Crop evapotranspiration, FAO Irrigation and Drainage Paper 56, chapter 3.
    """
    latitude = np.radians(np.asarray(latitude_deg, np.float64))
    day = np.asarray(day_of_year, np.float64)
    declination = _AMPLITUDE * np.sin(2 * np.pi / 365 * day - _SHIFT)
    sunset = np.arccos(np.clip(-np.tan(latitude) * np.tan(declination), -1, 1))
    return np.asarray(24 / np.pi * sunset)


@dataclass(frozen=True)
class SunTimes:
    """Sunrise and sunset in local solar time [h]; `is_polar` where the sun does not rise or does not set."""

    sunrise_h: Numbers
    sunset_h: Numbers
    is_polar: NDArray[np.bool_]

    @property
    def day_h(self) -> Numbers:
        return self.sunset_h - self.sunrise_h


def sun_times(latitude_deg: ArrayLike, day_of_year: ArrayLike) -> SunTimes:
    """When the sun's upper rim rises and sets.

    Parameters
    ----------
    latitude_deg : north positive [degrees], from -90 to 90.
    day_of_year : 1 on 1 January [-], from 1 to 366.

    Returns
    -------
    Sunrise and sunset [h, local solar time]: 12 and 12 in the polar night, 0 and 24 on a polar day.

    Notes
    -----
    Declination by a Fourier series [1]_; the sun stands 0.8333 degrees under the horizon, for its rim and the bending of
    light [2]_. This is the day length that `hourly_temperatures` was published with.

    References
    ----------
    .. [1] Spencer 1971, Fourier series representation of the position of the sun.
    .. [2] Almorox, Hontoria and Benito 2005; as coded in the R package chillR 0.77.
    """
    latitude = np.radians(np.asarray(latitude_deg, np.float64))
    turn = 2 * np.pi / 365 * (np.asarray(day_of_year, np.float64) - 1)
    declination = value("sun_times", "constant") + sum(
        value("sun_times", f"cos_{n}") * np.cos(n * turn) + value("sun_times", f"sin_{n}") * np.sin(n * turn)
        for n in (1, 2, 3)
    )
    cosine = (np.sin(np.radians(_RIM)) - np.sin(latitude) * np.sin(declination)) / (
        np.cos(latitude) * np.cos(declination)
    )
    half = np.degrees(np.arccos(np.clip(cosine, -1, 1))) / _HOUR_ANGLE
    return SunTimes(12 - half, 12 + half, np.asarray(np.abs(cosine) > 1))


def hourly_temperatures(
    lowest_c: ArrayLike, highest_c: ArrayLike, latitude_deg: float, day_of_year: ArrayLike
) -> Numbers:
    """Twenty-four temperatures a day from its lowest and highest.

    Parameters
    ----------
    lowest_c, highest_c : of each day [°C]; the last axis is days one after the other, any axes before it are series. Not a
        number where a day was not measured.
    latitude_deg : north positive [degrees].
    day_of_year : of each day, 1 on 1 January [-].

    Returns
    -------
    Temperatures [°C], one axis more than was given: hour 0 to 23 of local solar time. Not a number on a day that was not
    measured, after the sunset before it and until the sunrise after it: a gap is never cold.

    Notes
    -----
    By day a sine that would end four hours after sunset, by night a logarithm down to the next lowest [1]_. As published
    in code [2]_: the morning takes today's day length for yesterday's sunset temperature and its divisor lacks the one
    that the evening's has, so that the curve may dip a little below the lowest before sunrise. Before the first sunrise
    and after the last sunset of the record stands that day's lowest. On a day without sunrise or sunset every hour is
    the mean of the two. After a night of less than four hours the morning's divisor has the one as well (judgement):
    without it the curve runs away.

    References
    ----------
    .. [1] Linvill 1990, Calculating chilling hours and chill units from daily maximum and minimum temperature observations,
       HortScience 25(1):14-16.
    .. [2] R package chillR 0.77, make_hourly_temps; the original of [1] was not seen.
    """
    low, high = np.broadcast_arrays(np.asarray(lowest_c, np.float64), np.asarray(highest_c, np.float64))
    sun = sun_times(latitude_deg, np.broadcast_to(np.asarray(day_of_year, np.float64), low.shape[-1:]))
    rise, set_, long = sun.sunrise_h[:, None], sun.sunset_h[:, None], sun.day_h[:, None]
    hour = np.arange(24.0)
    least, spread = low[..., None], (high - low)[..., None]

    def by_day(at: Numbers) -> Numbers:
        return np.asarray(least + spread * np.sin(np.pi * (at - rise) / (long + _AFTER_SUNSET)))

    morning = _morning(low, high, sun, hour)
    evening = _evening(low, by_day(set_)[..., 0], sun, hour)
    found = np.where(hour <= rise, morning, np.where(hour >= set_, evening, by_day(hour)))
    mean = ((low + high) / 2)[..., None]
    measured = ~np.isnan(low + high)[..., None]
    return np.asarray(np.where(measured, np.where(sun.is_polar[:, None], mean, found), np.nan))


def _morning(low: Numbers, high: Numbers, sun: SunTimes, hour: Numbers) -> Numbers:
    """From yesterday's sunset to sunrise; on the first day its lowest."""
    before, top = _shifted(low, 1), _shifted(high, 1)
    set_before = _shifted(sun.sunset_h, 1)
    day_h = sun.day_h
    at_sunset = before + (top - before) * np.sin(np.pi * day_h / (day_h + _AFTER_SUNSET))
    night_h = 24 - (set_before - sun.sunrise_h)
    steep = (at_sunset - low) / np.log(np.where(night_h < _SHORT_NIGHT, night_h + 1, night_h).clip(_MOMENT))
    curve = at_sunset[..., None] - steep[..., None] * np.log(hour + 25 - set_before[:, None])
    curve[..., 0, :] = low[..., 0, None]
    return np.asarray(curve)


def _evening(low: Numbers, at_sunset: Numbers, sun: SunTimes, hour: Numbers) -> Numbers:
    """From sunset to midnight, on the way to tomorrow's lowest; on the last day its lowest."""
    after, rise_after = _shifted(low, -1), _shifted(sun.sunrise_h, -1)
    steep = (at_sunset - after) / np.log((25 - (sun.sunset_h - rise_after)).clip(_MOMENT))
    past = np.maximum(1, hour - sun.sunset_h[:, None] + 1)
    curve = at_sunset[..., None] - steep[..., None] * np.log(past)
    curve[..., -1, :] = low[..., -1, None]
    return np.asarray(curve)


def _shifted(days: Numbers, by: int) -> Numbers:
    """Each day's neighbour: the day before (1) or after (-1); at the end the day itself."""
    found = np.roll(days, by, axis=-1)
    end = 0 if by > 0 else -1
    found[..., end] = days[..., end]
    return found
