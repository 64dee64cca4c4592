"""Frost that a thermometer kept in mind: told with the lowest since its reset, it may be the coldest hour of the wood.

What it counts as is judgement; what it kills is by the published temperatures of swelling apple buds, -9.4 and -16.7 °C.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import numpy as np
import pytest

from service.science.groups import GROUPS
from service.storage import actions, schemas
from service.storage.queries.keeping import kept_keeping
from service.storage.rules import keeping_words as words
from service.storage.rules.doses import Basis, StoreRun
from service.storage.rules.keeping import Lay, Wood, walk
from service.storage.rules.remembered import Counts, Remembered, remembered_frosts, remembered_words
from service.storage.rules.ringing import DialAt
from service.storage.rules.store_sums import COLD, MIDDLE, WARM, base_doses
from tests.storage.test_keeping import CUT, STORE, Shelf

LIVES = 1 - 1 / (1 + math.exp(2 * math.log(9) / 7.3 * (-16 + 13.05)))  # apple at -16 °C: a seventh


@pytest.fixture
def shelf(database, writer, clock):
    return Shelf(database, writer, clock)


def dial(shelf, day, **told):
    return shelf.dial(now="4", read_at=CUT + timedelta(days=day, hours=-1), **told)


def kept(shelf):
    dial(shelf, 0, reset_done=True)
    for day in range(3, 40, 3):
        dial(shelf, day)
    shelf.until(24 * 40)


def frost_of(told):
    return [(one.how, one.words) for one in told.inputs if one.what == "remembered frost"]


def test_the_lowest_since_its_reset_is_the_coldest_hour_of_wood_that_lay_there_all_the_while(shelf):
    shelf.until(24 * 40)
    kept(shelf)
    dial(shelf, 6, reset_done=True)
    mild = shelf.told()
    dial(shelf, 21, lowest="-16")

    told = shelf.told()

    assert frost_of(mild) == []
    assert told.limits_now == words.HAZARD_WORDS["freezing"]
    assert told.share.expected == pytest.approx(mild.share.expected * LIVES, abs=0.005)
    assert told.share.low < told.share.expected
    assert told.share.high == mild.share.high  # by the door, for a moment
    assert [how for how, _ in frost_of(told)] == ["by hand"]
    assert "down to −16 °C" in frost_of(told)[0][1]
    assert "as a moment by the door" in frost_of(told)[0][1]


def test_of_a_memory_that_goes_back_to_nobody_knows_when_the_low_end_alone_counts(shelf):
    shelf.until(24 * 40)
    for day in range(0, 40, 3):
        dial(shelf, day)
    mild = shelf.told()
    dial(shelf, 21, lowest="-16")

    told = shelf.told()

    assert told.share.expected == mild.share.expected
    assert told.share.low < LIVES < mild.share.low
    assert "nobody knows since when: only the low end counts it" in frost_of(told)[0][1]


def test_wood_that_came_in_the_midst_of_it_may_have_missed_it(shelf):
    shelf.until(24 * 40)
    for day in range(0, 40, 3):
        dial(shelf, day)
    dial(shelf, -5, reset_done=True)
    mild = shelf.told()
    dial(shelf, 2, lowest="-16")

    told = shelf.told()

    assert told.share.expected == mild.share.expected
    assert told.share.low < LIVES
    assert "it lay there for a part: only the low end counts it" in frost_of(told)[0][1]


def test_where_a_logger_told_every_hour_that_stands(shelf):
    shelf.until(24 * 40)
    kept(shelf)
    shelf.hourly([4.0] * 24 * 40)
    mild = shelf.told()
    dial(shelf, 21, lowest="-16")

    assert shelf.told().share == mild.share
    assert frost_of(shelf.told()) == []


def test_a_memory_taken_back_or_told_alone_renews_what_stands(shelf):
    shelf.until(24 * 40)
    kept(shelf)
    mild = shelf.told().share.expected
    body = schemas.DialReadingCreate(
        store_id=shelf.store.id, lowest="-16", sure=True, read_at=CUT + timedelta(days=20)
    )
    made = shelf.writer.write_now(actions.read_dial, shelf.ground.host, body)
    shelf.clock.move(timedelta(hours=2))
    shelf.work()

    frozen = kept_share(shelf)
    shelf.writer.write_now(
        actions.take_dial_back, shelf.ground.host, made.id, schemas.TakenBack(why="mistyped")
    )
    shelf.work()

    assert frozen < 0.2 < mild
    assert kept_share(shelf) == pytest.approx(mild, abs=0.005)


def kept_share(shelf):
    with shelf.database.reading() as session:
        return kept_keeping(session, shelf.bundle).share.expected


# -- rules -----------------------------------------------------------------------------------------------------------------

DAY = datetime(2026, 1, 1, tzinfo=UTC)
FIRST = int(DAY.timestamp()) // 3600


def at(hour, lowest=None, *, reset=False, place=None):
    return DialAt(DAY + timedelta(hours=hour), 4.0, lowest, None, reset, place)


@pytest.mark.parametrize(
    "dials, found",
    [
        ([at(0, reset=True), at(48, -3.0)], [(0, 48, -3.0)]),
        ([at(48, -3.0)], [(None, 48, -3.0)]),
        ([at(0, reset=True), at(48, -3.0), at(72, -3.0)], [(0, 48, -3.0)]),
        ([at(0, reset=True), at(48, -3.0), at(72, -5.0)], [(0, 48, -3.0), (48, 72, -5.0)]),
        # warmer than before: somebody reset it meanwhile, and said nothing
        ([at(0, reset=True), at(48, -3.0), at(72, -1.0)], [(0, 48, -3.0), (48, 72, -1.0)]),
        ([at(0, 2.0), at(48, 1.0)], []),
        ([at(0, reset=True), at(0, -3.0)], [(0, 1, -3.0)]),
    ],
    ids=["since its reset", "since when", "told twice", "colder", "warmer", "no frost", "within the hour"],
)  # fmt: skip
def test_what_was_told_before_is_told_once(dials, found):
    told = [(one.begin, one.end, one.lowest_c) for one in remembered_frosts(dials)]

    assert told == [(None if a is None else FIRST + a, FIRST + b, low) for a, b, low in found]


def test_each_places_thermometer_has_a_memory_of_its_own():
    door, back = uuid4(), uuid4()

    told = remembered_frosts([at(0, reset=True, place=back), at(48, -3.0, place=door)])

    assert [(one.begin, one.lowest_c) for one in told] == [(None, -3.0)]


@pytest.mark.parametrize(
    "begin, end, lays, ways",
    [
        (10, 50, [(0, 100)], [MIDDLE, WARM]),
        (10, 50, [(20, 100)], [WARM]),
        (10, 50, [(0, 40)], [WARM]),
        (10, 50, [(13, 100)], [MIDDLE, WARM]),
        (10, 50, [(0, 30), (30, 100)], [MIDDLE, WARM]),
        (10, 50, [(60, 100)], []),
        (None, 50, [(0, 100)], [WARM]),
    ],
    ids=["all the while", "came later", "left before", "hours later", "fruit came", "after it", "nobody knows since when"],
)  # fmt: skip
def test_which_ways_of_the_reckoning_froze(begin, end, lays, ways):
    run = StoreRun(0, np.full(100, 4.0), np.full(100, np.nan), np.full(100, Basis.BY_HAND, np.uint8))
    base = base_doses(run, 2.0)
    base = type(base)(**{**vars(base), "frosts": (Remembered(begin, end, -16.0),)})

    found = walk(
        Wood(STORE, "apple", True, 0),
        GROUPS["apple"],
        [Lay(STORE, *each) for each in lays],
        [],
        {STORE: base},
    )

    coldest = found.doses.coldest_c.tolist()
    assert [way for way in (MIDDLE, WARM, COLD) if coldest[way] == -16.0] == ways
    assert len(found.frosts) == bool(ways)
    assert bool(remembered_words(found.frosts)) is bool(ways)


def test_of_several_the_coldest_of_each_sort_is_told():
    told = remembered_words([(Counts.WHOLE, -2.0), (Counts.WHOLE, -4.5), (Counts.PARTLY, -9.0)])

    assert [word in told for word in ("−2 °C", "−4.5 °C", "−9 °C")] == [False, True, True]
