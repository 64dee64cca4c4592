"""A bundle in another store: days gained or lost, and which store is never proposed.

Keeping times of apple at 1 and at 4 °C, 25.4 and 15.3 weeks, are worked values that were computed with a first version of
the model, hour by hour, before this one was written (computed, not measured).
"""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from service.storage import actions, schemas
from service.storage.queries.elsewhere import what_if
from service.storage.queries.keeping import keeping_of
from service.storage.rules import keeping_words as words
from service.storage.rules.doses import StoreRun
from service.storage.rules.elsewhere import Gained, why_not_there
from service.storage.rules.elsewhere_words import STOPPED, gained_words, until_words
from service.storage.rules.store_sums import base_doses
from tests.builders.loggers import make_logger
from tests.builders.storage import make_bundles, put, stop_bundles
from tests.storage.test_keeping import CUT, Shelf


class Garages(Shelf):
    """The shelf, and more stores of the same host."""

    def beside(self, name, temp_c=None, kind="fridge", days=21):
        body = schemas.StoreCreate(name=name, kind=kind, host_id=self.host.party_id)
        store = self.writer.write_now(actions.add_store, self.host, body)
        if temp_c is not None:
            at = self.clock.at - timedelta(days=days)
            sensor = make_logger(
                self.writer, self.ground, store_id=store.id, from_at=CUT - timedelta(days=90)
            )
            self.send(sensor.id, [(at + timedelta(hours=n), temp_c) for n in range(24 * days)])
        return store

    def compared(self, bundle=None):
        with self.database.reading() as session:
            told = what_if(session, bundle or self.bundle, self.clock.at)
        return told, {one.store_name: one for one in told.stores}


@pytest.fixture
def garages(database, writer, clock):
    found = Garages(database, writer, clock)
    found.until(24 * 21).hourly([4.0] * 24 * 21)
    return found


def test_a_colder_store_is_told_in_weeks_gained(garages):
    """Apple keeps 15.3 weeks at 4 °C and 25.4 at 1 °C; after three weeks at 4 °C the rest counts at the rate of 1 °C."""
    cold = garages.beside("Cold room", 1.0, "cold_room")

    told, by_name = garages.compared()

    there, here = by_name["Cold room"], by_name["Garage fridge"]
    left_of_four = (15.3 - 3) / 15.3  # budbreak limits both: what is left of it is used up at the other rate
    assert (there.keeps_until - garages.clock.at.date()).days == pytest.approx(left_of_four * 25.4 * 7, abs=8)
    assert there.gained.days == pytest.approx((there.keeps_until - here.keeps_until).days, abs=8)
    assert there.gained.low > 0
    assert told.best_id == cold.id
    assert told.words == f"It would keep longer in Cold room: {there.gained_words}"


def test_where_it_lies_is_told_as_its_own_page_tells_it(garages):
    _, by_name = garages.compared()
    with garages.database.reading() as session:
        own = keeping_of(session, garages.bundle, garages.clock.at)

    here = by_name["Garage fridge"]

    assert (here.keeps_until, here.keeps_from, here.keeps_to) == (
        own.keeps_until,
        own.keeps_from,
        own.keeps_to,
    )
    assert here.is_here
    assert here.gained is None


@pytest.mark.parametrize(
    "kind, temp_c, reason",
    [
        ("fridge", -0.5, "no fridge of a household is to be below 0 °C"),
        ("cold_room", -2.0, "for 168 hours below the 0 °C at which wood of apple is stored at the least"),
    ],
)
def test_a_store_that_is_too_cold_is_shown_with_the_reason_and_never_proposed(garages, kind, temp_c, reason):
    """-2 °C would keep apple longest of all (48 weeks), and still it is not proposed."""
    garages.beside("Ice box", temp_c, kind)

    told, by_name = garages.compared()

    assert reason in by_name["Ice box"].not_proposed
    assert by_name["Ice box"].keeps_until > by_name["Garage fridge"].keeps_until
    assert told.best_id is None
    assert told.stores[-1].store_name == "Ice box"


def test_one_cold_night_of_the_last_week_is_enough_not_to_be_proposed(garages):
    """Mild on the whole, and wood is killed by the coldest hours alone."""
    room = garages.beside("Cold room", kind="cold_room")
    sensor = make_logger(garages.writer, garages.ground, store_id=room.id, from_at=CUT - timedelta(days=90))
    at, hours = garages.clock.at - timedelta(days=21), 24 * 21
    cold = range(hours - 60, hours - 55)
    garages.send(sensor.id, [(at + timedelta(hours=n), -1.0 if n in cold else 1.0) for n in range(hours)])

    told, by_name = garages.compared()

    assert "It was down to −1 °C in the last week, for 5 hours below" in by_name["Cold room"].not_proposed
    assert told.best_id is None


def test_below_freezing_is_proposed_for_no_kind_of_which_no_lowest_temperature_is_known():
    hours = 168
    measured = StoreRun(0, np.full(hours, -0.5), np.full(hours, np.nan), np.zeros(hours, np.uint8))

    told = why_not_there(base_doses(measured), "cold_room", None, "medlar")

    assert "168 hours below the 0 °C at which wood of medlar is stored" in told


def test_of_stopped_wood_every_store_is_compared_and_none_proposed(garages):
    garages.beside("Cold room", 1.0, "cold_room")
    stop_bundles(garages.writer, garages.ground, [garages.bundle])

    told, by_name = garages.compared()

    assert set(by_name) == {"Cold room", "Garage fridge"}
    assert told.best_id is None
    assert told.words == STOPPED


def test_from_where_it_is_too_cold_it_is_to_go_even_where_it_keeps_shorter(database, writer, clock):
    garages = Garages(database, writer, clock)
    garages.until(24 * 21).hourly([-1.0] * 24 * 21)
    other = garages.beside("Cellar fridge", 3.0)

    told, by_name = garages.compared()

    assert by_name["Garage fridge"].not_proposed
    assert by_name["Cellar fridge"].gained.days < 0
    assert told.best_id == other.id
    assert told.words.startswith("It is too cold where it lies: in Cellar fridge it would keep until ")


def test_a_store_of_which_nothing_was_read_is_assumed_and_not_proposed(garages):
    garages.beside("New cold room", kind="cold_room")

    told, by_name = garages.compared()

    new = by_name["New cold room"]
    assert new.inputs[0].how == "assumed"
    assert new.inputs[0].words == "168 hours assumed"
    assert new.mean_c == 3.0
    assert by_name["Garage fridge"].inputs[0].how == "measured"
    assert told.best_id is None


def test_ripe_fruit_in_the_other_store_costs_days(garages):
    garages.beside("Plain fridge", 10.0)
    fruity = garages.beside("Apple fridge", 10.0)
    body = schemas.FruitCreate(store_id=fruity.id, what="Bramleys", amount="ripe", from_on=CUT.date())
    garages.writer.write_now(actions.put_fruit_in, garages.host, body)

    _, by_name = garages.compared()

    assert by_name["Apple fridge"].keeps_until <= by_name["Plain fridge"].keeps_until
    assert by_name["Apple fridge"].inputs[2].words == "ripe fruit"
    assert by_name["Apple fridge"].gained.days < 0


def test_wood_of_which_nothing_is_reckoned_is_compared_with_nothing(garages):
    (loose,) = make_bundles(garages.writer, garages.ground)
    put(
        garages.writer,
        garages.ground.host,
        {"bundle_id": loose, "store_id": garages.beside("Shed").id, "done_at": CUT},
    )

    told, by_name = garages.compared(loose)

    assert told.words == words.NOT_READ
    assert by_name == {}


@pytest.mark.parametrize(
    "gained, told",
    [
        (None, ""),
        (Gained(0, 0, 0), "no day more or less"),
        (Gained(0, -7, 0), "up to 7 days fewer"),
        (Gained(0, -7, 7), "less than a day more (from 7 fewer to 7 more)"),
        (Gained(28, -14, 28), "from 14 days fewer to 28 more"),
        (Gained(-14, -14, 7), "from 14 days fewer to 7 more"),
        (Gained(28, 7, 28), "7 to 28 days more"),
        (Gained(28, 0, 28), "up to 28 days more"),
        (Gained(-7, -21, -7), "7 to 21 days fewer"),
        (Gained(14, 14, 14), "about 14 days more (its range is narrower than is told)"),
        (Gained(400, 300, 400, more=True), "300 to 400 days more, or longer"),
        (Gained(14, 7, 21), "14 days more (7 to 21)"),
        (Gained(1, 0, 2), "1 day more (0 to 2)"),
        (Gained(7, -7, 21), "7 days more (from 7 fewer to 21 more)"),
        (Gained(-14, -21, -7), "14 days fewer (7 to 21)"),
        (Gained(400, 300, 500, more=True), "at least 400 days more (300 to 500)"),
    ],
)  # fmt: skip
def test_days_gained_are_never_told_without_both_ends(gained, told):
    assert gained_words(gained) == told


def test_dates_are_never_told_without_both_ends():
    day = CUT.date()

    assert until_words(day + timedelta(9), day, day + timedelta(30), day).endswith(" and 9 February 2026)")
    assert "(between now and" in until_words(day + timedelta(9), day, day + timedelta(30), day)
    assert until_words(day, day, day, day) == "less than three quarters are left by now"
    assert until_words(None, None, None, day) == "over two years"
