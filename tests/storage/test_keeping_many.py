"""Many bundles reckoned side by side come to what each comes to by itself, whatever way it went."""

from __future__ import annotations

import dataclasses
import itertools
from uuid import UUID

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.dormancy import Seen
from service.science.groups import GROUPS
from service.science.hazards import Fruit
from service.science.looks import Look
from service.science.packings import Packing
from service.storage.rules.doses import Basis, StoreRun
from service.storage.rules.keeping import Lay, Looked, Wood
from service.storage.rules.packing import NOT_TOLD, Packed, PackedFrom, packed_through
from service.storage.rules.reckoning import reckon_one
from service.storage.rules.reckoning_many import reckon_many
from service.storage.rules.remembered import Remembered
from service.storage.rules.resting import Rest
from service.storage.rules.store_hours import COUNTED
from service.storage.rules.store_sums import MIDDLE, base_doses
from service.storage.rules.stretches import Asked

FIRST, LAST = 490_000, 491_400  # hours of a winter
FRIDGE, CELLAR, PACK = (UUID(int=n) for n in (1, 2, 3))
AT_ONCE = 6  # fewer are reckoned one by one


def hours_of(seed: int, mean_c: float) -> StoreRun:
    """Hours known in each way there is in turn, what is nominal among them, some of them in frost."""
    chance = np.random.default_rng(seed)
    count = LAST - FIRST
    each = np.resize(np.array(Basis, np.uint8), -(-count // 100))
    known = np.repeat(chance.permutation(each), 100)[:count]
    humidity = np.where(chance.random(count) < 0.3, np.nan, chance.uniform(60, 99, count))
    return StoreRun(FIRST, np.round(mean_c + chance.normal(0, 3, count), 3), humidity, known)


def stores_with_frost_and_a_pack():
    damp = np.where(np.arange(LAST - FIRST) % 700 < 300, 97.0, np.nan)
    fridge = dataclasses.replace(
        base_doses(hours_of(5, 2.5), packs={PACK: damp}),
        has_packs=True,
        frosts=(Remembered(None, FIRST + 300, -4.0), Remembered(FIRST + 500, FIRST + 640, -7.5)),
    )
    return {FRIDGE: fridge, CELLAR: base_doses(hours_of(6, 7.0))}


STORES = stores_with_frost_and_a_pack()

looks = st.builds(
    Look,
    buds=st.sampled_from([None, Seen.TIGHT, Seen.SWELLING, Seen.GREEN]),
    wrinkled=st.sampled_from([None, True, False]),
    mould=st.sampled_from([None, True, False]),
    green_under_scratch=st.sampled_from([None, True, False]),
)
rests = st.builds(
    Rest,
    need_cp=st.sampled_from([30.0, 57.0]),
    portions_cp=st.floats(5, 60),
    precursor=st.floats(0, 0.9),
    spread=st.sampled_from([0.0, 0.1]),
)
packings = st.builds(
    Packed,
    packing=st.sampled_from([None, *Packing]),
    waxed=st.sampled_from([None, True, False]),
    disinfected=st.sampled_from([None, True, False]),
)


def as_packed(draw, lays):
    """Told at any hour, of nothing to all of it, before a stay, within it and as it begins or ends; several times or never."""
    hour = st.one_of(
        st.integers(FIRST - 100, LAST + 5), st.sampled_from([each for lay in lays for each in (lay.begin, lay.end)])
    )  # fmt: skip
    told = draw(st.lists(st.builds(PackedFrom, hour, packings), max_size=4))
    told.sort(key=lambda one: one.hour)
    return [
        dataclasses.replace(lay, begin=begin, end=end, packed=packed)
        for lay in lays
        for begin, end, packed in packed_through(told, lay.begin, lay.end)
    ]


@st.composite
def ways(draw):
    """A bundle's way from its cut: out of stores, in them, and out of them again, without a gap, in this packing and that."""
    edges = sorted(draw(st.sets(st.integers(FIRST, LAST), min_size=2, max_size=6)))
    places = draw(
        st.lists(st.sampled_from([None, FRIDGE, CELLAR]), min_size=len(edges) - 1, max_size=len(edges) - 1)
    )
    lays = [
        Lay(
            place, begin, end,
            draw(st.sampled_from(list(Fruit))) if place else Fruit.NONE,
            draw(st.sampled_from([None, PACK])) if place == FRIDGE else None,
        )
        for begin, end, place in zip(edges, edges[1:], places, strict=False)
    ]  # fmt: skip
    if draw(st.booleans()) and edges[0] > FIRST:
        lays.insert(0, Lay(None, edges[0] - draw(st.integers(1, 60)), edges[0]))
    lays = as_packed(draw, lays)
    hour = st.one_of(st.integers(FIRST - 5, LAST + 5), st.sampled_from(edges))
    looked = [
        Looked(at, seen, at_cut=at_cut)
        for at, seen, at_cut in draw(st.lists(st.tuples(hour, looks, st.booleans()), max_size=3))
    ]
    if draw(st.booleans()):
        weighed = sorted(draw(st.lists(hour, min_size=2, max_size=2)))
        looked.append(Looked(weighed[1], Look(lost_pct=draw(st.floats(0, 12))), weighed[0]))
    group = draw(st.sampled_from(["apple", "cherry_sweet", "walnut", "citrus"]))
    thick = draw(st.sampled_from([None, 5.5, 9.0]))
    wood = Wood(UUID(int=9), group, True, lays[0].begin, thick, draw(st.one_of(st.none(), rests)))
    return Asked(wood, GROUPS[group], lays, looked)


def learned(group: str) -> tuple[float, float] | None:
    return (0.1, 0.2) if group == "walnut" else None


def by_itself(one: Asked):
    return reckon_one(one.wood, one.group, one.lays, one.looked, STORES, {}, learned(one.wood.group))


def numbers_of(doses):
    names = ("reserve", "lost_pct", "mould", "bud", "ethylene", "coldest_c", "hours")
    chill = (doses.chill.portions, doses.chill.precursor)
    return [np.asarray(each).tolist() for each in (*(getattr(doses, name) for name in names), *chill)]


def check_same(together, alone):
    told, found = together.found, alone.found
    assert numbers_of(told.doses) == numbers_of(found.doses)
    assert together.digest == alone.digest
    assert together.curve == alone.curve
    assert together.left == alone.left
    assert together.now.limiting == alone.now.limiting
    for name in ("expected", "central", "low", "high"):
        assert getattr(together.now, name) == pytest.approx(getattr(alone.now, name), rel=1e-13, abs=0)
    assert together.now.shares == pytest.approx(alone.now.shares, rel=1e-13, abs=0)
    for name in (
        "hours",
        "frosts",
        "longest_out",
        "here",
        "per_pack",
        "is_in_pack",
        "lies_by_packs",
        "measured",
        "packed",
    ):
        assert getattr(told, name) == getattr(found, name), name
    assert told.needs_cp.tolist() == found.needs_cp.tolist()


@given(st.lists(ways(), min_size=AT_ONCE, max_size=14))
def test_bundles_reckoned_side_by_side_come_to_what_each_comes_to_alone(asked):
    together = reckon_many(asked, STORES, learned)

    for one, told in zip(asked, together, strict=True):
        check_same(told, by_itself(one))


def test_what_lay_and_was_seen_alike_is_reckoned_once():
    lays = [Lay(FRIDGE, FIRST, LAST)]
    woods = [Wood(UUID(int=n), "apple", True, FIRST, 5.0 + n % 8) for n in range(40)]

    told = reckon_many([Asked(wood, GROUPS["apple"], lays, []) for wood in woods], STORES, learned)

    assert len({id(one) for one in told}) == 8
    assert told[0] is told[8] is not told[1]


def test_what_lay_alike_in_another_packing_is_reckoned_apart():
    """Each packing, waxed or not, disinfected or not: what it dries, moulds and takes of ripe fruit by is its own."""
    packed = [NOT_TOLD, *(Packed(*each) for each in itertools.product(Packing, (False, True), (False, True)))]
    half = (FIRST + LAST) // 2
    ways_of = [
        [Lay(None, FIRST, FIRST + 20), Lay(CELLAR, FIRST + 20, half, Fruit.RIPE), Lay(CELLAR, half, LAST, Fruit.RIPE, packed=one)]
        for one in packed
    ]  # fmt: skip
    wood = Wood(UUID(int=9), "apple", True, FIRST)
    asked = [Asked(wood, GROUPS["apple"], lays, []) for lays in ways_of]

    told = reckon_many(asked, STORES, learned)

    for one, found in zip(asked, told, strict=True):
        check_same(found, by_itself(one))
    assert [one.found.packed for one in told] == packed
    assert len({one.digest for one in told}) == len(packed)
    default = told[packed.index(Packed(Packing.DAMP_PAPER, False, False))]
    assert numbers_of(told[0].found.doses) == numbers_of(default.found.doses)
    others = [one for one in told[1:] if one is not default]
    assert all(numbers_of(one.found.doses) != numbers_of(default.found.doses) for one in others)


def test_ways_with_a_lay_of_no_hour_are_reckoned_one_by_one():
    """Put away within the hour: it lies there all the same."""
    ends = [Lay(None, FIRST, FIRST + 200 + n) for n in range(AT_ONCE)]
    asked = [
        Asked(
            Wood(UUID(int=9), "apple", True, FIRST), GROUPS["apple"], [lay, Lay(FRIDGE, lay.end, lay.end)], []
        )
        for lay in ends
    ]

    told = reckon_many(asked, STORES, learned)

    assert [one.is_gapless for one in asked] == [False] * AT_ONCE
    assert {one.found.here for one in told} == {FRIDGE}
    for one, found in zip(asked, told, strict=True):
        check_same(found, by_itself(one))


def test_the_ways_that_are_tried_meet_all_there_is():
    """Hours known in each way, frosts that were kept in mind, and air inside of a pack."""
    found = by_itself(
        Asked(
            Wood(UUID(int=9), "apple", True, FIRST),
            GROUPS["apple"],
            [Lay(FRIDGE, FIRST, LAST, pack_id=PACK)],
            [],
        )
    ).found

    assert all(found.hours[name] > 0 for name in COUNTED)
    assert len(found.frosts) == 2
    for store in STORES.values():
        assert set(store.known.tolist()) == set(Basis)
        said = store.temp_c[MIDDLE, store.known == Basis.NOMINAL]
        assert said.min() < 0 < said.max()
