"""Thermometers read by hand, and fruit beside wood, on both databases."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest

from service.lib.clock import InTheFuture
from service.lib.database import Database
from service.lib.paging import Paging
from service.lib.write import Writer
from service.storage import actions, queries, schemas
from service.storage.rules import (
    ETHYLENE,
    AreYouSure,
    Dial,
    DialContradicts,
    DialTakenBack,
    FruitBackwards,
    FruitGone,
    NoSuchFruit,
    NoSuchPlace,
    NoSuchStore,
    NoTemperature,
    NotForStoring,
    NothingRead,
    Span,
    TempUnit,
    can_be_dial,
    check_dial,
)
from tests.builders.storage import Ground, ago, make_box, make_ground, make_store
from tests.conftest import TODAY


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_ground(writer)


@pytest.fixture
def store(writer: Writer, ground: Ground) -> schemas.StoreRead:
    return make_store(writer, ground, places=["door"], with_tag=True)


def read(writer: Writer, ground: Ground, **told: Any) -> schemas.DialReadingRead:
    return writer.write_now(actions.read_dial, ground.host, schemas.DialReadingCreate(**told))


# -- rules -----------------------------------------------------------------------------------------------------------------

C, F = TempUnit.C, TempUnit.F


@pytest.mark.parametrize(
    "dial, problem",
    [
        (Dial(350, 100, 650, C), None),
        (Dial(None, -100, 850, C), None),
        (Dial(380, None, None, F), AreYouSure),
        (Dial(3800, 3200, 4400, F), None),
        (Dial(None, None, None, C), NothingRead),
        (Dial(40000, None, None, C), NoTemperature),
        (Dial(27560, None, None, C), NoTemperature),
        (Dial(350, 400, 650, C), DialContradicts),
        (Dial(700, 100, 650, C), DialContradicts),
        (Dial(None, 700, 650, C), DialContradicts),
        (Dial(3800, None, None, C), AreYouSure),
        (Dial(-900, None, None, C), AreYouSure),
        (Dial(400, -400, 2150, C), AreYouSure),
        (Dial(350, 350, 350, C), None),
    ],
    ids=[
        "usual",
        "without now",
        "°C taken for °F",
        "°F",
        "nothing",
        "400 degrees",
        "kelvin",
        "lowest above now",
        "now above highest",
        "lowest above highest",
        "°F taken for °C",
        "very cold",
        "very wide",
        "all the same",
    ],
)
def test_what_a_thermometer_may_show(dial: Dial, problem: type[Exception] | None) -> None:
    assert can_be_dial(dial, sure=False) is (problem is None)
    if problem is None:
        check_dial(dial, sure=False)
    else:
        with pytest.raises(problem):
            check_dial(dial, sure=False)
        assert can_be_dial(dial, sure=True) is (problem is AreYouSure)


def test_what_is_said_of_ethylene_has_its_source_and_no_number_that_nobody_found() -> None:
    assert all(each.source and each.mark == "published" for each in ETHYLENE)
    # The reference found no harmful amount for dormant fruit wood, so none may be told.
    assert "ppm" in ETHYLENE[1].words
    assert "fir" in ETHYLENE[1].words


# -- dials -----------------------------------------------------------------------------------------------------------------


def test_three_numbers_are_kept_as_typed_and_told_in_celsius_too(
    writer: Writer, ground: Ground, store: schemas.StoreRead
):
    made = read(
        writer,
        ground,
        store_id=store.id,
        now="38.5",
        lowest="33.8",
        highest="44.6",
        unit="F",
        reset_done=True,
    )

    assert (made.now, made.lowest, made.highest) == (Decimal("38.5"), Decimal("33.8"), Decimal("44.6"))
    # 33.8 °F = 1 °C and 44.6 °F = 7 °C by the definition of the scale.
    assert (made.now_c, made.lowest_c, made.highest_c) == (3.61, 1.0, 7.0)
    assert (made.reset_done, made.read_at) == (True, TODAY)


def test_it_is_read_by_the_tag_on_the_door_and_may_be_told_days_later(
    writer: Writer, ground: Ground, store: schemas.StoreRead, database: Database
):
    late = read(writer, ground, code=store.code, now="3", read_at=ago(days=3))
    read(writer, ground, store_id=store.id, now="4", read_at=ago(days=5))

    with database.reading() as session:
        last = queries.last_dials(session, [store.id])
        between = queries.dials_between(session, [store.id], Span(ago(days=4), None))
    assert last[store.id].id == late.id
    assert [one.now for one in between[store.id]] == [Decimal(3)]


def test_an_unlikely_number_is_asked_about_once_and_then_believed(
    writer: Writer, ground: Ground, store: schemas.StoreRead, database: Database
):
    told = {"store_id": store.id, "now": "38", "lowest": "34", "highest": "45"}

    with pytest.raises(AreYouSure) as asked:
        read(writer, ground, **told)
    with database.reading() as session:
        before = queries.list_dials(session, store.id, Paging()).count
    sure = read(writer, ground, **told, sure=True)

    assert "is it in °F, or mistyped?" in str(asked.value)
    assert (asked.value.field, before, sure.now_c) == ("now", 0, 38.0)


def test_what_cannot_be_is_refused_and_nothing_is_written(
    writer: Writer, ground: Ground, store: schemas.StoreRead, database: Database
):
    box = make_box(writer, ground, with_tag=True)
    other = make_store(writer, ground, "Cellar")
    wrong: list[tuple[type[Exception], dict[str, Any]]] = [
        (NoSuchStore, {"store_id": uuid4(), "now": "3"}),
        (NoSuchPlace, {"store_id": store.id, "place_id": other.places[0].id, "now": "3"}),
        (NotForStoring, {"code": box.code, "now": "3"}),
        (InTheFuture, {"store_id": store.id, "now": "3", "read_at": TODAY + timedelta(hours=1)}),
        (NothingRead, {"store_id": store.id}),
    ]
    for problem, told in wrong:
        with pytest.raises(problem):
            read(writer, ground, **told)
    with pytest.raises(ValueError, match="one of them only"):
        schemas.DialReadingCreate(now="3")
    with pytest.raises(ValueError, match="decimal"):
        schemas.DialReadingCreate(store_id=store.id, now="3.125")

    with database.reading() as session:
        assert queries.list_dials(session, store.id, Paging()).count == 0


def test_a_reading_is_taken_back_and_stays_crossed_out(
    writer: Writer, ground: Ground, store: schemas.StoreRead, database: Database
):
    made = read(writer, ground, store_id=store.id, now="13")
    body = schemas.TakenBack(why="it was 3, not 13")

    back = writer.write_now(actions.take_dial_back, ground.host, made.id, body)

    with database.reading() as session:
        listed = queries.list_dials(session, store.id, Paging())
        counted = queries.last_dials(session, [store.id])
    assert (back.taken_back_at, back.taken_back_why) == (TODAY, "it was 3, not 13")
    assert (listed.count, counted) == (1, {})
    with pytest.raises(DialTakenBack):
        writer.write_now(actions.take_dial_back, ground.host, made.id, body)


# -- fruit -----------------------------------------------------------------------------------------------------------------


def put_in(writer: Writer, ground: Ground, **told: Any) -> schemas.FruitRead:
    return writer.write_now(actions.put_fruit_in, ground.host, schemas.FruitCreate(**told))


def inside(database: Database, store: schemas.StoreRead) -> bool | None:
    with database.reading() as session:
        return queries.get_store(session, store.id).fruit_inside


def test_fruit_is_kept_with_its_days_and_the_store_says_so(
    writer: Writer, ground: Ground, store: schemas.StoreRead, database: Database
):
    before = inside(database, store)
    made = put_in(writer, ground, store_id=store.id, what="Bramleys", from_on="2026-02-01")
    during = inside(database, store)
    out = writer.write_now(
        actions.take_fruit_out, ground.host, made.id, schemas.FruitEnd(until_on=date(2026, 2, 10))
    )

    with database.reading() as session:
        then = queries.fruit_now(session, [store.id], date(2026, 2, 5))
        cautions = queries.get_store(session, store.id).cautions
    assert (before, during, inside(database, store)) == (None, True, False)
    assert (out.until_on, then[store.id].what, cautions) == (date(2026, 2, 10), "Bramleys", [])


def test_the_day_it_was_taken_out_can_be_put_right(writer: Writer, ground: Ground, store: schemas.StoreRead):
    made = put_in(writer, ground, store_id=store.id, from_on="2026-02-01", until_on="2026-02-10")

    right = writer.write_now(
        actions.take_fruit_out, ground.host, made.id, schemas.FruitEnd(until_on=date(2026, 2, 9))
    )

    assert right.until_on == date(2026, 2, 9)
    with pytest.raises(FruitGone):
        writer.write_now(
            actions.take_fruit_out, ground.host, made.id, schemas.FruitEnd(until_on=date(2026, 2, 9))
        )


def test_the_stores_own_form_makes_and_ends_a_spell(writer: Writer, ground: Ground, database: Database):
    store = make_store(writer, ground, "Cellar", fruit_inside=True)
    out = schemas.StoreUpdate(fruit_inside=False)
    writer.write_now(actions.change_store, ground.host, store.id, 1, out)

    with database.reading() as session:
        (spell,) = queries.fruit_in(session, [store.id])[store.id]
    assert (spell.from_on, spell.until_on, spell.amount) == (TODAY.date(), TODAY.date(), "ripe")


def test_fruit_days_must_be_possible(writer: Writer, ground: Ground, store: schemas.StoreRead):
    with pytest.raises(FruitBackwards):
        put_in(writer, ground, store_id=store.id, from_on="2026-02-10", until_on="2026-02-01")
    with pytest.raises(InTheFuture):
        put_in(writer, ground, store_id=store.id, from_on="2026-03-01")
    with pytest.raises(NoSuchStore):
        put_in(writer, ground, store_id=uuid4(), from_on="2026-02-01")
    with pytest.raises(NoSuchFruit):
        writer.write_now(
            actions.take_fruit_out, ground.host, uuid4(), schemas.FruitEnd(until_on=date(2026, 2, 9))
        )
