"""Which looks count for learning, and why others are left out."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from uuid import UUID

import pytest

from service.grafting.rules import TakeLook
from service.grafting.rules.learning import LEFT_OUT_WORDS, LeftOut, judge_graft

DAY = date(2026, 5, 1)
EARLY = DAY - timedelta(days=1)


def seen(alive, looked_at, day=DAY, *, verdict=True, doubtful=0, plant=None, number=0, lost=0):
    return TakeLook(
        UUID(int=number), UUID(int=1), plant and UUID(int=plant), alive, looked_at, doubtful, verdict, day,
        datetime(2026, 6, 1, tzinfo=UTC) + timedelta(minutes=number), lost,
    )  # fmt: skip


@pytest.mark.parametrize(
    "looks, woods, grafted, taken, left_out",
    [
        ([seen(3, 4)], 1, 4, 3, {}),
        ([], 1, 0, 0, {LeftOut.NOT_JUDGED: 4}),
        ([seen(3, 4, verdict=False)], 1, 0, 0, {LeftOut.NOT_JUDGED: 4}),
        ([seen(3, 4, EARLY)], 1, 0, 0, {LeftOut.TOO_EARLY: 4}),
        ([seen(0, 4, EARLY)], 1, 4, 0, {}),
        ([seen(0, 4, EARLY, verdict=False)], 1, 0, 0, {LeftOut.NOT_JUDGED: 4}),
        ([seen(0, 4, EARLY, lost=3)], 1, 1, 0, {LeftOut.OTHER_CAUSE: 3}),
        ([seen(0, 4, EARLY), seen(1, 4, number=2)], 1, 4, 1, {}),
        ([seen(0, 4, EARLY), seen(3, 4, EARLY, verdict=False, number=2)], 1, 0, 0, {LeftOut.TOO_EARLY: 4}),
        ([seen(0, 1, EARLY, plant=7), seen(1, 1, plant=8, number=2)], 1, 1, 1, {LeftOut.NOT_JUDGED: 3}),
        ([seen(0, 1, EARLY, plant=7)], 1, 0, 0, {LeftOut.TOO_EARLY: 4}),
        ([seen(0, 1, EARLY, plant=7), seen(2, 3, plant=8, number=2)], 1, 4, 2, {}),
        ([seen(2, 4, doubtful=1)], 1, 3, 2, {LeftOut.DOUBTFUL: 1}),
        ([seen(1, 1, plant=7), seen(0, 1, plant=8, number=2)], 1, 2, 1, {LeftOut.NOT_JUDGED: 2}),
        ([seen(1, 4, lost=2)], 1, 2, 1, {LeftOut.OTHER_CAUSE: 2}),
        ([seen(0, 4, lost=4)], 1, 0, 0, {LeftOut.OTHER_CAUSE: 4}),
        (
            [seen(0, 1, plant=7, lost=1), seen(1, 1, plant=8)],
            1,
            1,
            1,
            {LeftOut.NOT_JUDGED: 2, LeftOut.OTHER_CAUSE: 1},
        ),
        ([seen(3, 4)], 2, 0, 0, {LeftOut.SEVERAL_WOODS: 4}),
    ],
)
def test_what_counts_of_a_graft_of_four(looks, woods, grafted, taken, left_out):
    judged = judge_graft(4, woods, DAY, looks, DAY)

    assert (judged.grafted, judged.taken, judged.left_out) == (grafted, taken, left_out)


def test_every_reason_has_its_words():
    assert set(LEFT_OUT_WORDS) == set(LeftOut)


def test_a_graft_found_dead_early_counts_from_the_day_its_living_mates_can_be_judged():
    dead = [seen(0, 4, DAY - timedelta(weeks=3))]

    told = [judge_graft(4, 1, DAY, dead, today) for today in (EARLY, DAY)]

    assert [(one.grafted, one.taken, dict(one.left_out)) for one in told] == [
        (0, 0, {LeftOut.TOO_EARLY: 4}),
        (4, 0, {}),
    ]
