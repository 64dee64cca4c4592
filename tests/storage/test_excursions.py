"""Which temperatures ring: by the four-part rules, once per excursion, and never by a gap."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.storage.rules import (
    ANY_SCIONS,
    Alarm,
    AlarmKind,
    GroupLimit,
    StoreLimits,
    excursions,
    find_alarms,
    limits_for,
    plain_group,
    runs_beyond,
)
from service.storage.rules.excursions import RingsBy

HOUR = 3600
APPLE = GroupLimit(
    "apple",
    0.0,
    4.4,
    "published",
    "Auer",
    -9.4,
    "published (swelling buds)",
    8,
    24,
    "common practice, no source",
    "",
)
CITRUS = GroupLimit(
    "citrus", 4.0, 6.0, "published", "Sci Agric 2008", -3.0, "judgement", 6, 16, "published", "same"
)
FIG = GroupLimit("fig", 1.0, 5.0, "judgement", "", -5.0, "judgement", 8, 24, "common practice, no source", "")


def record(*spans: tuple[float, float], step: int = 10) -> tuple[np.ndarray, np.ndarray]:
    """`record((hours, °C), …)`: one stretch after the other, a reading every ten minutes."""
    temps = np.concatenate([np.full(int(hours * 60 // step), celsius) for hours, celsius in spans])
    return np.arange(len(temps), dtype=np.int64) * step * 60, temps


def alarms(
    *spans: tuple[float, float], freezing: float | None = -6.4
) -> list[tuple[AlarmKind, float, float]]:
    """Which kinds rang, when (hours after the beginning), and how far they went."""
    return [
        (one.kind, one.rang / HOUR, one.extreme_c) for one in find_alarms(*record(*spans), RingsBy(freezing))
    ]


@pytest.mark.parametrize(
    "spans, rang",
    [
        ([(48, 3.0)], []),
        ([(24, 3.0), (9.5, 12.0), (24, 3.0)], []),
        ([(24, 3.0), (10.5, 12.0), (24, 3.0)], [(AlarmKind.HEAT, 33.8, 12.0)]),
        ([(24, 3.0), (10.5, 9.9), (24, 3.0)], []),
        ([(24, 3.0), (10.5, 10.0), (24, 3.0)], [(AlarmKind.HEAT, 33.8, 10.0)]),
        ([(24, 3.0), (1.5, 18.0), (24, 3.0)], []),
        ([(24, 3.0), (2.5, 18.0), (24, 3.0)], [(AlarmKind.HEAT, 26.0, 18.0)]),
        ([(24, 3.0), (0.5, -7.0), (24, 3.0)], []),
        ([(24, 3.0), (1.0, -7.0), (24, 3.0)], [(AlarmKind.FREEZING, 25.0, -7.0)]),
        ([(24, 3.0), (9.0, -6.0), (24, 3.0)], []),
        ([(24, 3.0), (9.0, -6.4), (24, 3.0)], [(AlarmKind.FREEZING, 25.0, -6.4)]),
    ],
    ids=[
        "quiet",
        "12 °C for less than ten hours",
        "12 °C for more",
        "just below 10 °C",
        "10 °C itself",
        "18 °C for less than two hours",
        "18 °C for more",
        "freezing for half an hour",
        "freezing for an hour",
        "just above the limit",
        "the limit itself",
    ],
)
def test_each_rule_rings_by_its_limit_and_its_delay(
    spans: list[tuple[float, float]], rang: list[tuple[AlarmKind, float, float]]
) -> None:
    """The limit itself counts as beyond: WHO, 30-day and 10-day devices ("30.0 triggers, 29.9 does not")."""
    found = [(kind, round(hours, 1), extreme) for kind, hours, extreme in alarms(*spans)]

    assert found == rang


def test_hours_of_several_days_add_up() -> None:
    """Four hours above 10 °C on three days: the tenth hour is in the third."""
    day = [(20, 3.0), (4, 11.0)]

    assert [kind for kind, _, _ in alarms(*day, *day)] == []
    assert [(kind, int(hours // 24)) for kind, hours, _ in alarms(*day, *day, *day)] == [(AlarmKind.HEAT, 2)]


def test_hours_of_more_than_a_week_ago_are_forgotten() -> None:
    assert alarms((6, 11.0), (8 * 24, 3.0), (6, 11.0), (4, 3.0)) == []


def test_one_excursion_rings_once_however_it_goes_up_and_down() -> None:
    """A bad weekend: warm by day, cool by night."""
    weekend = [(24, 3.0), *[(12, 16.0), (12, 4.0)] * 3, (48, 3.0)]

    (alarm,) = find_alarms(*record(*weekend), RingsBy(None))

    assert (alarm.kind, alarm.began / HOUR, alarm.extreme_c) == (AlarmKind.HEAT, 24, 16.0)
    assert alarm.ended is not None
    assert alarm.ended / HOUR == 24 + 2 * 24 + 12


def test_the_next_excursion_rings_again_by_hours_that_have_not_rung_yet() -> None:
    """Nine hours that were not enough by themselves, and one more two days later."""
    twice = [(24, 3.0), (11, 12.0), (40, 3.0), (9, 12.0), (40, 3.0), (11, 12.0), (24, 3.0)]

    rang = [round(hours) for _, hours, _ in alarms(*twice)]

    assert rang == [34, 125]


def test_what_wavers_about_the_limit_is_one_run_until_it_is_well_back() -> None:
    at, temps = record((2, 10.5), (1, 9.0), (2, 10.5), (1, 7.5), (1, 10.5))

    runs = runs_beyond(at, temps, 10.0, 2.0, above=True)

    assert [(run.begin / HOUR, run.end / HOUR, round(run.hours, 2), run.ended) for run in runs] == [
        (0, 5, 4.0, True),
        (6, 7, 1.0, False),
    ]


def test_a_gap_is_neither_hot_nor_cold() -> None:
    """A reading counts for three hours at most, whatever comes after it."""
    at = np.array([0, 1, 60, 61, 62], np.int64) * HOUR
    temps = np.array([3.0, 16.0, 3.0, 3.0, 3.0])

    (alarm,) = find_alarms(at, temps, RingsBy(-6.4))

    assert round(alarm.hours, 1) == 3.0
    assert find_alarms(at, np.array([3.0, -5.0, 3.0, 3.0, 3.0]), RingsBy(-6.4)) == []
    assert find_alarms(np.array([0, 80], np.int64) * HOUR, np.array([3.0, 3.0]), RingsBy(-6.4)) == []


def test_what_goes_on_has_no_end_and_what_ended_long_ago_wakes_nobody() -> None:
    over = Alarm(AlarmKind.HEAT, 0, 1, 100 * HOUR, 12, 11, last=100 * HOUR)
    (on,) = find_alarms(*record((24, 3.0), (12, 12.0)), RingsBy(None))

    assert on.ended is None
    assert on.rings_at(60 * HOUR)
    assert not on.rings_at(61 * HOUR)  # nothing was measured for a day: that it goes on, nobody knows
    assert over.rings_at(124 * HOUR)
    assert not over.rings_at(125 * HOUR)


def test_nothing_measured_rings_nothing() -> None:
    empty = np.empty(0, np.int64), np.empty(0)

    assert find_alarms(*empty, RingsBy(-6.4)) == []
    assert excursions(*empty, ANY_SCIONS) == []


def test_a_frost_that_comes_in_two_batches_rings_once() -> None:
    at, values = record((24, 3.0), (48, -12.0), (24, 3.0))

    half, whole = find_alarms(at[:200], values[:200], RingsBy(-6.4)), find_alarms(at, values, RingsBy(-6.4))

    assert [(one.kind, one.began) for one in half] == [(AlarmKind.FREEZING, at[144])]
    assert [(one.kind, one.began, one.rang) for one in whole] == [
        (one.kind, one.began, one.rang) for one in half
    ]
    assert half[0].ended is None and whole[0].ended is not None


temperatures = st.lists(st.floats(-15, 25), min_size=2, max_size=120)


@given(temperatures, st.integers(1, 119))
def test_readings_that_come_in_two_batches_ring_the_same(temps: list[float], cut: int) -> None:
    """What rang with the first batch rings still at the same moment when the second is there."""
    at, values = np.arange(len(temps), dtype=np.int64) * HOUR, np.array(temps)
    cut = min(cut, len(temps))

    first, all_of_it = (
        find_alarms(at[:cut], values[:cut], RingsBy(-6.4)),
        find_alarms(at, values, RingsBy(-6.4)),
    )

    known = {(one.kind, one.began, one.rang) for one in all_of_it}
    assert {(one.kind, one.began, one.rang) for one in first if one.ended is not None} <= known
    assert {(one.kind, one.began) for one in first} <= {(kind, began) for kind, began, _ in known}


@given(temperatures)
def test_alarms_of_a_kind_never_overlap(temps: list[float]) -> None:
    found = find_alarms(np.arange(len(temps), dtype=np.int64) * HOUR, np.array(temps), RingsBy(-6.4))

    for kind in AlarmKind:
        mine = [one for one in found if one.kind is kind]
        assert all(
            before.ended is not None and before.ended <= after.began for before, after in pairwise(mine)
        )


# -- limits --------------------------------------------------------------------------------------------------------------


def test_the_band_is_what_all_the_wood_in_a_store_likes() -> None:
    both = limits_for([APPLE, FIG])

    assert (both.low_c, both.high_c, both.freezing_c, both.agree) == (1.0, 4.4, -2.0, True)
    assert both.mark == "judgement (fig); published (apple)"
    assert both.groups == ("apple", "fig")


def test_wood_that_likes_no_common_temperature_is_told_so() -> None:
    apart = limits_for(
        [
            CITRUS,
            GroupLimit("rose", 0.0, 2.0, "published", "Menoud", -7.0, "judgement", 8, 16, "published", ""),
        ]
    )

    assert (apart.low_c, apart.high_c, apart.agree) == (4.0, 2.0, False)


def test_an_empty_store_has_the_band_of_scions_in_general() -> None:
    """Auer, GC-310/311: 32-40 °F."""
    limits = limits_for([])

    assert limits is ANY_SCIONS
    assert (limits.low_c, limits.high_c, limits.freezing_c) == (0.0, round((40 - 32) / 1.8, 1), None)


def test_stretches_outside_the_band_are_found_both_ways() -> None:
    at, temps = record((5, 3.0), (3, 6.0), (5, 3.0), (2, -1.0), (0.5, 6.0), (5, 3.0))

    found = excursions(at, temps, StoreLimits(0.0, 4.4, None))

    assert [(one.above, one.begin / HOUR, one.end / HOUR, one.extreme_c) for one in found] == [
        (True, 5, 8, 6.0),
        (False, 13, 15, -1.0),
    ]


def test_a_group_is_called_as_people_read_it() -> None:
    assert [plain_group(name) for name in ("apple", "pear_european", "plum_japanese")] == [
        "apple",
        "pear, european",
        "plum, japanese",
    ]
