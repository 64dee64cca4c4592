"""What may be taken, returned and counted: every refusal, asked both ways."""

from __future__ import annotations

from datetime import UTC, datetime
from uuid import uuid4

import pytest

from service.bundles.rules import (
    EFFECT,
    BadCount,
    Balance,
    BundleFacts,
    Counter,
    MoveKind,
    NotEnoughSticks,
    NotHandedOver,
    StickCount,
    StoppedBundle,
    can_take,
    check_can_return,
    check_can_take,
    check_not_stopped,
    plan_correction,
)
from service.lib.errors import Problem


def bundle(*, open_stops: int = 0, held: bool = False, **count: int) -> BundleFacts:
    return BundleFacts(
        uuid4(), "K7M2QX4P", uuid4(), None, uuid4() if held else None, False, StickCount(**{"came_in": 12, **count}), open_stops,
        12, None, None, False, datetime(2026, 1, 10, tzinfo=UTC), "", 1,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("facts", "sticks", "refusal"),
    [
        (bundle(), 1, None),
        (bundle(), 12, None),
        (bundle(), 13, NotEnoughSticks),
        (bundle(), 0, BadCount),
        (bundle(), -1, BadCount),
        (bundle(passed_on=5, grafted=3, discarded=2), 2, None),
        (bundle(passed_on=5, grafted=3, discarded=2), 3, NotEnoughSticks),
        (bundle(promised=4, claimed=3), 5, None),
        (bundle(promised=4, claimed=3), 6, NotEnoughSticks),
        (bundle(came_in=0), 1, NotEnoughSticks),
        (bundle(open_stops=1), 1, StoppedBundle),
        (bundle(open_stops=2), 13, StoppedBundle),
    ],
)
def test_only_free_sticks_of_wood_that_is_not_stopped_can_be_taken(
    facts: BundleFacts, sticks: int, refusal: type[Problem] | None
) -> None:
    assert can_take(facts, sticks) is (refusal is None)
    if refusal is None:
        check_can_take(facts, sticks)
    else:
        with pytest.raises(refusal):
            check_can_take(facts, sticks)


def test_a_refusal_tells_the_numbers_behind_it() -> None:
    with pytest.raises(NotEnoughSticks) as refused:
        check_can_take(bundle(passed_on=2, promised=9), 4)

    assert refused.value.facts == {"on_hand": 10, "free": 1, "asked": 4, "code": "K7M2QX4P"}
    assert refused.value.detail == "4 sticks asked, but only 1 is free (10 on hand, the rest is promised)."


def test_a_refusal_of_stopped_wood_says_what_binds_it() -> None:
    with pytest.raises(StoppedBundle, match="This wood is stopped: fire blight is suspected"):
        check_not_stopped(bundle(open_stops=1), ["fire blight is suspected, since 3 January 2026"])
    check_not_stopped(bundle(), ["a stop that was lifted"])


@pytest.mark.parametrize(
    ("facts", "refusal"),
    [
        (bundle(held=True), None),
        (bundle(), NotHandedOver),
        (bundle(held=True, open_stops=1), StoppedBundle),
        (bundle(open_stops=1), NotHandedOver),
        (bundle(held=True, grafted=12), None),
    ],
)
def test_only_wood_that_somebody_was_given_comes_back(
    facts: BundleFacts, refusal: type[Problem] | None
) -> None:
    if refusal is None:
        check_can_return(facts)
    else:
        with pytest.raises(refusal):
            check_can_return(facts)


@pytest.mark.parametrize(
    ("facts", "counted", "difference"),
    [
        (bundle(), 12, 0),
        (bundle(), 0, -12),
        (bundle(passed_on=4), 9, 1),
        (bundle(promised=3, claimed=2), 5, -7),
    ],
)
def test_a_count_corrects_the_record_by_the_difference(
    facts: BundleFacts, counted: int, difference: int
) -> None:
    assert plan_correction(facts, counted) == difference


@pytest.mark.parametrize(
    ("facts", "counted", "refusal"),
    [(bundle(), -1, BadCount), (bundle(promised=3, claimed=2), 4, NotEnoughSticks)],
)
def test_a_count_cannot_break_promises(facts: BundleFacts, counted: int, refusal: type[Problem]) -> None:
    with pytest.raises(refusal):
        plan_correction(facts, counted)


def test_every_kind_of_movement_has_its_effect() -> None:
    assert set(EFFECT) == set(MoveKind)
    assert [kind for kind, effect in EFFECT.items() if effect is None] == [MoveKind.RETURNED]
    assert {kind for kind, effect in EFFECT.items() if effect and effect[1] < 0} == {
        MoveKind.TABLE_BACK, MoveKind.GRAFT_UNDONE,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("out", "into"),
    [(MoveKind.SPLIT_OUT, MoveKind.SPLIT_IN), (MoveKind.HANDED_OUT, MoveKind.HANDED_IN)],
)
def test_what_leaves_a_bundle_for_another_arrives_there(out: MoveKind, into: MoveKind) -> None:
    assert EFFECT[out] == (Counter.PASSED_ON, 1)
    assert EFFECT[into] == (Counter.CAME_IN, 1)


def test_a_balance_holds_where_all_that_came_is_accounted_for() -> None:
    sound = Balance(
        collected=12,
        gained=5,
        corrections=-1,
        on_hand=6,
        grafted=4,
        discarded=3,
        given_outside=2,
        not_reported=1,
    )
    lost = Balance(
        collected=12,
        gained=5,
        corrections=-1,
        on_hand=5,
        grafted=4,
        discarded=3,
        given_outside=2,
        not_reported=1,
    )

    assert (sound.came, sound.went, sound.holds) == (16, 16, True)
    assert (lost.came, lost.went, lost.holds) == (16, 15, False)
