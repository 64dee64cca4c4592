"""Loggers: where they hang and hung, what is added to their readings, what is left out of them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from service.lib.clock import InTheFuture
from service.lib.database import Database
from service.lib.errors import Stale
from service.lib.paging import Paging
from service.lib.write import Writer
from service.storage import actions, queries
from service.storage.rules import (
    BackToFront,
    LoggerMoved,
    LoggerSpot,
    NameInUse,
    NoSuchLogger,
    NoSuchPlace,
    NoSuchStretch,
    OffsetFrom,
    Sensor,
    Span,
    StoreClosed,
    offset_at,
    plan_logger_stays,
    plan_offsets,
)
from service.storage.schemas import (
    LeftOutCreate,
    LoggerCreate,
    LoggerMoveCreate,
    LoggerOffsetCreate,
    LoggerUpdate,
    StoreUpdate,
)
from tests.builders.loggers import make_logger, send, steady
from tests.builders.storage import Ground, ago, make_box, make_ground, make_store, put
from tests.conftest import TODAY
from tests.infra.statements import Statements


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_ground(writer)


# -- rules -------------------------------------------------------------------------------------------------------------

A, B = uuid4(), uuid4()
NOON = datetime(2026, 2, 1, 12, tzinfo=UTC)


def moved(hours: int, seq: int, place=None, sensor=Sensor.AIR) -> LoggerMoved:
    return LoggerMoved(A, LoggerSpot(None, place, sensor), NOON + timedelta(hours=hours), seq)


def test_a_logger_hangs_until_it_is_hung_elsewhere_or_taken_out() -> None:
    stays = plan_logger_stays(
        [moved(5, 3), moved(0, 1, A), moved(2, 2, B, Sensor.PACK), moved(2, 4, B, Sensor.AIR)]
    )

    assert [(stay.spot.place_id, stay.spot.sensor, stay.span) for stay in stays] == [
        (A, Sensor.AIR, Span(NOON, NOON + timedelta(hours=2))),
        (B, Sensor.AIR, Span(NOON + timedelta(hours=2), NOON + timedelta(hours=5))),
    ]


def test_an_offset_holds_from_its_comparison_to_the_next() -> None:
    offsets = plan_offsets(
        [OffsetFrom(0.5, NOON, 2), OffsetFrom(-0.3, NOON, 1), OffsetFrom(1.0, NOON + timedelta(days=9), 3)]
    )

    assert [offset_at(offsets, NOON + timedelta(days=d)) for d in (-1, 0, 8, 9, 30)] == [
        0.0, 0.5, 0.5, 1.0, 1.0,
    ]  # fmt: skip


# -- on both databases -------------------------------------------------------------------------------------------------


def test_a_logger_is_followed_through_the_moves_of_its_box(
    writer: Writer, ground: Ground, database: Database
):
    fridge, cellar = make_store(writer, ground, places=["top"]), make_store(writer, ground, "Cellar")
    box = make_box(writer, ground)
    put(writer, ground.host, {"box_id": box.id, "place_id": fridge.places[1].id, "done_at": ago(days=9)})
    logger = make_logger(writer, ground, box_id=box.id, sensor="pack", from_at=ago(days=8))
    put(writer, ground.host, {"box_id": box.id, "store_id": cellar.id, "done_at": ago(days=3)})

    with database.reading() as session:
        found = queries.get_logger(session, logger.id)

    assert [(stay.store_name, stay.place_name, stay.box_name, stay.sensor) for stay in found.stays] == [
        ("Garage fridge", "top", "Blue crate", "pack"), ("Cellar", "", "Blue crate", "pack"),
    ]  # fmt: skip
    assert found.hangs == found.stays[1]
    assert (found.stays[0].until_at, found.stays[1].until_at) == (ago(days=3), None)


def test_moved_between_stores_its_readings_belong_to_where_it_hung(
    writer: Writer, ground: Ground, database: Database
):
    fridge, cellar = make_store(writer, ground), make_store(writer, ground, "Cellar")
    logger = make_logger(writer, ground, store_id=fridge.id, from_at=ago(days=10))
    send(writer, ground, logger.id, steady(ago(days=10), 240, "2.0"))
    writer.write_now(
        actions.hang_logger, ground.host, logger.id, LoggerMoveCreate(store_id=cellar.id, from_at=ago(days=4))
    )

    with database.reading() as session:
        in_fridge = queries.records_in_store(session, fridge.id, Span())
        in_cellar = queries.records_in_store(session, cellar.id, Span())

    assert [len(record.at) for record in (*in_fridge, *in_cellar)] == [144, 96]


def test_a_move_told_wrongly_is_put_right_by_telling_it_again(writer: Writer, ground: Ground):
    fridge, cellar = make_store(writer, ground), make_store(writer, ground, "Cellar")
    logger = make_logger(writer, ground, store_id=fridge.id, from_at=ago(days=10))

    right = writer.write_now(
        actions.hang_logger, ground.host, logger.id, LoggerMoveCreate(store_id=cellar.id, from_at=ago(days=10))
    )  # fmt: skip

    assert [stay.store_name for stay in right.stays] == ["Cellar"]


def test_an_offset_is_added_from_its_day_on_and_the_raw_value_stays(
    writer: Writer, ground: Ground, database: Database
):
    fridge = make_store(writer, ground)
    logger = make_logger(writer, ground, store_id=fridge.id, from_at=ago(days=10))
    send(writer, ground, logger.id, steady(ago(days=4), 96, "2.5"))
    body = LoggerOffsetCreate(offset_c=-0.4, from_at=ago(days=2), how="in melting ice it showed 0.4")

    found = writer.write_now(actions.set_offset, ground.host, logger.id, body)

    with database.reading() as session:
        (record,) = queries.records_in_store(session, fridge.id, Span())
        raw = queries.readings_of_logger(session, logger.id, Span())
    assert [(one.offset_c, one.how) for one in found.offsets] == [(-0.4, body.how)]
    assert record.temp_c.round(6).tolist() == [2.5] * 48 + [2.1] * 48
    assert record.hours().temp_c.round(6).tolist() == [2.5] * 48 + [2.1] * 48
    assert set(raw.celsius().tolist()) == {2.5}


def test_a_stretch_left_out_counts_for_nothing_until_it_is_taken_in_again(
    writer: Writer, ground: Ground, database: Database
):
    logger = make_logger(writer, ground)
    send(writer, ground, logger.id, steady(ago(days=1), 24, "21.0"))
    body = LeftOutCreate(from_at=ago(hours=20), until_at=ago(hours=11), why="it lay on the bench")

    out = writer.write_now(actions.leave_out, ground.host, logger.id, body)

    def hours() -> int:
        with database.reading() as session:
            return len(queries.record_of_logger(session, logger.id, Span()).hours().hour)

    assert [(one.why, one.from_at, one.until_at) for one in out.left_out] == [
        (body.why, body.from_at, body.until_at)
    ]
    assert hours() == 14
    assert (
        writer.write_now(actions.take_in_again, ground.host, out.left_out[0].id).left_out,
        hours(),
    ) == ([], 24)
    with pytest.raises(NoSuchStretch):
        writer.write_now(actions.take_in_again, ground.host, out.left_out[0].id)


def test_what_cannot_be_is_refused(writer: Writer, ground: Ground):
    store = make_store(writer, ground)
    logger = make_logger(writer, ground, "Grey logger")
    host = ground.host
    writer.write_now(actions.change_store, host, store.id, 1, StoreUpdate(closed=True))

    with pytest.raises(NameInUse):
        make_logger(writer, ground, "Grey logger")
    with pytest.raises(StoreClosed):
        writer.write_now(actions.hang_logger, host, logger.id, LoggerMoveCreate(store_id=store.id))
    with pytest.raises(NoSuchPlace):
        writer.write_now(actions.hang_logger, host, logger.id, LoggerMoveCreate(place_id=uuid4()))
    with pytest.raises(InTheFuture):
        writer.write_now(
            actions.hang_logger, host, logger.id, LoggerMoveCreate(out=True, from_at=TODAY + timedelta(days=1))
        )  # fmt: skip
    with pytest.raises(NoSuchLogger):
        writer.write_now(actions.hang_logger, host, uuid4(), LoggerMoveCreate(out=True))
    with pytest.raises(BackToFront):
        writer.write_now(
            actions.leave_out, host, logger.id, LeftOutCreate(from_at=TODAY, until_at=ago(days=1), why="stuck")
        )  # fmt: skip
    with pytest.raises(Stale):
        writer.write_now(actions.change_logger, host, logger.id, 7, LoggerUpdate(note="hums"))


@pytest.mark.parametrize(
    "told",
    [{"store_id": uuid4(), "box_id": uuid4()}, {"store_id": uuid4(), "out": True}, {}],
    ids=["two spots", "in and out", "nowhere"],
)
def test_a_logger_hangs_in_one_place(told: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="box, a place or a store"):
        LoggerMoveCreate(**told)


def test_the_list_costs_the_same_however_many_there_are(
    writer: Writer, ground: Ground, database: Database, statements: Statements
):
    store = make_store(writer, ground)
    box = make_box(writer, ground, store_id=store.id)
    for n in range(6):
        logger = make_logger(writer, ground, **({"box_id": box.id} if n % 2 else {"store_id": store.id}))
        send(writer, ground, logger.id, steady(ago(days=2), 30, "2.0"))
    writer.write_now(actions.change_logger, ground.host, logger.id, 1, LoggerUpdate(retired=True))

    with database.reading() as session, statements.at_most(7):
        page = queries.list_loggers(session, Paging(limit=10))
    with database.reading() as session:
        used = queries.list_loggers(session, Paging(limit=10), used_only=True)
        here = queries.loggers_in_store(session, store.id)

    assert (page.count, used.count, len(here)) == (6, 5, 6)
    assert {one.hangs.store_name for one in page.items if one.hangs} == {"Garage fridge"}
    assert {(one.readings, one.last_at) for one in page.items} == {(30, ago(days=2) + timedelta(hours=29))}


def test_a_new_logger_may_be_hung_at_once_and_only_in_one_place() -> None:
    with pytest.raises(ValueError, match="one of them only"):
        LoggerCreate(name="Two places", store_id=uuid4(), box_id=uuid4())
