"""What stored wood ages by: five doses that grow hour by hour, and the coldest hour.

A dose of 1 would alone have cost half the bundle. Doses are carried in a small frozen state, of one bundle or of many at
once, and new hours go on from it. All hours are shared UTC hours without gaps: fill them first (`hours.fill_gaps`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from service.science.chill import Portions, blocks_of, portion_block
from service.science.daylight import Numbers
from service.science.groups import Group
from service.science.heat import forcing_per_hour, rest_gate
from service.science.moisture import vapour_deficit
from service.science.packings import Packing
from service.science.parameters import value

_Q10 = value("reserve", "q10")
_LOSS, _DIAMETER, _WAXED = (value("drying", name) for name in ("loss", "diameter", "waxed"))
_COLDEST_DRYING, _STORE_HUMIDITY = value("drying", "coldest"), value("drying", "humidity")
_MOULD_DAYS, _MOULD_FACTOR, _MOULD_ABOVE = (
    value("mould", name) for name in ("time", "factor", "factor_above")
)
_MOULD_BEND, _MOULD_LEAST, _DISINFECTED = (value("mould", name) for name in ("bend", "least", "disinfected"))
_ETHYLENE_AT, _ETHYLENE_FACTOR, _ETHYLENE_DAYS = (
    value("ethylene", name) for name in ("reference", "factor", "time")
)


class Hazard(StrEnum):
    RESERVE = "reserve"
    DRYING = "drying"
    MOULD = "mould"
    BUDBREAK = "budbreak"
    ETHYLENE = "ethylene"
    FREEZING = "freezing"


class Fruit(StrEnum):
    NONE = "none"
    SOME = "some"
    RIPE = "ripe"


class HoursNotKnown(ValueError):
    """A gap among hours that age wood: taken as nothing it would be cold."""


@dataclass(frozen=True)
class Keeping:
    """How a bundle lies. `in_pack`: the humidity was measured inside the pack; `ethylene_ppm` wins over `fruit`."""

    packing: Packing = Packing.DAMP_PAPER
    diameter_mm: float = _DIAMETER
    in_pack: bool = False
    waxed: bool = False
    disinfected: bool = False
    fruit: Fruit = Fruit.NONE
    ethylene_ppm: float | None = None


@dataclass(frozen=True)
class Traits:
    """What the hours of a bundle are multiplied with; plain numbers, or one each of many bundles.

    `need_cp` [CP]; `per_forcing_day` [1/days at 20 °C], 0 where buds are not modelled; `reserve_weeks` [weeks at 0 °C];
    `lost_half_pct` [% of fresh mass]; `kill10_c`, `kill90_c` [°C]; `mould`: group factor times wetness [-]; `drying`
    [% per kPa and day]; `ethylene`: fruit times packing [-].
    """

    need_cp: Numbers
    per_forcing_day: Numbers
    reserve_weeks: Numbers
    lost_half_pct: Numbers
    kill10_c: Numbers
    kill90_c: Numbers
    mould: Numbers
    drying: Numbers
    ethylene: Numbers

    def by_hour(self) -> Traits:
        """The same with an axis for hours; of one bundle, as the only one of a column."""
        return Traits(*(np.asarray(getattr(self, each.name))[..., None] for each in fields(self)))


def traits_of(group: Group, keeping: Keeping | None = None, need_cp: float | None = None) -> Traits:
    """Group and keeping as the numbers that doses grow by.

    Parameters
    ----------
    group : of the species.
    keeping : how the bundle lies; None: sealed plastic with barely damp paper.
    need_cp : the variety's own chill need [CP], which goes before its group's; above 0.

    Returns
    -------
    Traits of one bundle. Waxed wood dries at 0.6 of the rate, disinfected wood is half as wet to mould (judgement).
    """
    lies = keeping or Keeping()
    packing = f"packing_{lies.packing}"
    pack = 1.0 if lies.in_pack else value(packing, "factor")
    drying = _LOSS * _DIAMETER / lies.diameter_mm * pack * (_WAXED if lies.waxed else 1)
    wetness = value(packing, "wetness") * (_DISINFECTED if lies.disinfected else 1)
    return Traits(*(
        np.asarray(each, np.float64)
        for each in (
            group.chill_need_cp if need_cp is None else need_cp, 1 / group.forcing_days if group.forcing_days else 0.0,
            group.reserve_half_weeks, group.lost_half_pct, group.kill10_c, group.kill90_c, group.mould_factor * wetness, drying,
            _fruit_level(lies) * value(packing, "ethylene"),
        )
    ))  # fmt: skip


def _fruit_level(lies: Keeping) -> float:
    if lies.ethylene_ppm is not None:
        return min(value("ethylene", "most"), lies.ethylene_ppm / value("ethylene", "ppm"))
    levels = {
        Fruit.NONE: 0.0,
        Fruit.SOME: value("ethylene", "some_fruit"),
        Fruit.RIPE: value("ethylene", "ripe_fruit"),
    }
    return levels[lies.fruit]


def many_traits(each: Sequence[Traits]) -> Traits:
    """The traits of many bundles as columns."""
    return Traits(*(np.array([float(getattr(one, name.name)) for one in each]) for name in fields(Traits)))


@dataclass(frozen=True)
class Doses:
    """How far a bundle has aged: doses [-], water lost [% of fresh mass], coldest hour [°C], chill, hours counted [h]."""

    reserve: Numbers
    lost_pct: Numbers
    mould: Numbers
    bud: Numbers
    ethylene: Numbers
    coldest_c: Numbers
    chill: Portions
    hours: Numbers


def _doses(rows: Sequence[Numbers], chill: Portions, hours: Numbers) -> Doses:
    return Doses(rows[0], rows[1], rows[2], rows[3], rows[4], rows[5], chill, hours)


def fresh_doses(traits: Traits, portions_cp: ArrayLike | None = None) -> Doses:
    """Wood as it is cut.

    Parameters
    ----------
    traits : of one bundle or of many.
    portions_cp : chill portions at cutting [CP]; None: nobody knows, and the need counts as met (the cautious side).

    Returns
    -------
    Doses of nothing, with that chill.
    """
    none = np.zeros_like(traits.need_cp)
    portions = (
        traits.need_cp
        if portions_cp is None
        else np.broadcast_to(np.asarray(portions_cp, np.float64), none.shape)
    )
    return Doses(
        none, none, none, none, none, np.full_like(none, np.inf), Portions(np.array(portions), none), none
    )


def age(traits: Traits, before: Doses, temp_c: ArrayLike, humidity_pct: ArrayLike | None = None) -> Doses:
    """Doses after these hours.

    Parameters
    ----------
    traits : of one bundle, or of as many as there are series.
    before : where the doses stood.
    temp_c : the hours that follow [°C], the last axis hours, any axis before it bundles; no gaps.
    humidity_pct : of the same hours [%], of the store's air, or inside the pack where `Keeping.in_pack`; None, or not a
        number in an hour: 80 (judgement).

    Returns
    -------
    Where they stand now. Cut anywhere, the record gives the same. Raises `HoursNotKnown` for a gap.

    Notes
    -----
    Each hour of dt = 1/24 day adds, with T [°C]:

    - reserves: 2^(T/10) dt/(7 weeks); Q10 published between 1.3 and 2.8 [1]_, 2 is judgement.
    - drying: 2 (6/d) f VPD dt, in % of fresh mass, over the loss that costs half; 2 % per kPa and day of a bare stick of 6 mm
      is derived [2]_, VPD by Tetens held at -5 °C below it.
    - mould: m w r dt/280; r = 8^(T/10) up to 6 °C, derived from germination of Botrytis [3]_, times 5^((T-6)/10) above
      (judgement), 0 below -4 °C, where it was still seen to grow [4]_.
    - budbreak: gate f(T) dt/F (`heat.rest_gate`, `heat.forcing_per_hour`); chill goes on in store.
    - ethylene: e f 4^((T-20)/10) dt/10, fitted between two published points [5]_ [6]_.

    References
    ----------
    .. [1] Ceschia et al. 2002; Ryan et al. 1995; Gardea et al.
    .. [2] Front Plant Sci 2021, 790684.
    .. [3] Petäistö 2006, Baltic Forestry 12(1):24-33.
    .. [4] Tian 2001, Acta Phytopathol Sin 31(1).
    .. [5] Ethylene effects on apple scions (authors and year not shown).
    .. [6] Ethylene adversely affects Fraser fir planting stock in cold storage.
    """
    return _walk(traits, before, temp_c, humidity_pct, None)


def dose_trace(
    traits: Traits, before: Doses, temp_c: ArrayLike, humidity_pct: ArrayLike | None = None
) -> tuple[Doses, Doses]:
    """As `age`, but after every hour (the same state with hours as last axis), and the state to go on from."""
    temp = np.asarray(temp_c, np.float64)
    kept = np.empty((7, temp.shape[-1], max(1, temp[..., 0].size)))
    after = _walk(traits, before, temp, humidity_pct, kept)
    rows = [np.ascontiguousarray(row.T).reshape(temp.shape) for row in kept]
    counted = np.asarray(before.hours)[..., None] + np.arange(1.0, temp.shape[-1] + 1)
    return _doses(rows, Portions(rows[6], np.full(temp.shape, np.nan)), counted), after


def _walk(
    traits: Traits, before: Doses, temp_c: ArrayLike, humidity_pct: ArrayLike | None, kept: Numbers | None
) -> Doses:
    temp = np.asarray(temp_c, np.float64)
    if np.isnan(temp).any():
        raise HoursNotKnown("An hour's temperature is not known. Fill the gaps first.")
    damp = (
        np.full_like(temp, _STORE_HUMIDITY) if humidity_pct is None else np.asarray(humidity_pct, np.float64)
    )
    damp = np.where(np.isnan(damp), _STORE_HUMIDITY, damp)
    shape, hours = temp.shape[:-1], temp.shape[-1]
    hot = np.ascontiguousarray(temp.reshape(-1, hours).T)
    wet = np.ascontiguousarray(np.broadcast_to(damp, temp.shape).reshape(-1, hours).T)
    one = [np.array(np.broadcast_to(each, shape), np.float64).ravel() for each in (
        before.reserve, before.lost_pct, before.mould, before.bud, before.ethylene, before.coldest_c, before.chill.portions,
        before.chill.precursor,
    )]  # fmt: skip
    for part in blocks_of(hours, hot.shape[1]):
        _one_block(traits, one, hot[part], wet[part], None if kept is None else kept[:, part])
    done = [each.reshape(shape) for each in one]
    return _doses(done, Portions(done[6], done[7]), np.asarray(before.hours) + float(hours))


def _one_block(
    traits: Traits, one: list[Numbers], temp: Numbers, damp: Numbers, kept: Numbers | None
) -> None:
    """Some hours (first axis) of all bundles; the state `one` goes on in place."""
    portions = np.empty_like(temp)
    one[6] = portion_block(temp, one[7], one[6], portions)
    rates = _rates(traits, temp, damp, portions)
    if kept is not None:
        for row, rate in enumerate(rates):
            kept[row] = one[row] + np.cumsum(rate, axis=0)
        kept[5] = np.minimum(one[5], np.minimum.accumulate(temp, axis=0))
        kept[6] = portions
    for row, rate in enumerate(rates):
        one[row] = one[row] + rate.sum(axis=0)
    one[5] = np.minimum(one[5], temp.min(axis=0, initial=np.inf))


def _rates(traits: Traits, temp: Numbers, damp: Numbers, portions: Numbers) -> tuple[Numbers, ...]:
    """What an hour adds to reserves, water lost, mould, buds and ethylene."""
    reserve = np.exp(np.log(_Q10) / 10 * temp) / (24 * 7 * traits.reserve_weeks)
    drying = traits.drying / 24 * vapour_deficit(np.maximum(temp, _COLDEST_DRYING), damp)
    bent = np.log(_MOULD_FACTOR) / 10 * np.minimum(temp, _MOULD_BEND)
    bent += np.log(_MOULD_ABOVE) / 10 * np.maximum(temp - _MOULD_BEND, 0)
    mould = traits.mould / (24 * _MOULD_DAYS) * np.where(temp >= _MOULD_LEAST, np.exp(bent), 0.0)
    bud = traits.per_forcing_day * forcing_per_hour(temp)
    if (portions[0] < traits.need_cp).any():
        bud = bud * rest_gate(portions, traits.need_cp)
    if not np.any(traits.ethylene):
        return reserve, drying, mould, bud, np.zeros_like(temp)
    ripe = np.exp(np.log(_ETHYLENE_FACTOR) / 10 * (temp - _ETHYLENE_AT))
    return reserve, drying, mould, bud, traits.ethylene / (24 * _ETHYLENE_DAYS) * ripe


@dataclass(frozen=True)
class ColdWarning:
    """Hours below what the group is stored at [h], and the lowest of them [°C]."""

    hours: int
    lowest_c: float


def cold_warning(temp_c: ArrayLike, store_temp_min_c: float) -> ColdWarning | None:
    """Whether it was colder than the group is stored at. It warns; what frost does to buds is reckoned apart.

    Parameters
    ----------
    temp_c : hourly temperatures of one store [°C]; not a number where not known.
    store_temp_min_c : the lower end of good storage of the group [°C].

    Returns
    -------
    How long and how cold, or None.
    """
    temp = np.asarray(temp_c, np.float64)
    below = temp[temp < store_temp_min_c]
    return ColdWarning(int(below.size), float(below.min())) if below.size else None
