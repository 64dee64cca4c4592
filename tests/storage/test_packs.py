"""A logger inside a pack: what it measures is the air of that wood alone, and of no other.

Walnut at 4 °C with 90 % inside its pack loses 2 % per kPa and day of a bare stick of 6 mm (derived), 19.5 % in 120 days, by
Tetens' equation (FAO 56 eq. 11); 15 % cost half of it (judgement).
"""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from uuid import UUID

import numpy as np
import pytest

from service.science.groups import GROUPS
from service.science.hazards import Keeping, age, fresh_doses, traits_of
from service.science.viability import Ageing, estimate
from service.storage.queries.doses import days_of_stores
from service.storage.queries.keeping import keeping_of
from service.storage.rules import keeping_words as words
from service.storage.rules.doses import StoreRun
from service.storage.rules.keeping import Lay, Wood, walk
from service.storage.rules.packs import InPack, own_packs
from service.storage.rules.stays import Span, Spell
from service.storage.rules.store_sums import base_doses
from tests.builders.loggers import make_logger, send
from tests.builders.storage import make_box, make_bundles, make_store, put
from tests.storage.test_keeping import CUT, STORE, Shelf

HOURS = 24 * 120
DEFICIT = 0.6108 * math.exp(17.27 * 4 / (4 + 237.3)) * 0.1  # kPa at 4 °C and 90 %
LOST = 2.0 * DEFICIT * 120


@pytest.fixture
def shelf(database, writer, clock):
    found = Shelf(database, writer, clock)
    with database.writing_session() as session:
        session.connection().exec_driver_sql("UPDATE taxon SET species_group = 'walnut'")
        session.commit()
    return found.until(HOURS)


def boxed(shelf, bundles, hung=CUT):
    """Bundles in one box, and a logger inside a pack there, which tells 4 °C and 90 %."""
    box = make_box(shelf.writer, shelf.ground)
    put(shelf.writer, shelf.ground.host, {"box_id": box.id, "store_id": shelf.store.id, "done_at": CUT})
    for bundle in bundles:
        put(shelf.writer, shelf.ground.host, {"bundle_id": bundle, "into_box_id": box.id, "done_at": CUT})
    logger = make_logger(shelf.writer, shelf.ground, box_id=box.id, sensor="pack", from_at=hung).id
    tell(shelf, logger)
    return box


def tell(shelf, logger, value=("4.0", "90")):
    told = [(CUT + timedelta(hours=n), value) for n in range(HOURS)]
    for part in range(0, HOURS, 1000):
        send(shelf.writer, shelf.ground, logger, told[part : part + 1000])
    shelf.work()


def humidity_of(told):
    return next((one.how, one.words) for one in told.inputs if one.what == "humidity")


def test_wood_whose_own_pack_is_measured_dries_as_that_air_has_it(shelf):
    boxed(shelf, [shelf.bundle])

    told = shelf.told()

    assert pytest.approx(19.5, abs=0.05) == LOST
    assert told.doses.drying * 15 == pytest.approx(LOST, rel=0.002)
    assert told.limits_now == words.HAZARD_WORDS["drying"]
    # the mean over ln th, with the spread of a pack whose humidity is measured
    inside = traits_of(GROUPS["walnut"], Keeping(in_pack=True))
    whole = age(inside, fresh_doses(inside), np.full(HOURS, 4.0), np.full(HOURS, 90.0))
    expected = estimate(inside, whole, Ageing(0.0, 0.25))
    assert told.share.expected == pytest.approx(expected.expected, abs=0.005)
    assert told.share.expected == pytest.approx(0.17, abs=0.01)
    assert told.share.low == pytest.approx(expected.low, abs=0.005)
    assert humidity_of(told) == ("measured", f"{HOURS:,} hours inside its own pack")


def test_of_two_in_a_box_nobody_knows_whose_pack_it_was(shelf):
    (other,) = make_bundles(shelf.writer, shelf.ground)
    boxed(shelf, [shelf.bundle, other])

    for bundle in (shelf.bundle, other):
        told = shelf.told(bundle)
        assert told.doses.drying * 15 < 1.0
        assert humidity_of(told) == (
            "assumed",
            "80 % in the store; the logger inside a pack there says nothing of other packs",
        )


def test_the_air_inside_a_pack_is_not_the_stores(shelf):
    (other,) = make_bundles(shelf.writer, shelf.ground)
    boxed(shelf, [other])
    first = int(CUT.timestamp()) // 3600

    with shelf.database.reading() as session:
        days = days_of_stores(session, [shelf.store.id], first, first + HOURS)[shelf.store.id]

    assert all(np.isnan(day.humidity).all() for day in days.values())
    assert {float(each) for day in list(days.values())[1:-1] for each in day.temp_c} == {4.0}
    assert humidity_of(shelf.told())[0] == "assumed"
    assert humidity_of(shelf.told(other))[0] == "measured"


def test_the_stores_own_air_goes_on_counting_for_the_rest(shelf):
    (other,) = make_bundles(shelf.writer, shelf.ground)
    boxed(shelf, [other])
    tell(shelf, shelf.sensor, ("4.0", "60"))

    told = shelf.told()

    assert humidity_of(told)[0] == "measured"
    assert told.doses.drying * 15 == pytest.approx(2.0 * DEFICIT * 4 * 120 * 0.02, rel=0.01)
    assert shelf.told(other).doses.drying * 15 == pytest.approx(LOST, rel=0.002)


def test_alone_in_a_store_it_is_its_own_and_with_another_it_is_not(shelf):
    store = make_store(shelf.writer, shelf.ground, name="Fridge at home")
    alone, later = make_bundles(shelf.writer, shelf.ground, 2)
    put(shelf.writer, shelf.ground.host, {"bundle_id": alone, "store_id": store.id, "done_at": CUT})
    half = CUT + timedelta(hours=HOURS // 2)
    logger = make_logger(shelf.writer, shelf.ground, store_id=store.id, sensor="pack", from_at=CUT).id
    tell(shelf, logger)
    whole = shelf.told(alone).doses.drying
    put(shelf.writer, shelf.ground.host, {"bundle_id": later, "store_id": store.id, "done_at": half})

    shared = shelf.told(alone)

    assert whole * 15 == pytest.approx(LOST, rel=0.002)
    assert shared.doses.drying * 15 == pytest.approx(LOST / 2, rel=0.05)
    how, said = humidity_of(shared)
    assert how == "measured for 50 % of its hours, else assumed"
    assert said.startswith(f"{HOURS // 2:,} hours inside its own pack; 80 % in ")


def test_asked_where_else_it_would_keep_its_pack_goes_along(shelf):
    from service.storage.queries.elsewhere import what_if

    make_store(shelf.writer, shelf.ground, name="Another fridge")
    boxed(shelf, [shelf.bundle])

    with shelf.database.reading() as session:
        found = what_if(session, shelf.bundle, shelf.clock.at)
        told = keeping_of(session, shelf.bundle, shelf.clock.at)

    assert {one.limits_then for one in found.stores} == {told.limits_then} == {words.HAZARD_WORDS["drying"]}


# -- rules -----------------------------------------------------------------------------------------------------------------


def test_hours_in_which_nobody_measured_inside_dry_as_the_packing_lets_them():
    humidity = np.array([90.0] * 50 + [np.nan] * 50)
    run = StoreRun(0, np.full(100, 4.0), np.full(100, 80.0), np.zeros(100, np.uint8))
    logger = UUID(int=9)
    base = base_doses(run, packs={logger: humidity})

    wood, walnut = Wood(STORE, "walnut", True, 0), GROUPS["walnut"]
    ways = [
        walk(wood, walnut, [Lay(STORE, 0, 100, pack_id=pack)], [], {STORE: base}) for pack in (logger, None)
    ]
    lost = [float(each.doses.lost_pct[0]) for each in ways]

    hour = 2.0 * DEFICIT / 24
    assert lost == pytest.approx([hour * 50 + hour * 2 * 0.02 * 50, hour * 2 * 0.02 * 100])


DAY = datetime(2026, 1, 1, tzinfo=UTC)


def span(begin, end=None):
    return Span(DAY + timedelta(days=begin), None if end is None else DAY + timedelta(days=end))


def test_it_is_its_own_only_while_no_other_lay_with_it():
    box, store, logger, first, second = (UUID(int=n) for n in range(1, 6))
    spells = [
        Spell(first, box, None, store, span(0, 2)),
        Spell(first, box, None, store, span(2)),  # the box was moved
        Spell(second, box, None, store, span(5, 8)),
        Spell(second, None, None, store, span(8)),  # taken out of the box, in the same store
    ]

    found = own_packs([InPack(logger, box, store, span(1, 20))], spells)

    told = {
        each: [(one.span.from_at - DAY, one.span.until_at - DAY) for one in packs]
        for each, packs in found.items()
    }
    days = [(1, 2), (2, 5), (8, 20)]
    assert told == {first: [(timedelta(days=a), timedelta(days=b)) for a, b in days]}


def test_in_a_store_without_a_box_all_that_lies_there_lies_with_it():
    box, store, logger, first, second = (UUID(int=n) for n in range(1, 6))
    loggers = [InPack(logger, None, store, span(0))]

    alone = own_packs(loggers, [Spell(first, None, None, store, span(0))])
    both = own_packs(
        loggers, [Spell(first, None, None, store, span(0)), Spell(second, box, None, store, span(0))]
    )

    assert [one.span for one in alone[first]] == [span(0)]
    assert both == {}
