"""What follows from acts of putting away, what may be moved, what a look says."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.storage.rules import (
    Act,
    BoxStay,
    Buds,
    BundleStay,
    Call,
    Closeness,
    Look,
    NotApart,
    NothingSeen,
    OnlyToIsolate,
    Span,
    Spot,
    StoppedWoodStays,
    WoodToMove,
    can_move,
    check_can_move,
    check_keeps_apart,
    check_saw_something,
    judge_look,
    merge_spans,
    plan_beside,
    plan_spells,
    plan_stays,
    warn_of_neighbours,
)

NOON = datetime(2026, 2, 1, 12, tzinfo=UTC)


def an_id(number: int) -> UUID:
    return UUID(int=number)


def hour(number: int) -> datetime:
    return NOON + timedelta(hours=number)


A, B = Spot(place_id=an_id(101)), Spot(box_id=an_id(201))
OUT = Spot()


def stays(*acts: tuple[int, Spot]) -> list[tuple[Spot, datetime, datetime | None]]:
    planned = plan_stays(Act(an_id(1), spot, hour(at), seq) for seq, (at, spot) in enumerate(acts))
    return [(stay.spot, stay.span.from_at, stay.span.until_at) for stay in planned]


def test_a_thing_stays_where_it_was_put_until_it_is_put_elsewhere():
    assert stays((1, A), (3, B)) == [(A, hour(1), hour(3)), (B, hour(3), None)]


def test_what_is_taken_out_lies_nowhere():
    assert stays((1, A), (3, OUT), (5, B)) == [(A, hour(1), hour(3)), (B, hour(5), None)]


def test_an_act_recorded_late_takes_its_own_place_in_time():
    assert stays((1, A), (5, OUT), (3, B)) == [(A, hour(1), hour(3)), (B, hour(3), hour(5))]


def test_of_acts_at_the_same_instant_the_last_recorded_counts():
    assert stays((1, A), (3, B), (3, A)) == [(A, hour(1), None)]


def test_being_put_again_where_it_lies_changes_nothing():
    assert stays((1, A), (2, A), (4, A)) == [(A, hour(1), None)]


SPOTS = [A, B, Spot(place_id=an_id(102)), Spot(box_id=an_id(202)), OUT]


@given(st.lists(st.tuples(st.integers(0, 2), st.integers(0, 12), st.integers(0, 4)), max_size=25))
def test_the_stays_say_the_same_as_a_replay(history: list[tuple[int, int, int]]):
    acts = [Act(an_id(thing), SPOTS[spot], hour(at), seq) for seq, (thing, at, spot) in enumerate(history)]
    planned = plan_stays(acts)
    for thing in range(3):
        for half_hours in range(-1, 27):
            moment = NOON + timedelta(minutes=30 * half_hours)
            expected = OUT
            for act in sorted(acts, key=lambda act: (act.done_at, act.seq)):
                if act.thing_id == an_id(thing) and act.done_at <= moment:
                    expected = act.spot
            covering = [s.spot for s in planned if s.thing_id == an_id(thing) and s.span.covers(moment)]
            assert covering == ([] if expected.is_out else [expected])


def test_a_stay_in_a_box_is_cut_where_the_box_moved():
    box, shelf, cellar = an_id(1), an_id(2), an_id(3)
    fridge = an_id(9)
    stay = BundleStay(an_id(7), box, None, None, Span(hour(0), hour(10)))
    moves = [
        BoxStay(box, shelf, fridge, Span(hour(-5), hour(2))),
        BoxStay(box, cellar, fridge, Span(hour(4), None)),
    ]

    spells = plan_spells([stay], moves)

    assert [(s.place_id, s.span) for s in spells] == [
        (shelf, Span(hour(0), hour(2))),
        (None, Span(hour(2), hour(4))),
        (cellar, Span(hour(4), hour(10))),
    ]


def test_time_in_one_box_is_told_as_one_span_though_the_box_moved():
    box = an_id(1)
    both = [BundleStay(an_id(n), box, None, None, Span(hour(n), None)) for n in (7, 8)]
    moves = [
        BoxStay(box, an_id(2), an_id(9), Span(hour(0), hour(20))),
        BoxStay(box, an_id(3), an_id(9), Span(hour(20), None)),
    ]
    spells = plan_spells(both, moves)

    found = plan_beside([s for s in spells if s.bundle_id == an_id(7)], spells)

    assert [(b.other_id, b.closeness, b.span) for b in found] == [
        (an_id(8), Closeness.BOX, Span(hour(8), None))
    ]


@pytest.mark.parametrize("seed", range(30))
def test_merged_spans_cover_just_what_the_spans_covered(seed: int):
    chance = random.Random(seed)
    spans = [
        Span(hour(a), None if a + n > 28 else hour(a + n))
        for a, n in [(chance.randrange(25), chance.randrange(1, 6)) for _ in range(6)]
    ]
    merged = merge_spans(spans)
    for at in range(31):
        assert any(s.covers(hour(at)) for s in spans) == (sum(s.covers(hour(at)) for s in merged) == 1)


# -- moving ------------------------------------------------------------------------------------------------------

FREE, STOPPED = WoodToMove(an_id(1), "7K3P 9M2A"), WoodToMove(an_id(2), "ABCD EFGH", stopped_since=hour(2))


@pytest.mark.parametrize(
    "wood, at, to_isolate, may_isolate, problem",
    [
        ([FREE], 5, False, False, None),
        ([FREE, STOPPED], 5, False, False, StoppedWoodStays),
        ([STOPPED], 2, False, False, StoppedWoodStays),  # from the very instant the stop was placed
        ([STOPPED], 1, False, False, None),  # done before the stop, written down late
        ([STOPPED], 5, False, True, StoppedWoodStays),  # the right alone is not enough: it must be meant
        ([STOPPED], 5, True, False, OnlyToIsolate),
        ([FREE], 5, True, False, OnlyToIsolate),
        ([FREE, STOPPED], 5, True, True, None),
    ],
)
def test_who_may_move_what(wood, at, to_isolate, may_isolate, problem):
    allowed = can_move(wood, hour(at), to_isolate=to_isolate, may_isolate=may_isolate)

    assert allowed is (problem is None)
    if problem is not None:
        with pytest.raises(problem):
            check_can_move(wood, hour(at), to_isolate=to_isolate, may_isolate=may_isolate)


def test_the_refusal_names_the_stopped_bundles():
    with pytest.raises(StoppedWoodStays) as refused:
        check_can_move([FREE, STOPPED], hour(5), to_isolate=False, may_isolate=False)

    assert refused.value.facts["bundles"] == ["ABCD EFGH"]


def test_stopped_wood_is_kept_apart_from_free_wood_in_a_box():
    check_keeps_apart([STOPPED], hour(5))
    with pytest.raises(NotApart):
        check_keeps_apart([STOPPED, FREE], hour(5))


def test_who_puts_wood_beside_stopped_wood_is_told():
    assert "ABCD EFGH" in warn_of_neighbours([FREE, STOPPED], hour(5))[0]
    assert warn_of_neighbours([FREE], hour(5)) == []


# -- looks -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "look, dormant, calls",
    [
        (Look(buds=Buds.TIGHT), True, [Call.FINE]),
        (
            Look(buds=Buds.SWELLING),
            True,
            [Call.USE_FIRST],
        ),  # common practice, no source: stored buds that swell are used now
        (
            Look(buds=Buds.GREEN),
            True,
            [Call.WARNING],
        ),  # common practice, no source: not for bark grafting any more
        (Look(buds=Buds.GREEN), False, [Call.FINE]),  # summer budwood is green
        (Look(mould=True, wrinkled=True), True, [Call.USE_FIRST, Call.WARNING]),
        (Look(green_under_scratch=False), True, [Call.WARNING]),
        (Look(mould=False, bag_grams=310.0), True, [Call.FINE]),
    ],
)
def test_what_a_look_says(look: Look, dormant: bool, calls: list[Call]):
    assert [finding.call for finding in judge_look(look, dormant=dormant)] == calls


def test_every_finding_says_how_it_is_known():
    found = judge_look(Look(Buds.GREEN, wrinkled=True, mould=True, green_under_scratch=False))
    assert all(finding.mark for finding in found)


def test_a_look_that_saw_nothing_is_none():
    with pytest.raises(NothingSeen):
        check_saw_something(Look())
    check_saw_something(Look(mould=False))
