"""What a thermometer read by hand rings for, and one event told once; limits as in `rules/excursions.py` (judgement)."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from service.storage.rules import AlarmKind, DialAt, Rung, dial_alarms, join_alarms, plan_rings, second_of
from service.storage.rules.excursions import Alarm, RingsBy

MONDAY = datetime(2026, 2, 9, 8, 0, tzinfo=UTC)
FREEZING, HEAT = AlarmKind.FREEZING, AlarmKind.HEAT
HOUR, DAY = 3600, 86400
APPLE = -6.4  # 3 degrees above -9.4 °C, which kills a tenth of the buds (Penn State Extension)


def dial(days: float, now=None, lowest=None, highest=None, *, reset=False, place=None):
    return DialAt(MONDAY + timedelta(days=days), now, lowest, highest, reset, place)


def told(*dials: DialAt, freezing: float | None = APPLE):
    """Kind, when it began and was over (days after the first), how far it went."""
    days = lambda at: None if at is None else (at - second_of(MONDAY)) / DAY  # noqa: E731
    found = dial_alarms(dials, RingsBy(freezing))
    return [(one.kind, days(one.began), days(one.ended), one.extreme_c) for one in found]


@pytest.mark.parametrize(
    "dials, events",
    [
        ([dial(0, 3, 1, 5)], []),
        ([dial(0, -6.3, -6.3, 5)], []),
        ([dial(0, -6.4)], [(FREEZING, 0, None, -6.4)]),
        ([dial(0, 2, -8, 5)], [(FREEZING, 0, 0, -8)]),
        ([dial(0, 9.9, 2, 14.9)], []),
        ([dial(0, 10)], [(HEAT, 0, None, 10)]),
        ([dial(0, 4, 2, 15)], [(HEAT, 0, 0, 15)]),
        ([dial(0, 16, -7, 16)], [(FREEZING, 0, 0, -7), (HEAT, 0, None, 16)]),
    ],
    ids=[
        "quiet",
        "just above the limit",
        "the limit itself, now",
        "its memory, and well again now",
        "just below both limits of heat",
        "10 °C now",
        "15 °C since its reset",
        "both sides",
    ],
)
def test_each_number_of_a_dial_rings_at_its_limit(dials, events):
    assert told(*dials) == events


def test_what_its_memory_said_before_is_no_news_until_it_is_reset():
    assert told(dial(0, 2, -8), dial(2, 2, -8), dial(5, 2, -8)) == [(FREEZING, 0, 0, -8)]
    assert told(dial(0, 2, -8), dial(3, 2, -9)) == [(FREEZING, 0, 3, -9)]  # colder: since the reading before
    assert told(dial(0, 2, -8, reset=True), dial(3, 2, -8)) == [(FREEZING, 0, 3, -8)]


def test_after_a_day_within_its_limits_the_next_is_another_event():
    events = told(dial(0, 2, -8, reset=True), dial(2, 2, 1, reset=True), dial(4, 2, -8, reset=True))

    assert events == [(FREEZING, 0, 0, -8), (FREEZING, 2, 4, -8)]


def test_an_event_goes_on_until_it_is_well_back():
    events = told(dial(0, 11), dial(1, 9), dial(2, 11), dial(3, 7.9))

    assert events == [(HEAT, 0, 3, 11)]


def test_without_a_number_for_now_what_it_saw_since_its_reset_tells_that_it_is_over():
    assert told(dial(0, None, -8, 3, reset=True), dial(1, None, 1, 3)) == [(FREEZING, 0, 1, -8)]
    assert told(dial(0, None, -8, 3), dial(1, None, -8, 3)) == [(FREEZING, 0, None, -8)]


def test_each_place_has_its_own_thermometer():
    door, shelf = uuid4(), uuid4()

    events = told(dial(0, 2, -8, place=door), dial(1, 2, -8, place=shelf))

    assert events == [(FREEZING, 0, 0, -8), (FREEZING, 1, 1, -8)]


def test_where_nothing_is_known_of_the_wood_no_limit_of_freezing_is_made_up():
    assert told(dial(0, -20), freezing=None) == []


# -- once for each event ---------------------------------------------------------------------------------------------


def alarm(began: int, last: int, kind=FREEZING, *, ended=True, extreme=-8.0, by_hand=False):
    return Alarm(kind, began * HOUR, began * HOUR + HOUR, last * HOUR if ended else None, extreme, 2.0, last * HOUR, by_hand)  # fmt: skip


def rung(began: int, last: int, kind=FREEZING, *, told=True, recorded=0):
    return Rung(
        uuid4(), kind, began * HOUR, last * HOUR, MONDAY if told else None, MONDAY + timedelta(hours=recorded)
    )


def plan(known, found, looked_from=0, seen=10_000):
    return plan_rings(known, found, looked_from=looked_from * HOUR, seen=MONDAY + timedelta(hours=seen))


def test_two_loggers_and_a_dial_tell_of_one_event():
    (one,) = join_alarms([alarm(10, 20), alarm(12, 30, extreme=-9.0, by_hand=True), alarm(11, 13)])

    assert (one.began, one.last, one.ended, one.extreme_c, one.by_hand) == (10 * HOUR, 30 * HOUR, 30 * HOUR, -9.0, False)  # fmt: skip
    assert len(join_alarms([alarm(10, 20), alarm(45, 50), alarm(10, 20, HEAT)])) == 3


def test_an_event_that_stands_goes_on_and_is_not_new():
    known = rung(10, 12)

    made = plan([known], [alarm(10, 40, ended=False)])

    assert (made.new, made.gone) == ((), ())
    assert [(one, event.last) for one, event in made.goes_on] == [(known, 40 * HOUR)]


def test_a_day_after_its_end_the_next_is_new_and_the_other_kind_always_is():
    known = rung(10, 12)

    assert len(plan([known], [alarm(10, 12), alarm(35, 36)]).goes_on) == 1
    assert len(plan([known], [alarm(10, 12), alarm(36, 37)]).new) == 1
    assert [one.kind for one in plan([known], [alarm(10, 12), alarm(10, 12, HEAT)]).new] == [HEAT]


def test_an_event_whose_readings_are_gone_is_gone_but_not_one_that_could_not_be_seen():
    known, before, later = rung(10, 12), rung(1, 2), rung(10, 12, recorded=60)

    assert plan([known], []).gone == (known,)
    assert plan([before], [], looked_from=1).gone == ()
    assert plan([later], [], seen=50).gone == ()


def test_of_two_that_grew_together_the_one_that_was_told_goes_on_and_the_other_stays():
    first, second = rung(10, 12, told=False), rung(40, 42)

    made = plan([first, second], [alarm(10, 42)])

    assert [one for one, _ in made.goes_on] == [second]
    assert (made.new, made.gone) == ((), ())
