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
from service.storage.rules.costs import Cost, cost_words, costs_of
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
    assert (cost.low, cost.high) == pytest.approx(sides, abs=0.3)
    assert cost.low < cost.days < cost.high


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
        "pear about 2 days of keeping; quince about 30 days of keeping (20 or more); "
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
