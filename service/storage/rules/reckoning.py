"""How a bundle stands, how long it has, and its share week by week: all that is told of it. Imported where it is needed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any
from uuid import UUID

import numpy as np

from service.lib.readings import Column
from service.science.groups import Group
from service.science.hazards import Doses
from service.science.hours import A_WEEK
from service.science.viability import BAND, Ageing, Viability, expected_share, viable_share
from service.storage.rules.keeping import (
    Lay,
    Left,
    Looked,
    Walked,
    Wood,
    ageing_of,
    hours_left,
    later_doses,
    stands,
    walk,
)
from service.storage.rules.packing import NOT_TOLD
from service.storage.rules.store_sums import COLD, FIVE, MIDDLE, WARM, BaseDoses

# How far a curve goes on, and no further than a tenth may be left. Judgement.
WEEKS_AHEAD, LEAST_DRAWN = 26, 0.1


@dataclass(frozen=True)
class Curve:
    """Of a hundred, week by week from an hour on, the first `past` of them behind us: expected, low and high."""

    begin: int
    past: int
    expected: list[int]
    low: list[int]
    high: list[int]


def curve_of(found: Walked, weekly: Sequence[Doses], lays: Sequence[Lay], ageing: Ageing) -> Curve | None:
    """How it stood each week, and how it will if the last week goes on; as long as something may be left of it."""
    if not weekly:
        return None
    begin, now = lays[0].begin, lays[-1].end
    told = [{name: getattr(one, name) for name in (*FIVE, "coldest_c")} for one in weekly]
    path = {name: np.stack([each[name] for each in told], axis=-1) for name in told[0]}
    if found.week is not None:
        ahead = begin + A_WEEK * np.arange(len(weekly), len(weekly) + WEEKS_AHEAD) - now
        later = later_doses(found, found.week, np.broadcast_to(ahead, (3, WEEKS_AHEAD)).astype(np.float64))
        path = {
            name: np.concatenate([each, np.broadcast_to(getattr(later, name), (3, WEEKS_AHEAD))], axis=-1)
            for name, each in path.items()
        }
    doses = _doses_of(path, found)
    low, high = (
        viable_share(found.traits, doses, speed)[way] for speed, way in ((ageing.factor(BAND), WARM), (ageing.factor(-BAND), COLD))
    )  # fmt: skip
    expected = expected_share(
        found.traits, _doses_of({name: each[MIDDLE] for name, each in path.items()}, found), ageing
    )
    last = len(weekly) + int((high[len(weekly) :] >= LEAST_DRAWN).sum())
    rows = (expected, np.minimum(low, expected), np.maximum(high, expected))
    return Curve(begin, len(weekly), *(np.rint(100 * each[:last]).astype(int).tolist() for each in rows))


def _doses_of(path: Mapping[str, Column], found: Walked) -> Doses:
    return Doses(**path, chill=found.doses.chill, hours=found.doses.hours)


@dataclass(frozen=True)
class Reckoned:
    """How a bundle stands and how long it has; what lay and was seen alike is reckoned once."""

    found: Walked
    now: Viability
    left: Left | None
    curve: Curve | None = None
    digest: str = ""  # of where it lay, of what was seen, and of how far it had aged


def key_of(wood: Wood, lays: Sequence[Lay], looked: Sequence[Looked]) -> Any:
    """What a reckoning rests on: two bundles of the same are reckoned alike."""
    return wood.group, wood.diameter_mm, wood.rest, tuple(lays), tuple(looked)


def reckon_one(
    wood: Wood, group: Group, lays: Sequence[Lay], looked: Sequence[Looked], stores: Mapping[UUID, BaseDoses], known: dict[Any, Reckoned],
    learned: tuple[float, float] | None = None,
) -> Reckoned:  # fmt: skip
    key = key_of(wood, lays, looked)
    if key not in known:
        weekly: list[Doses] = []
        found = walk(wood, group, lays, looked, stores, weekly)
        ageing = ageing_of(found, learned)
        left = None if found.week is None else hours_left(found, found.week, ageing)
        curve = curve_of(found, weekly, lays, ageing)
        digest = digest_of(wood.cut_hour, key, lays, rounded_doses(found.doses))
        known[key] = Reckoned(found, stands(found, ageing), left, curve, digest)
    return known[key]


def rounded_doses(doses: Doses) -> list[list[float]]:
    """As a digest takes them."""
    six = [np.asarray(getattr(doses, name), np.float64) for name in (*FIVE, "coldest_c")]
    return [np.round(each, 9).tolist() for each in six]


def _packed(lays: Sequence[Lay]) -> list[Any]:
    """As far as somebody told, so that the digest of all other wood stays what it was."""
    told = [(lay.begin, lay.packed) for lay in lays if lay.packed != NOT_TOLD]
    return [told] if told else []


def digest_of(cut_hour: int, key: Any, lays: Sequence[Lay], rounded: Sequence[Sequence[float]]) -> str:
    return sha256(repr(([cut_hour, key, *_packed(lays)], rounded)).encode()).hexdigest()
