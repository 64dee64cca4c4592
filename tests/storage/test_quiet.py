"""Loggers that fell silent, and gaps: told for those that send by themselves, never for a fridge that is read by hand."""

from __future__ import annotations

from datetime import timedelta

import pytest

from service.storage import actions, queries, schemas
from tests.builders.garage import Garage
from tests.builders.loggers import Clerk, hourly, steady
from tests.builders.storage import ago


@pytest.fixture
def garage(database, writer, clock):
    return Garage(database, writer, clock)


def quiet(garage):
    with garage.database.reading() as session:
        return queries.quiet_in_store(session, garage.store.id, garage.clock.at)


def test_a_logger_that_sends_is_silent_after_three_hours(garage):
    """A gap counts from 3 hours without a reading on, as gaps in a record do. Judgement."""
    garage.send(garage.logger(), steady(ago(hours=28), 25, 3.0))  # the last four hours ago
    (told,) = quiet(garage)
    assert (told.from_at, told.until_at) == (ago(hours=4), None)

    garage.send(told.logger_id, steady(ago(hours=3, minutes=1), 1, 3.0))
    assert [one.until_at for one in quiet(garage)] == [None]
    garage.send(told.logger_id, steady(ago(hours=3), 1, 3.0))
    assert quiet(garage) == []


@pytest.mark.parametrize(
    "step, last, silent", [(12, 17, False), (12, 19, True), (24, 35, False), (24, 37, True)]
)
def test_a_logger_that_writes_seldom_is_silent_when_it_should_have_written(garage, step, last, silent):
    """Half as long again as it usually takes. Judgement."""
    garage.send(garage.logger(), steady(ago(hours=last + 4 * step), 5 * step, 3.0, step_minutes=60 * step))

    assert [one.until_at is None for one in quiet(garage) if one.until_at is None] == [True] * silent


def test_a_logger_that_is_read_out_by_file_is_not_silent(garage, database, writer):
    logger = garage.logger()
    garage.send(logger, steady(ago(days=20), 5, 3.0))
    assert len(quiet(garage)) == 1

    Clerk(writer, garage.ground, database, logger).take_all(*hourly(ago(days=9), ["3.1", "3.2", "3.3"]))

    assert quiet(garage) == []


def test_one_that_never_wrote_is_retired_or_hangs_elsewhere_is_not_silent(garage):
    garage.logger()
    assert quiet(garage) == []
    old = garage.logger()
    garage.send(old, steady(ago(days=9), 5, 3.0))
    garage.writer.write_now(
        actions.change_logger, garage.ground.host, old, 1, schemas.LoggerUpdate(retired=True)
    )
    gone = garage.logger()
    garage.send(gone, steady(ago(days=9), 5, 3.0))
    body = schemas.LoggerMoveCreate(out=True, from_at=ago(days=8))
    garage.writer.write_now(actions.hang_logger, garage.ground.host, gone, body)

    assert quiet(garage) == []


def test_a_gap_of_this_week_is_told_with_both_its_ends(garage):
    garage.send(garage.logger(), steady(ago(hours=30), 10, 3.0), steady(ago(hours=15), 15, 3.0))

    (gap,) = quiet(garage)

    assert (gap.from_at, gap.until_at) == (ago(hours=21), ago(hours=15))
    garage.clock.move(timedelta(days=8))
    assert [one.until_at for one in quiet(garage)] == [None]


def test_a_fridge_that_is_read_by_hand_is_never_silent(garage):
    garage.dial(now=3, read_at=ago(days=12))

    assert quiet(garage) == []
