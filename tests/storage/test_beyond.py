"""Kinds beyond what each of them is kept at: too warm for hours of a week, too cold for one; told, and nobody is rung.

The rule is in the four-part form of the WHO's monitors (Step-by-step interpretation of 10-day electronic temperature monitoring
devices, 2007-2009); the limits are each kind's own, as the reference data has them with their sources: fig from 1 to 5 °C, grape
from 1 to 2 °C (Int J Sustainable Agric Res 2018, 5(3):46-53), apple from 0 to 4.4 °C (Galveston County extension handout GC-310).
"""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from service.storage import actions, queries
from service.storage.rules import StoreKind, limits_to_draw
from service.storage.rules.beyond import (
    KindsLimit,
    beyond_words,
    find_beyond,
    least_of,
    limits_words,
    most_of,
)
from service.storage.rules.excursions import (
    GroupLimit,
    StoreOwn,
    find_alarms,
    find_cold,
    find_warm,
    limits_for,
)
from service.storage.rules.own_limits import in_force, limits_told
from service.storage.rules.ringing import DialAt, dial_warm
from service.storage.schemas.limits import OwnLimitsSet
from tests.builders.garage import Garage
from tests.builders.loggers import steady
from tests.builders.storage import ago

HOUR = 3600


def group(name: str, low_c: float, high_c: float, mark: str = "judgement") -> GroupLimit:
    return GroupLimit(name, low_c, high_c, mark, "", -5.0, "", 8, 20, "", "")


MIXED = limits_for(
    [group("fig", 1, 5), group("grape", 1, 2, "published"), group("apple", 0, 4.4, "published")]
)
DRAWN = limits_to_draw(MIXED, StoreKind.FRIDGE)


def record(*spans: tuple[int, float]) -> tuple[np.ndarray, np.ndarray]:
    temps = [temp for hours, temp in spans for _ in range(hours)]
    return np.arange(len(temps)) * HOUR, np.array(temps, float)


@pytest.mark.parametrize(
    "spans, spells",
    [
        ([(200, 3.0), (9, 9.0), (200, 3.0)], 0),
        ([(200, 3.0), (10, 9.0), (200, 3.0)], 1),
        ([(200, 3.0), (10, 4.4), (200, 3.0)], 0),  # at the limit it is not above it
        ([(200, 3.0), *[(5, 5.0), (40, 3.0)] * 2], 1),  # added up
        ([(200, 3.0), (5, 5.0), (170, 3.0), (5, 5.0)], 0),  # not within a week
    ],
)
def test_above_the_limit_for_ten_hours_within_a_week_is_told(spans, spells):
    assert len(find_warm(*record(*spans), 4.4, 10)) == spells


def test_a_week_short_of_ringing_is_told_once_with_all_its_hours():
    at, temps = record((200, 3.0), *[(12, 8.8), (12, 9.8)] * 7, (100, 3.0))

    (spell,) = find_warm(at, temps, 4.4, 10)

    assert find_alarms(at, temps, in_force(MIXED, StoreOwn()).rings_by) == []
    assert (spell.began, spell.ended, spell.hours, spell.extreme_c) == (200 * HOUR, 368 * HOUR, 168, 9.8)


def test_each_kind_has_its_own_limits_where_one_fridge_holds_several():
    assert least_of(DRAWN) == [KindsLimit(1, ("fig", "grape")), KindsLimit(0, ("apple",))]
    assert most_of(DRAWN) == [KindsLimit(4.4, ("apple", "grape")), KindsLimit(5, ("fig",))]
    room = limits_to_draw(MIXED, StoreKind.COLD_ROOM)
    assert most_of(room) == [KindsLimit(2, ("grape",)), KindsLimit(4.4, ("apple",)), KindsLimit(5, ("fig",))]
    assert (DRAWN.low_c, DRAWN.high_c, DRAWN.in_general) == (0, 4.4, True)
    assert (DRAWN.cold_c, DRAWN.warm_c, room.warm_c) == (1, 4.4, 2)
    assert limits_words(least_of(DRAWN), "below") == "below 1 °C (fig and grape) or 0 °C (apple)"
    own = in_force(DRAWN, StoreOwn(cold_c=2.0, warm_c=3.0))
    assert (least_of(own), most_of(own)) == ([KindsLimit(2.0)], [KindsLimit(3.0)])


def test_in_a_fridge_no_kind_is_asked_below_freezing():
    cherry = limits_to_draw(
        limits_for([group("cherry_sweet", -1, 1), group("apple", 0, 4.4)]), StoreKind.FRIDGE
    )

    assert least_of(cherry) == [KindsLimit(0, ("apple", "cherry_sweet"))]
    room = limits_for([group("cherry_sweet", -1, 1), group("apple", 0, 4.4)])
    assert [one.limit_c for one in least_of(limits_to_draw(room, StoreKind.COLD_ROOM))] == [0, -1]


def test_a_spell_tells_how_long_it_was_beyond_which_kinds_limit():
    at, temps = record((48, 3.0), (8, 0.5), (2, -0.5), (48, 3.0))
    limits = least_of(DRAWN)

    (one,) = find_beyond(limits, lambda limit_c: find_cold(at, temps, limit_c))

    assert beyond_words(one, limits) == "10 hours below 1 °C (fig and grape), 2 hours below 0 °C (apple)"


def test_no_limit_is_called_the_least_that_all_wood_is_kept_at_where_some_needs_more():
    warm, cold, colder = limits_told(DRAWN)[2:]

    assert cold.words.startswith("below 1 °C (fig and grape) or 0 °C (apple) for 1 hour")
    assert (
        cold.whose == "standing, the least each kind is kept at: published (apple and grape); judgement (fig)"
    )
    assert warm.words.startswith("above 4.4 °C (apple and grape) or 5 °C (fig) for 10 hours within 7 days")
    assert "not below 4.4 °C" in warm.whose
    assert (colder.name, colder.words) == (
        "Likes it colder",
        "grape: at most 2 °C (published). It ages faster here, and the forecasts reckon with that",
    )


def test_wood_that_likes_it_colder_than_a_fridge_keeps_is_no_excursion_there():
    """Sweet cherry is kept at 1 °C at most (judgement): a fridge at 3.5 °C is told once, as it stands."""
    cherry = limits_for([group("cherry_sweet", -1, 1), group("apple", 0, 4.4)])
    fridge, room = (limits_to_draw(cherry, kind) for kind in (StoreKind.FRIDGE, StoreKind.COLD_ROOM))
    at, temps = record((1185, 3.5))

    spells = [
        find_beyond(most_of(each), lambda limit_c: find_warm(at, temps, limit_c, 10))
        for each in (fridge, room)
    ]

    assert (fridge.high_c, spells[0], len(spells[1])) == (4.4, [], 1)
    assert "sweet cherry: at most 1 °C (judgement)" in limits_told(fridge)[-1].words
    assert limits_told(room)[-1].name == "Told as too cold"


def test_a_dial_that_shows_it_now_tells_of_warmth_and_its_memory_does_not():
    door = DialAt(ago(days=2), 3.0, 2.0, 9.0)

    assert dial_warm([door], 4.4) == []
    (spell,) = dial_warm([door, DialAt(ago(days=1), 8.8, None, None)], 4.4)
    assert (spell.by_hand, spell.ended, spell.extreme_c) == (True, None, 8.8)
    (over,) = dial_warm([DialAt(ago(days=2), 8.8, None, None), DialAt(ago(days=1), 3.0, None, None)], 4.4)
    assert over.ended is not None


# -- in a store --------------------------------------------------------------------------------------------------------


@pytest.fixture
def garage(database, writer, clock):
    return Garage(database, writer, clock)


def temps(garage):
    with garage.database.reading() as session:
        return queries.store_temps(session, garage.store.id, garage.clock.at, 42)


def test_a_week_at_nine_degrees_is_told_priced_and_rings_nobody(garage):
    warm = [(ago(days=10, hours=-n), 8.8 if n % 24 < 12 else 9.8) for n in range(168)]
    garage.send(garage.logger(), steady(ago(days=38), 24 * 28, 2.5), warm, steady(ago(days=3), 72, 2.5))

    told = temps(garage)

    (spell,) = told.too_warm
    assert told.alarms == [] and garage.rings() == []
    assert (spell.began_at, spell.ended_at, spell.hours) == (ago(days=10), ago(days=3), 168)
    assert spell.words == "168 hours above 4.4 °C"
    # By the forcing curve a day at 9.3 °C costs 1.73 days at 2.5 °C beyond itself (f = 0.2768 and 0.0875): 15 in a week.
    (cost,) = spell.costs
    assert cost.days == pytest.approx(15, abs=1.5)
    assert cost.low < cost.days < cost.high
    assert (
        f"about {round(cost.days)} days of keeping ({round(cost.low)} to {round(cost.high)})"
        in spell.cost_words
    )


def test_a_store_has_a_warm_limit_of_its_own(garage):
    garage.send(garage.logger(), steady(ago(days=6), 48, 4.0), steady(ago(days=4), 90, 2.5))
    assert temps(garage).too_warm == []

    body = OwnLimitsSet(warm_c=3.5, warm_hours=40)
    garage.writer.write_now(actions.set_limits, garage.host, garage.store.id, 0, body)

    told = temps(garage)
    assert (told.warm_c, [one.hours for one in told.too_warm]) == (3.5, [48])
    assert told.too_warm[0].ended_at is not None and told.too_warm[0].ended_at < garage.clock.at
    body = OwnLimitsSet(warm_c=3.5, warm_hours=49)
    garage.writer.write_now(actions.set_limits, garage.host, garage.store.id, 1, body)
    assert temps(garage).too_warm == []


def test_a_heat_that_rang_is_not_told_again_as_warmth_and_is_priced_whole(garage):
    """Up from 3 to 12 °C in thirty hours, as a fridge does that fails, and down again in as many."""
    up = [3 + 9 * n / 30 for n in range(31)]
    hours = [*[3.0] * 600, *up, *[12.0] * 12, *up[::-1], *[3.0] * 100]
    begin = ago(hours=len(hours))
    garage.send(
        garage.logger(), [(begin + timedelta(hours=n), round(temp, 2)) for n, temp in enumerate(hours)]
    )

    told = temps(garage)

    (rang,) = told.alarms
    assert told.too_warm == []
    (cost,) = rang.costs
    # Of all hours above 4.4 °C, by the forcing curve, at 3 °C again.
    f = [1 / (1 + np.exp(-0.185 * (temp - 18.4))) for temp in (*(each for each in hours if each > 4.4), 3.0)]
    assert cost.days == pytest.approx(sum((each - f[-1]) / f[-1] for each in f[:-1]) / 24, abs=0.5)


def test_heat_within_weeks_of_warmth_is_told_and_priced_once(garage):
    """Two weeks at 6 °C, twelve hours of 11.1 °C in their midst: the weeks are told without them."""
    begin = ago(days=17)
    hours = [*[6.0] * 170, *[11.1] * 12, *[6.0] * 170, *[3.0] * 30]
    garage.send(
        garage.logger(),
        steady(ago(days=45), 24 * 28, 3.0),
        [(begin + timedelta(hours=n), temp) for n, temp in enumerate(hours)],
    )

    told = temps(garage)

    (rang,) = told.alarms
    before, after = told.too_warm
    assert rang.extreme_c == 11.1
    assert (before.extreme_c, after.extreme_c) == (6.0, 6.0)
    assert before.ended_at < rang.began_at and rang.ended_at < after.began_at
    # By the forcing curve, at 3 °C again: what all hours above 4.4 °C cost, and no hour twice.
    f = [1 / (1 + np.exp(-0.185 * (temp - 18.4))) for temp in (*(each for each in hours if each > 4.4), 3.0)]
    whole = sum((each - f[-1]) / f[-1] for each in f[:-1]) / 24
    priced = sum(cost.days for one in (rang, before, after) for cost in one.costs)
    assert priced == pytest.approx(whole, rel=0.1)


def test_what_a_dial_only_remembers_has_no_price_and_what_it_shows_has(garage):
    garage.send(garage.logger(), steady(ago(days=30), 24 * 10, 3.0))
    for days, now, lowest in ((12, 4.0, None), (8, 4.0, -0.5), (6, 4.0, None)):
        garage.dial(read_at=ago(days=days), now=now, lowest=lowest, reset_done=True)

    (cold,) = temps(garage).too_cold

    assert (cold.by_hand, cold.remembered, cold.extreme_c) == (True, True, -0.5)
    assert (cold.costs, cold.cost_words) == ([], "")
    garage.dial(read_at=ago(days=2), now=9.0)
    (warm,) = temps(garage).too_warm
    assert (warm.by_hand, warm.remembered, [one.group for one in warm.costs]) == (True, False, ["apple"])


def test_a_mark_is_told_without_what_stands_in_its_brackets_and_minus_as_such():
    walnut = limits_for([group("walnut", -2, 4, "published (4 C, 62 days)"), group("fig", 1, 5)])

    warm, cold = limits_told(walnut)[2:4]

    assert "62 days" not in warm.whose and "judgement (fig); published (walnut)" in warm.whose
    assert "below 1 °C (fig) or −2 °C (walnut)" in cold.words
