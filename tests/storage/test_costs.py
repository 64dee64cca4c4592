"""What a warm spell cost the wood of a store, in days of keeping."""

from __future__ import annotations

import math

import numpy as np
import pytest

from service.science.groups import GROUPS
from service.science.hazards import traits_of
from service.science.viability import Ageing
from service.storage import queries
from service.storage.actions.learned import record_learned
from service.storage.rules.costs import STEEP_FROM_TO, Cost, cost_words, costs_of, whole_spell
from service.storage.rules.doses import StoreRun
from service.storage.rules.learned import AgeingKnown, GroupAged
from tests.builders.garage import Garage
from tests.builders.hourly import hourly_cost
from tests.builders.learned import learned_group, learned_version
from tests.builders.loggers import steady
from tests.builders.storage import ago


def run_like(temps):
    temp = np.array(temps, float)
    return StoreRun(0, temp, np.full(len(temp), np.nan), np.zeros(len(temp), np.uint8))


def test_three_days_at_fifteen_degrees_cost_about_twenty_four_days_at_one():
    """The model's rule of thumb: three days at 15 °C use up as much bud time as 27 days at 1 °C, so they cost about 24."""
    temps = [1.0] * 24 * 30 + [15.0] * 72 + [1.0] * 24 * 30

    (cost,) = costs_of(run_like(temps), 720, 792, ["apple"])

    hourly = hourly_cost(traits_of(GROUPS["apple"]), temps, np.array(temps) > 10)
    assert (cost.days, hourly) == pytest.approx((24, 24), abs=2)


@pytest.mark.parametrize("group", ["apple", "cherry_sweet", "walnut", "grape"])
def test_it_comes_to_what_the_hourly_walk_says(group):
    temps = [2.0 + (hour % 24) / 24 for hour in range(24 * 20)] + [11.0] * 40 + [2.5] * 24 * 8
    out = np.zeros(len(temps), bool)
    out[480:520] = True
    traits = traits_of(GROUPS[group])

    (cost,) = costs_of(run_like(temps), 480, 520, [group])

    hourly = hourly_cost(traits, temps, out)
    assert cost.days == pytest.approx(hourly, abs=0.7)
    assert cost.days > 0


@pytest.mark.parametrize(
    "group, mu, spell_c", [("cherry_sweet", 0.4, 13.0), ("apple", -0.444, -20.0), ("peach", 0.3, -20.0)]
)
def test_it_costs_what_it_costs_by_what_takes_taught(group, mu, spell_c):
    """At exp(mu) times the speed, against the hourly walk at that speed; another group is not touched by it."""
    temps = [2.0] * 24 * 20 + [spell_c] * 48 + [2.0] * 24 * 10
    out = np.zeros(len(temps), bool)
    out[480:528] = True
    traits = traits_of(GROUPS[group])
    known = AgeingKnown(1, 0.0, {group: GroupAged(mu, 0.1, 40)})

    cost, other = costs_of(run_like(temps), 480, 528, [group, "walnut"], known)

    usual, plain = costs_of(run_like(temps), 480, 528, [group, "walnut"])
    hourly = hourly_cost(traits, temps, out, Ageing(mu, 0.1))
    assert cost.days == pytest.approx(hourly, abs=0.7)
    assert abs(cost.days - usual.days) > 1
    assert other == plain


@pytest.mark.parametrize("group, spell_c", [("apple", -9.0), ("peach", -8.0), ("grape", 25.0)])
def test_the_price_has_a_range_around_it(group, spell_c):
    """Four times in five wood ages within 1.2816 spreads of ln th; the hourly walk at either speed is the reference."""
    temps = [2.0] * 24 * 20 + [spell_c] * 48 + [2.0] * 24 * 10
    known = AgeingKnown(1, 0.0, {group: GroupAged(0.0, 0.4, 5)})

    (cost,) = costs_of(run_like(temps), 480, 528, [group], known)

    spell, traits = np.array(temps) != 2.0, traits_of(GROUPS[group])
    sides = sorted(hourly_cost(traits, temps, spell, Ageing(z * 0.4, 0.4)) for z in (1.2816, -1.2816))
    doubt = (
        [priced_at(k, spell_c, 2.0) / priced_at(0.185, spell_c, 2.0) for k in STEEP]
        if spell_c > 2
        else [1.0, 1.0]
    )
    assert (cost.low, cost.high) == pytest.approx(
        [a * b for a, b in zip(sides, doubt, strict=True)], rel=0.01, abs=0.3
    )
    assert cost.low < cost.days < cost.high


# The steepness at which a day at 1 °C counts for 1/12 and for 1/16 of one at 20 °C: rose plants kept for 12 to 16 weeks at
# 0 to 2 °C broke bud 7 days sooner (Menoud, Mauget and Frossard 1991, Acta Hortic 298:237-245).
STEEP = (0.1725, 0.1890)


def priced_at(k: float, spell_c: float, usual_c: float) -> float:
    """Days at the usual temperature that one at another costs beyond itself, by the forcing curve of that steepness."""
    f = [1 / (1 + math.exp(-k * (temp - 18.4))) for temp in (spell_c, usual_c)]
    return (f[0] - f[1]) / f[1]


@pytest.mark.parametrize("k, share", [(STEEP[0], 7 / 84), (STEEP[1], 7 / 112)])
def test_the_doubt_of_the_forcing_curve_is_what_roses_in_store_leave_open(k, share):
    f = [1 / (1 + math.exp(-k * (temp - 18.4))) for temp in (1, 20)]

    assert f[0] / f[1] == pytest.approx(share, rel=0.01)
    assert k in STEEP_FROM_TO


def test_a_price_that_no_ageing_changes_has_a_range_all_the_same():
    """Before, both ends were the middle for most kinds: what wood loses and what it has left change alike."""
    temps = [2.5] * 24 * 30 + [9.3] * 168 + [2.5] * 24 * 14

    (cost,) = costs_of(run_like(temps), 720, 888, ["apple"])

    assert cost.days == pytest.approx(7 * priced_at(0.185, 9.3, 2.5), abs=1)
    assert (cost.low, cost.high) == pytest.approx([7 * priced_at(k, 9.3, 2.5) for k in STEEP], abs=1)
    assert round(cost.low) < round(cost.days) < round(cost.high)


def test_a_spell_is_priced_from_leaving_what_is_good_to_coming_back():
    """Up from 3 to 12 °C within a day and down again within one; only the hours at 10 °C or more rang."""
    up = [3 + 9 * n / 24 for n in range(25)]
    temps = [3.0] * 600 + up + [12.0] * 10 + up[::-1] + [3.0] * 300
    hot = [place for place, temp in enumerate(temps) if temp >= 10]
    good = [place for place, temp in enumerate(temps) if temp > 4.4]

    whole = whole_spell(run_like(temps), hot[0], hot[-1] + 1, (0.0, 4.4), above=True)

    assert whole == (good[0], good[-1] + 1)
    rang, all_of_it = (
        costs_of(run_like(temps), *each, ["apple"])[0].days for each in ((hot[0], hot[-1] + 1), whole)
    )
    assert all_of_it > 1.3 * rang


def test_a_store_that_is_never_as_cold_as_is_good_is_priced_against_what_is_usual_there():
    temps = [6.0, 6.2] * 300 + [12.0] * 48 + [6.0, 6.2] * 100

    assert whole_spell(run_like(temps), 600, 648, (0.0, 4.4), above=True) == (599, 648)
    assert whole_spell(run_like([3.0] * 50 + [-3.0] * 9 + [3.0] * 50), 52, 55, (0.0, 4.4), above=False) == (
        50,
        59,
    )


def test_where_all_of_the_record_was_too_warm_it_is_priced_against_the_most_that_is_good():
    run = run_like([9.3] * 168)

    assert costs_of(run, 0, 168, ["apple"]) == []
    (cost,) = costs_of(run, 0, 168, ["apple"], else_c=4.4)
    assert cost.days == pytest.approx(7 * priced_at(0.185, 9.3, 4.4), abs=1)


def test_kinds_that_cost_the_same_are_told_together_and_never_as_a_bare_number():
    same = [
        Cost(group, 3.6 + n / 10, low=3.0, high=4.9)
        for n, group in enumerate(["apple", "quince", "pear_asian"])
    ]
    other = Cost("fig", 2.0, low=1.8, high=2.2)

    assert (
        cost_words(same)
        == "Reckoned for wood that lay there: it cost every kind here about 4 days of keeping (3 to 5)."
    )
    assert cost_words([*same, other]) == (
        "Reckoned for wood that lay there: it cost most kinds here about 4 days of keeping (3 to 5); "
        "fig about 2 days of keeping (its range is narrower than a day)."
    )
    assert cost_words([Cost("citrus", 2.0)]) == (
        "Reckoned for wood that lay there: it cost citrus about 2 days of keeping (how far that may be out is not known)."
    )


def test_of_wood_that_may_be_past_its_end_no_range_is_told():
    temps = [2.0] * 24 * 20 + [15.0] * 48 + [2.0] * 24 * 10

    (cost,) = costs_of(
        run_like(temps),
        480,
        528,
        ["cherry_sweet"],
        AgeingKnown(1, 0.0, {"cherry_sweet": GroupAged(0.0, 0.4, 5)}),
    )

    assert (cost.more, cost.low, cost.high) == (False, None, None)
    assert cost.days == pytest.approx(13.1, abs=0.5)


def test_frost_that_kills_costs_at_least_all_that_was_left():
    (cost,) = costs_of(run_like([1.0] * 240 + [-20.0] * 12 + [1.0] * 240), 240, 252, ["apple"])

    assert cost.more
    assert cost.days > 100


def test_without_hours_outside_the_spell_nothing_is_priced():
    assert costs_of(run_like([15.0] * 40), 0, 40, ["apple"]) == []
    assert costs_of(run_like([1.0] * 240), 10, 20, ["a group nobody knows"]) == []


def test_the_words_name_each_kind_and_round_to_days():
    told = cost_words([
        Cost("apple", 23.6, low=17.8, high=33.1), Cost("cherry_sweet", 0.2, low=0.1, high=0.3), Cost("plum_european", 1.2, more=True),
        Cost("pear", 2.0, low=1.6, high=2.4), Cost("quince", 30.0, low=20.0, high=math.inf), Cost("walnut", 0.4, low=0.1, high=1.7),
    ])  # fmt: skip

    assert told == (
        "Reckoned for wood that lay there: it cost apple about 24 days of keeping (18 to 33); "
        "cherry (sweet) less than a day of keeping; plum (european) at least 1 day of keeping; "
        "pear about 2 days of keeping (its range is narrower than a day); quince about 30 days of keeping (20 or more); "
        "walnut less than a day of keeping (up to 2)."
    )
    assert cost_words([]) == ""


def test_the_temperature_page_is_told_what_a_warm_day_cost(database, writer, clock):
    garage = Garage(database, writer, clock)
    logger = garage.logger()
    garage.send(
        logger, steady(ago(days=20), 24 * 10, 2.0), steady(ago(days=10), 30, 15.0), steady(ago(days=8, hours=18), 24 * 8 + 18, 2.0),
    )  # fmt: skip

    with database.reading() as session:
        (alarm,) = queries.store_temps(session, garage.store.id, clock.at, 42).alarms
        year, day = (
            queries.store_temps(session, garage.store.id, clock.at, *days)
            for days in ((365,), (1, ago(days=9).date()))
        )

    assert [one.alarms[0].cost_words for one in (year, day)] == [alarm.cost_words] * 2
    (cost,) = alarm.costs
    assert cost.group == "apple"
    # 30 hours of forcing at 15 °C against as many at 2 °C, at 2 °C again: 1.25 (0.6064 - 0.0801) / 0.0801 days
    assert cost.days == pytest.approx(1.25 * (0.6064 - 0.0801) / 0.0801, abs=1.5)
    assert "days of keeping" in alarm.cost_words


def test_the_temperature_page_prices_by_what_takes_taught_as_forecasts_do(
    database, writer, clock, statements
):
    """Apple at exp(-1) times the usual speed keeps on for longer, by forecast as by price."""
    garage = Garage(database, writer, clock)
    garage.send(
        garage.logger(), steady(ago(days=20), 24 * 12, 2.0), steady(ago(days=8), 4, -20.0),
        steady(ago(days=7, hours=20), 24 * 7 + 20, 2.0),
    )  # fmt: skip
    told = []
    for learn in (False, True):
        if learn:
            taught = [learned_group(species_group="apple", mu=-1.0, sigma=0.1)]
            writer.write_now(record_learned, None, learned_version(groups=taught))
        with database.reading() as session, statements.at_most(13):
            (alarm,) = queries.store_temps(session, garage.store.id, clock.at, 42).alarms
        told.append(alarm.costs[0].days)

    assert told[1] > 1.5 * told[0] > 100
