"""How many bundles stand, how long they have, and their shares week by week: what `reckoning.reckon_one` says of each, at once.

Imported where it is needed, and not at the start: it is arrays throughout.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields
from typing import Any
from uuid import UUID

import numpy as np

from service.lib.readings import Column
from service.science.chill import no_portions
from service.science.hazards import Doses, Hazard, Traits
from service.science.hours import A_WEEK
from service.science.keeping_time import MOST_DAYS, THRESHOLD
from service.science.viability import (
    BAND,
    FRESH,
    Ageing,
    Viability,
    estimates,
    expected_share,
    hazard_terms,
    viable_share,
)
from service.storage.rules.keeping import COARSE_HOURS, Left, ageing_of
from service.storage.rules.keeping_many import WalkedMany, walk_many
from service.storage.rules.reckoning import (
    LEAST_DRAWN,
    WEEKS_AHEAD,
    Curve,
    Reckoned,
    digest_of,
    key_of,
    reckon_one,
)
from service.storage.rules.store_hours import StoreHours
from service.storage.rules.store_sums import COLD, FIVE, MIDDLE, WARM, BaseDoses
from service.storage.rules.stretches import Asked

_SIDE_BY_SIDE = 128  # what lies ahead of resting wood is held hour by hour meanwhile
_MOMENTS = 500
_FEW = 4  # by themselves these are as quick
_BUD = FIVE.index("bud")
_MOST_HOURS = MOST_DAYS * 24
_HAZARDS = tuple(Hazard)
Learned = Callable[[str], tuple[float, float] | None]


def reckon_many(asked: Sequence[Asked], stores: Mapping[UUID, BaseDoses], learned: Learned) -> list[Reckoned]:
    """One of each. What lay and was seen alike is reckoned once."""
    numbers: dict[Any, int] = {}
    which = [numbers.setdefault(key_of(one.wood, one.lays, one.looked), len(numbers)) for one in asked]
    firsts = dict(zip(reversed(which), reversed(asked), strict=True))
    distinct = [(key, firsts[number]) for key, number in numbers.items()]
    # Those with as many weeks stand together, so that none waits for another.
    order = sorted(
        (n for n, (_, one) in enumerate(distinct) if one.is_gapless), key=lambda n: distinct[n][1].hours
    )
    found: dict[int, Reckoned] = {}
    if len(order) > _FEW:
        hours = {one: StoreHours(store) for one, store in stores.items()}
        for part in range(0, len(order), _SIDE_BY_SIDE):
            some = order[part : part + _SIDE_BY_SIDE]
            found |= zip(some, _reckon_some([distinct[n] for n in some], hours, learned), strict=True)
    for n in range(len(distinct)):
        if n not in found:
            one = distinct[n][1]
            found[n] = reckon_one(
                one.wood, one.group, one.lays, one.looked, stores, {}, learned(one.wood.group)
            )
    return [found[n] for n in which]


def _reckon_some(
    keyed: Sequence[tuple[Any, Asked]], stores: Mapping[UUID, StoreHours], learned: Learned
) -> list[Reckoned]:
    asked = [one for _, one in keyed]
    many = walk_many(asked, stores)
    known: dict[Any, Ageing] = {}
    ageing = []
    for one, found in zip(asked, many.found, strict=True):
        key = one.wood.group, found.measured
        if key not in known:
            known[key] = ageing_of(found, learned(one.wood.group))
        ageing.append(known[key])
    traits = _columns([one.traits for one in many.found])
    rounded = np.round(many.state, 9).transpose(2, 0, 1).tolist()
    stand, left, curves = (
        _stand(many, traits, ageing),
        _left(many, traits, ageing),
        _curves(asked, many, traits, ageing),
    )
    return [
        Reckoned(
            found,
            stand[n],
            left[n],
            curves[n],
            digest_of(one.wood.cut_hour, keyed[n][0], one.lays, rounded[n]),
        )
        for n, (one, found) in enumerate(zip(asked, many.found, strict=True))
    ]


def _columns(each: Sequence[Traits]) -> Traits:
    return Traits(*(np.array([float(getattr(one, name.name)) for one in each]) for name in fields(Traits)))


def _taken(traits: Traits, places: Column) -> Traits:
    return Traits(*(getattr(traits, each.name)[places] for each in fields(Traits)))


def _doses(six: Sequence[Column] | Column) -> Doses:
    return Doses(six[0], six[1], six[2], six[3], six[4], six[5], no_portions(), np.zeros(()))


def _speed(ageing: Sequence[Ageing], sigmas: Sequence[float]) -> Column:
    """How fast each ages at these places of its spread: places, bundles."""
    known = {one: one.factor(sigmas) for one in set(ageing)}
    return np.stack([known[one] for one in ageing], axis=-1)


def _stand(many: WalkedMany, traits: Traits, ageing: Sequence[Ageing]) -> list[Viability]:
    """As `keeping.stands`."""
    _, low, high = viable_share(traits, _doses(many.state), _speed(ageing, [0, BAND, -BAND]))
    found: list[Viability | None] = [None] * len(ageing)
    for each in set(ageing):
        mine = np.flatnonzero([one == each for one in ageing])
        told = estimates(_taken(traits, mine), _doses(many.state[:, MIDDLE][:, mine]), each)
        for n, one, worse, better in zip(
            mine.tolist(), told, low[mine].tolist(), high[mine].tolist(), strict=True
        ):
            found[n] = Viability(
                one.expected, one.central, min(worse, one.central), max(better, one.central), one.shares, one.limiting
            )  # fmt: skip
    return [one for one in found if one is not None]


# -- how long --------------------------------------------------------------------------------------------------------------


def _later(many: WalkedMany, hours: Column) -> Doses:
    """As `keeping.later_doses`: three ways, bundles, and what further axis the hours have."""
    wide = (..., *(None,) * (hours.ndim - 2))
    more = many.week[wide] * hours
    if many.ahead is not None:
        many.ahead.put_into(more[_BUD], hours)
    more += many.state[: len(FIVE)][wide]
    return _doses([*more, many.state[len(FIVE)][wide]])


def _left(many: WalkedMany, traits: Traits, ageing: Sequence[Ageing]) -> list[Left | None]:
    """As `keeping.hours_left`. What is under stays under, so that its first hour is found by halving."""
    speed = _speed(ageing, [0, BAND, -BAND])

    def is_under(hours: Column) -> Column:
        return np.asarray(viable_share(traits, _later(many, hours), speed) / FRESH < THRESHOLD)

    none = np.zeros(speed.shape)
    ever = is_under(none + _MOST_HOURS // COARSE_HOURS * COARSE_HOURS)
    coarse = _first_of(is_under, none, COARSE_HOURS, _MOST_HOURS // COARSE_HOURS)
    fine = _first_of(is_under, np.maximum(0, coarse - COARSE_HOURS), 1, COARSE_HOURS)
    central = np.where(ever[0], fine[0], float(_MOST_HOURS))
    then = _later(many, np.broadcast_to(central, (3, len(central))))
    terms = hazard_terms(traits, _doses([getattr(then, name)[MIDDLE] for name in (*FIVE, "coldest_c")]))
    limits = [
        _HAZARDS[place] if some else None
        for place, some in zip(terms.argmax(axis=0).tolist(), (terms.sum(axis=0) > 0).tolist(), strict=True)
    ]
    told = [
        [each if known else None for each, known in zip(*row, strict=True)]
        for row in zip(fine.T.tolist(), ever.T.tolist(), strict=True)
    ]
    return [
        Left(row[0], row[1], row[2], limit) if stored else None
        for row, limit, stored in zip(told, limits, many.stored.tolist(), strict=True)
    ]


def _first_of(is_under: Callable[[Column], Column], begin: Column, step: int, steps: int) -> Column:
    """The first of some hours that is under, or the last of them."""
    low, high = np.zeros(begin.shape), np.full(begin.shape, float(steps))
    while (low < high).any():
        middle = np.floor((low + high) / 2)
        under = is_under(begin + step * middle)
        low, high = np.where(under, low, np.minimum(middle + 1, high)), np.where(under, middle, high)
    return begin + step * low


# -- week by week ----------------------------------------------------------------------------------------------------------


def _curves(
    asked: Sequence[Asked], many: WalkedMany, traits: Traits, ageing: Sequence[Ageing]
) -> list[Curve]:
    """As `reckoning.curve_of`."""
    begins = [one.lays[0].begin for one in asked]
    first = A_WEEK * many.weeks - np.array([one.hours for one in asked])
    hours = (first[:, None] + A_WEEK * np.arange(WEEKS_AHEAD)).astype(np.float64)
    later = _later(many, np.broadcast_to(hours, (3, *hours.shape)))
    ahead = np.stack([
        np.broadcast_to(getattr(later, name), (3, *hours.shape)).reshape(3, -1) for name in (*FIVE, "coldest_c")
    ])  # fmt: skip
    numbers = np.arange(len(asked))
    owner = np.concatenate([np.repeat(numbers, many.weeks), np.repeat(numbers, WEEKS_AHEAD)])
    shares = _shares(np.concatenate([many.path, ahead], axis=-1), traits, ageing, owner)
    told = np.rint(100 * shares).astype(int).tolist()
    past, drawn = len(many.path[0, 0]), (shares[2, many.path.shape[-1] :] >= LEAST_DRAWN)
    lasts = (drawn.reshape(-1, WEEKS_AHEAD).sum(axis=1) * many.stored).tolist()
    found, at = [], 0
    for n, (weeks, last) in enumerate(zip(many.weeks.tolist(), lasts, strict=True)):
        begin = past + n * WEEKS_AHEAD
        rows = [row[at : at + weeks] + row[begin : begin + last] for row in told]
        found.append(Curve(begins[n], weeks, *rows))
        at += weeks
    return found


def _shares(path: Column, traits: Traits, ageing: Sequence[Ageing], owner: Column) -> Column:
    """Expected, low and high, of moments of the bundles that own them."""
    found = np.empty((3, len(owner)))
    for each in set(ageing):
        own = np.flatnonzero(np.array([one == each for one in ageing])[owner])
        # Few enough that all speeds of them stay in the processor's own memory.
        for mine in np.array_split(own, -(-len(own) // _MOMENTS)):
            told, doses = _taken(traits, owner[mine]), path[:, :, mine]
            expected = expected_share(told, _doses(doses[:, MIDDLE]), each)
            low, high = (
                viable_share(told, _doses(doses[:, way]), each.factor(band)) for way, band in ((WARM, BAND), (COLD, -BAND))
            )  # fmt: skip
            found[:, mine] = expected, np.minimum(low, expected), np.maximum(high, expected)
    return found
