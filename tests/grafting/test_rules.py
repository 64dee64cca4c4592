"""What may be grafted on what, when a take is judged, what many looks come to."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.catalogue.rules import JoinAdvice, Verdict
from service.grafting.rules import (
    CAUTIONS,
    AlreadyATree,
    BeforeTheGraft,
    CauseNotTold,
    CountsDoNotFit,
    FlagHeld,
    NothingCounted,
    NotTakenYet,
    NotYourWood,
    Part,
    PlantIsStopped,
    PlantOfGraft,
    PlantState,
    PlantToPlant,
    StockAtBench,
    StockIsGone,
    StockIsStopped,
    TakeLook,
    TooManyPlants,
    WoodAtBench,
    WoodIsStopped,
    can_be_stock,
    can_become_tree,
    can_graft_wood,
    check_can_be_stock,
    check_can_become_tree,
    check_can_graft_wood,
    check_counted,
    check_not_before,
    check_parts,
    check_plants,
    check_take,
    combine_verdicts,
    own_flag,
    plan_judging,
    plan_plant_state,
    plan_tree,
    standing_take,
    warn_of_join,
)
from service.lib.errors import Unusable
from service.trees.rules import Identity

ME, OTHER, GRAFT = UUID(int=1), UUID(int=2), UUID(int=9)
WOOD = WoodAtBench(
    UUID(int=3), "7K3P9M2A", "7K3P 9M2A", "Pear", "‘Comice’", UUID(int=4), None, "Pyrus", None, ME, 0, 0
)


# -- wood and stock ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "holder, stops, any_wood, problem",
    [
        (ME, 0, False, None),
        (OTHER, 0, False, NotYourWood),
        (None, 0, False, NotYourWood),  # the club's own
        (OTHER, 0, True, None),
        (None, 0, True, None),
        (ME, 1, False, WoodIsStopped),
        (None, 1, True, WoodIsStopped),
    ],
)
def test_who_may_graft_which_wood(holder, stops, any_wood, problem):
    wood = replace(WOOD, holder_id=holder, open_stops=stops)

    assert can_graft_wood(wood, party_id=ME, any_wood=any_wood) is (problem is None)
    if problem is None:
        check_can_graft_wood(wood, party_id=ME, any_wood=any_wood)
    else:
        with pytest.raises(problem):
            check_can_graft_wood(wood, party_id=ME, any_wood=any_wood)


@pytest.mark.parametrize(
    "stock, problem",
    [
        (StockAtBench("M.9"), None),
        (StockAtBench("tree 4", open_stops=1), StockIsStopped),
        (StockAtBench("tree 4", gone=True), StockIsGone),
    ],
)
def test_what_may_be_grafted_on(stock, problem):
    assert can_be_stock(stock) is (problem is None)
    if problem is not None:
        with pytest.raises(problem):
            check_can_be_stock(stock)


@pytest.mark.parametrize(
    "held, sticks, chosen",
    [
        ([(ME, 2)], 1, 10),
        ([(ME, 2)], 3, 99),  # the flag has not enough: the bundle itself is meant, and its own count decides
        ([(OTHER, 2)], 1, 99),
        ([(ME, 0)], 0, 99),
        ([(ME, 5), (ME, 2)], 2, 10),
        ([], 1, 99),
    ],
)
def test_a_scanned_flag_means_the_sticks_one_holds(held, sticks, chosen):
    flags = [
        FlagHeld(UUID(int=10 + n), UUID(int=99), holder, on_hand) for n, (holder, on_hand) in enumerate(held)
    ]

    assert own_flag(flags, UUID(int=99), ME, sticks) == UUID(int=chosen)


def test_the_first_graft_of_a_bundle_counts_a_stick():
    with pytest.raises(NothingCounted):
        check_counted(WOOD, 0, 0)
    check_counted(WOOD, 0, 1)
    check_counted(replace(WOOD, grafted=1), 0, 0)


def test_a_graft_has_a_scion_and_no_wood_twice():
    a, b = UUID(int=1), UUID(int=2)
    check_parts([(a, Part.SCION), (b, Part.INTERSTEM)])
    for parts in ([(b, Part.INTERSTEM)], [(a, Part.SCION), (a, Part.SCION)]):
        with pytest.raises(Unusable):
            check_parts(parts)


def test_there_are_no_more_plants_than_grafts():
    check_plants(3, 3)
    with pytest.raises(TooManyPlants):
        check_plants(4, 3)


# -- when it is judged, and what is known of the join ----------------------------------------------------------------


@pytest.mark.parametrize(
    "first, weeks, days",
    [
        # whip-and-tongue: first look 3-4 weeks, verdict 6-8 weeks; common practice, no source (growers' reports)
        (3, (6, 8), (21, 42, 56)),
        # machine cut: judged after 3-5 weeks of callusing; Grafting, viticulture training note, UK wine training resource
        (None, (3, 5), (None, 21, 35)),
        # no figure seen: asked once at 8 weeks; common practice, no source
        (None, (None, None), (None, 42, 56)),
    ],
)
def test_a_take_is_judged_when_its_method_says(first, weeks, days):
    made_on = date(2026, 4, 12)

    judged = plan_judging(made_on, first, *weeks, "published")

    assert (judged.first_look_on, judged.verdict_from_on, judged.verdict_on) == tuple(
        None if d is None else made_on + timedelta(days=d) for d in days
    )
    assert judged.mark == ("published" if weeks[0] else "common practice, no source")


@pytest.mark.parametrize(
    "verdicts, word",
    [
        ([Verdict.COMPATIBLE], Verdict.COMPATIBLE),
        ([Verdict.COMPATIBLE, Verdict.UNKNOWN], Verdict.UNKNOWN),
        ([Verdict.UNKNOWN, Verdict.DELAYED_INCOMPATIBILITY], Verdict.DELAYED_INCOMPATIBILITY),
        ([Verdict.NEEDS_INTERSTEM, Verdict.INCOMPATIBLE], Verdict.INCOMPATIBLE),
        ([], Verdict.UNKNOWN),
    ],
)
def test_several_joins_are_called_by_the_one_that_says_least_good(verdicts, word):
    assert combine_verdicts(verdicts) is word


def test_every_verdict_but_compatible_is_told_with_its_source():
    for verdict in Verdict:
        said = warn_of_join(
            "‘Williams’", "Quince A", JoinAdvice(verdict, "weakens", "Beurré Hardy", "a handbook")
        )
        assert (
            said is None
            if verdict is Verdict.COMPATIBLE
            else said and "a handbook" in said and "Beurré Hardy" in said
        )


def test_the_bench_is_told_of_knives_disinfecting_and_the_authority():
    text = " ".join(CAUTIONS)
    assert all(word in text for word in ("Knives", "Disinfect", "do not compost", "plant-health authority"))


# -- takes -----------------------------------------------------------------------------------------------------------


def a_look(
    alive: int, of: int, *, day: int, verdict=False, doubtful=0, plant: int | None = None, number=0
) -> TakeLook:
    at = datetime(2026, 6, 1, tzinfo=UTC) + timedelta(days=day)
    plant_id = None if plant is None else UUID(int=plant)
    return TakeLook(UUID(int=1000 + number), GRAFT, plant_id, alive, of, doubtful, verdict, at.date(), at)


@pytest.mark.parametrize(
    "alive, looked_at, doubtful, grafts, fits",
    [
        (3, 3, 0, 3, True),
        (2, 3, 1, 5, True),
        (0, 1, 0, 1, True),
        (3, 4, 2, 5, False),
        (1, 6, 0, 5, False),
        (4, 3, 0, 5, False),
    ],
)
def test_alive_is_of_looked_at_and_that_of_made(alive, looked_at, doubtful, grafts, fits):
    if fits:
        check_take(alive=alive, looked_at=looked_at, doubtful=doubtful, grafts=grafts)
    else:
        with pytest.raises(CountsDoNotFit):
            check_take(alive=alive, looked_at=looked_at, doubtful=doubtful, grafts=grafts)


@pytest.mark.parametrize(
    "lost, is_told, refused", [(2, True, None), (3, True, CountsDoNotFit), (1, False, CauseNotTold)]
)
def test_what_was_lost_to_something_else_is_dead_and_told(lost, is_told, refused):
    told = {"alive": 1, "looked_at": 4, "doubtful": 1, "grafts": 4, "other_cause": lost, "is_told": is_told}
    if refused is None:
        check_take(**told)
    else:
        with pytest.raises(refused):
            check_take(**told)


def test_nobody_looks_before_the_graft_was_made():
    check_not_before(date(2026, 4, 12), date(2026, 4, 12))
    with pytest.raises(BeforeTheGraft):
        check_not_before(date(2026, 4, 11), date(2026, 4, 12))


def test_the_latest_look_at_the_whole_graft_stands():
    take = standing_take(
        [a_look(9, 10, day=40, verdict=True), a_look(10, 10, day=20), a_look(8, 10, day=400)]
    )

    assert (take.alive, take.looked_at, take.is_verdict) == (8, 10, True)
    first, again = a_look(9, 10, day=40, number=7), a_look(7, 10, day=40, number=1)
    again = replace(again, recorded_at=first.recorded_at + timedelta(hours=1))
    assert standing_take([again, first]).alive == 7  # of one day, what was written down last


def test_looks_at_single_plants_are_added_up():
    take = standing_take(
        [
            a_look(1, 1, day=40, plant=1, verdict=True),
            a_look(0, 1, day=41, plant=2),
            a_look(1, 1, day=9, plant=2),
        ]
    )

    assert (take.alive, take.looked_at, take.is_verdict) == (
        1,
        2,
        False,
    )  # nobody gave a verdict on the second


def test_a_look_at_the_whole_stands_until_its_plants_are_looked_at_as_fully():
    whole = a_look(2, 3, day=40, verdict=True)
    one = a_look(0, 1, day=50, plant=1)
    rest = [a_look(1, 1, day=51, plant=2), a_look(1, 1, day=52, plant=3)]

    assert standing_take([whole, one]).alive == 2
    take = standing_take([whole, one, *rest])
    assert (take.alive, take.looked_at, take.is_verdict) == (2, 3, True)
    assert standing_take([]) is None


@given(st.permutations([a_look(n % 3, 3, day=n, verdict=n == 2, number=n) for n in range(5)]))
def test_the_order_of_recording_does_not_matter(looks):
    assert standing_take(looks) == standing_take(sorted(looks, key=lambda look: look.order))


OF_ONE, OF_MANY = (
    PlantOfGraft(GRAFT, UUID(int=1), 1, is_only=True),
    PlantOfGraft(GRAFT, UUID(int=1), 3, is_only=False),
)


@pytest.mark.parametrize(
    "plant, looks, state",
    [
        (OF_ONE, [], PlantState.WAITING),
        (OF_ONE, [a_look(1, 1, day=20)], PlantState.WAITING),  # a first look is no verdict
        (OF_ONE, [a_look(1, 1, day=50, verdict=True)], PlantState.TOOK),
        (OF_ONE, [a_look(0, 1, day=20)], PlantState.FAILED),
        (OF_ONE, [a_look(0, 1, day=20, doubtful=1)], PlantState.WAITING),
        (
            OF_ONE,
            [a_look(0, 1, day=20), a_look(1, 1, day=50, verdict=True)],
            PlantState.TOOK,
        ),  # it came after all
        (
            OF_ONE,
            [a_look(1, 1, day=50, verdict=True), a_look(0, 1, day=400)],
            PlantState.FAILED,
        ),  # failed in the second year
        (OF_ONE, [a_look(1, 1, day=50, verdict=True), a_look(1, 1, day=400)], PlantState.TOOK),
        (OF_MANY, [a_look(2, 3, day=50, verdict=True)], PlantState.WAITING),  # which two is not known
        (OF_MANY, [a_look(3, 3, day=50, verdict=True)], PlantState.TOOK),
        (OF_MANY, [a_look(0, 3, day=50, verdict=True)], PlantState.FAILED),
        (OF_MANY, [a_look(2, 2, day=50, verdict=True)], PlantState.WAITING),  # one was not looked at
        (
            OF_MANY,
            [a_look(2, 3, day=50, verdict=True), a_look(1, 1, day=51, plant=1, verdict=True)],
            PlantState.TOOK,
        ),
        (OF_MANY, [a_look(1, 1, day=51, plant=2, verdict=True)], PlantState.WAITING),  # another plant
    ],
)
def test_what_looks_make_of_a_plant(plant, looks, state):
    assert plan_plant_state([(plant, looks)]) is state


def test_a_plant_lives_by_any_of_its_grafts():
    dead, alive = [a_look(0, 1, day=30)], [a_look(1, 1, day=90, verdict=True)]
    assert plan_plant_state([(OF_ONE, dead), (OF_ONE, [])]) is PlantState.WAITING
    assert plan_plant_state([(OF_ONE, dead), (OF_ONE, alive)]) is PlantState.TOOK
    assert plan_plant_state([(OF_ONE, alive), (OF_ONE, dead)]) is PlantState.TOOK
    assert plan_plant_state([(OF_ONE, dead), (OF_ONE, dead)]) is PlantState.FAILED


# -- becoming a tree -----------------------------------------------------------------------------------------------

PLANT = PlantToPlant(
    UUID(int=1), 7, PlantState.TOOK, None, 0, UUID(int=4), UUID(int=5), "", Identity.FRUIT_COMPARED, False, UUID(int=6), "Quince A", (), ME
)  # fmt: skip


@pytest.mark.parametrize(
    "changes, problem",
    [
        ({}, None),
        ({"state": PlantState.WAITING}, NotTakenYet),
        ({"state": PlantState.FAILED}, NotTakenYet),
        ({"state": PlantState.GONE}, NotTakenYet),
        ({"open_stops": 1}, PlantIsStopped),
        ({"source_tree_id": UUID(int=8)}, AlreadyATree),
    ],
)
def test_a_plant_becomes_a_tree_once_and_only_when_it_took(changes, problem):
    plant = replace(PLANT, **changes)

    assert can_become_tree(plant) is (problem is None)
    if problem is not None:
        with pytest.raises(problem):
            check_can_become_tree(plant)


@pytest.mark.parametrize(
    "parent, child",
    [
        (Identity.FRUIT_COMPARED, Identity.DOCUMENTED),  # the plant itself has not fruited yet
        (Identity.DOCUMENTED, Identity.DOCUMENTED),
        (Identity.AS_TOLD, Identity.AS_TOLD),
        (Identity.UNKNOWN, Identity.UNKNOWN),
        (None, Identity.AS_TOLD),
    ],
)
def test_a_name_is_never_surer_than_the_record(parent, child):
    assert plan_tree(replace(PLANT, parent_identity=parent)).identity is child


@pytest.mark.parametrize(
    "changes, stands_on",
    [
        ({}, ""),  # the rootstock of the list says it
        ({"rootstock_id": None, "stock_name": "own seedling"}, "own seedling"),
        ({"interstems": ("‘Beurré Hardy’",)}, "interstem ‘Beurré Hardy’ on Quince A"),
    ],
)
def test_what_it_stands_on_carries_over(changes, stands_on):
    carried = plan_tree(replace(PLANT, **changes))

    assert carried.stands_on == stands_on
    assert carried.rootstock_id == changes.get("rootstock_id", PLANT.rootstock_id)
