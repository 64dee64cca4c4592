"""What a store is said to have: it counts where nothing measured, from then on, with a wider spread.

Of a nominal temperature: constant, sigma 0.40, 2 °C either way in a fridge and 1 °C in a cold room (judgement, as the page of all
numbers has them). The model's worked example (judgement, tuned; computed there): apple kept for 60 days at a nominal 4 °C.
"""

from __future__ import annotations

from uuid import UUID

import numpy as np
import pytest

from service.lib.errors import Problem
from service.science.groups import GROUPS
from service.storage.actions.nominal import set_nominal
from service.storage.queries.keeping import keeping_of, keeping_of_all, reckon
from service.storage.rules.doses import Basis, run_of
from service.storage.rules.keeping import Lay, Wood, ageing_of, stands, walk
from service.storage.rules.keeping_words import inputs_told
from service.storage.rules.nominal import NominalFrom, NoSuchNominal, check_nominal, plan_nominal
from service.storage.rules.own_limits import OnlyItsHost
from service.storage.rules.store_sums import base_doses
from service.storage.schemas.keeping import KeepingRead
from service.storage.schemas.nominal import NominalCreate
from tests.builders.garage import Garage
from tests.builders.loggers import steady
from tests.builders.storage import ago, make_bundles, put

STORE = UUID(int=1)


def test_hours_that_nothing_is_known_of_have_what_was_said_for_their_time():
    said = plan_nominal([(10, 1, 4.0), (30, 2, 6.0), (30, 3, 7.0), (40, 4, None)])

    run = run_of({}, 0, 48, 5.0, said)

    assert said == (NominalFrom(10, 4.0), NominalFrom(30, 7.0), NominalFrom(40, None))
    assert run.temp_c.tolist() == [5.0] * 10 + [4.0] * 20 + [7.0] * 10 + [5.0] * 8
    nominal = [Basis.NOMINAL] * 30
    assert run.known.tolist() == [Basis.ASSUMED] * 10 + nominal + [Basis.ASSUMED] * 8


def test_apple_for_sixty_days_at_a_nominal_four_degrees():
    """Expected 89 %, band 30-97 %: the worked example of the model, in a household fridge."""
    run = run_of({}, 0, 60 * 24, 5.0, (NominalFrom(0, 4.0),))
    wood = Wood(STORE, "apple", True, 0)
    lays = [Lay(STORE, 0, 60 * 24)]

    found = walk(wood, GROUPS["apple"], lays, [], {STORE: base_doses(run, 2.0)})
    share = stands(found, ageing_of(found))

    assert ageing_of(found).sigma == 0.40
    assert (round(share.expected, 2), round(share.low, 2), round(share.high, 2)) == pytest.approx(
        (0.89, 0.30, 0.97), abs=0.015
    )


def test_what_is_said_never_freezes_wood():
    run = run_of({}, 0, 240, 5.0, (NominalFrom(0, -20.0),))
    found = walk(
        Wood(STORE, "apple", True, 0),
        GROUPS["apple"],
        [Lay(STORE, 0, 240)],
        [],
        {STORE: base_doses(run, 2.0)},
    )

    assert float(np.min(found.doses.coldest_c)) == 0.0


def test_it_is_told_as_nominal():
    told = inputs_told(
        {"nominal": 100, "assumed": 3},
        None,
        weighed=False,
        looks=0,
        at_cut=None,
        chill=None,
        fruit=False,
    )

    assert told[0] == (
        "temperature", "nominal for 97 % of its hours, else assumed",
        "0 hours measured, 0 as a thermometer was read, 100 nominal, as its store is said to have, 3 assumed",
    )  # fmt: skip


@pytest.mark.parametrize(
    "temp_c, fails", [(4.0, False), (None, False), (-60.0, False), (61.0, True), (277.0, True)]
)
def test_what_no_store_has_is_refused(temp_c, fails):
    if fails:
        with pytest.raises(NoSuchNominal):
            check_nominal(temp_c)
    else:
        check_nominal(temp_c)


# -- in a store --------------------------------------------------------------------------------------------------------


@pytest.fixture
def garage(database, writer, clock):
    garage = Garage(database, writer, clock)
    put(
        writer,
        garage.ground.host,
        {"bundle_id": garage.bundle, "store_id": garage.store.id, "done_at": ago(days=33)},
    )
    return garage


def say(garage, temp_c, **given):
    told = garage.writer.write_now(
        set_nominal, garage.host, garage.store.id, NominalCreate(temp_c=temp_c, **given)
    )
    garage.work()
    return told


def kept(garage):
    with garage.database.reading() as session:
        return keeping_of(session, garage.bundle, garage.clock.at)


def test_wood_in_a_store_that_nobody_reads_keeps_by_what_is_said_of_it(garage):
    assert kept(garage).share is None

    say(garage, 4.0, done_at=ago(days=60))

    one = kept(garage)
    assert one.share is not None, one.share_words
    assert one.inputs[0].how == "nominal for 95 % of its hours, else assumed"
    assert one.share.low < one.share.expected


@pytest.mark.parametrize("temp_c", [4.0, -3.0])
def test_many_bundles_in_a_store_that_nobody_reads_keep_as_each_does_alone(garage, temp_c):
    """More than are reckoned one by one, none of them put away with another; said to be below freezing, it is no frost."""
    others = make_bundles(garage.writer, garage.ground, 7)
    for number, bundle_id in enumerate(others):
        entry = {
            "bundle_id": bundle_id,
            "store_id": garage.store.id,
            "done_at": ago(days=33, hours=3 * number),
        }
        put(garage.writer, garage.ground.host, entry)

    say(garage, temp_c, done_at=ago(days=60))

    with garage.database.reading() as session:
        stored = keeping_of_all(session, others)
        alone = {one: keeping_of(session, one, garage.clock.at) for one in others}
        together = reckon(session, others, garage.clock.at)
    for told in alone.values():
        assert told.inputs[0].how.startswith("nominal for "), told.share_words
        assert told.hazard != "freezing"
    assert len({one.inputs[0].words for one in alone.values()}) == len(others)
    assert {one: read_again(told) for one, told in together.items()} == stored
    for one, told in alone.items():
        assert stored[one].share_words == told.share_words
        assert stored[one].inputs == told.inputs
        assert stored[one].share.expected == pytest.approx(told.share.expected, rel=1e-13, abs=0)
        assert (stored[one].keeps_from, stored[one].keeps_to) == (told.keeps_from, told.keeps_to)


def read_again(told):
    return KeepingRead.model_validate(told.as_kept())


def test_a_change_counts_from_its_time_and_what_was_said_stays(garage):
    say(garage, 4.0, done_at=ago(days=30))
    told = say(garage, None)

    assert [one.temp_c for one in told] == [None, 4.0]
    assert [one.from_at for one in told] == [garage.clock.at, ago(days=30)]


def test_what_was_measured_goes_first(garage):
    garage.send(garage.logger(), steady(ago(days=50), 24 * 50, 2.0))
    before = kept(garage)

    say(garage, 9.0, done_at=ago(days=60))

    assert kept(garage).inputs == before.inputs
    assert before.inputs[0].how == "measured for 95 % of its hours, else assumed"


def test_only_its_host_or_a_steward_says_it_and_not_ahead_of_time(garage):
    with pytest.raises(OnlyItsHost):
        garage.writer.write_now(set_nominal, garage.ground.host, garage.store.id, NominalCreate(temp_c=4))
    with pytest.raises(Problem, match="it is only"):
        say(garage, 4.0, done_at=ago(days=-1))
