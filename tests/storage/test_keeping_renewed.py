"""How wood keeps is reckoned anew: by the clock, once for many deeds, and for all that it concerns."""

from __future__ import annotations

import itertools
import sqlite3
from contextlib import closing
from datetime import timedelta
from decimal import Decimal

import pytest
from sqlalchemy import update
from sqlmodel import select

from service.bundles.tables import Bundle
from service.lib.database import new_id
from service.lib.jobs import Job, Worker
from service.storage import actions, schemas
from service.storage.actions.dosing import dosing, keeping, keeping_rows, keeping_wanted
from service.storage.queries.keeping import kept_keeping
from service.storage.queries.renewing import bundles_that_lay_in, stale_stores, told_since, with_children
from service.storage.queries.use_first import use_first, use_first_of
from service.storage.tables import BundleKeeping, Stay, Store, StoreDay, StoreRecord
from tests.builders.loggers import send
from tests.builders.storage import make_box, make_bundles, make_person, make_store, put, run
from tests.storage.test_keeping import CUT, Shelf

A_DAY = timedelta(days=1)


@pytest.fixture
def shelf(database, writer, clock):
    return Shelf(database, writer, clock)


def kept(shelf, bundle=None):
    with shelf.database.reading() as session:
        return kept_keeping(session, bundle or shelf.bundle)


def jobs(shelf):
    with shelf.database.reading() as session:
        return sorted((job.kind, job.once) for job in session.exec(select(Job)))


def ask(shelf, query, *given):
    with shelf.database.reading() as session:
        return query(session, *given)


def watched(shelf):
    """Whoever does the jobs, with the clock to ask it."""
    return Worker(shelf.database, shelf.writer, [dosing(), keeping()], [keeping_wanted])


# -- by the clock ----------------------------------------------------------------------------------------------------------


def test_wood_of_which_nothing_is_told_is_reckoned_anew_each_day(shelf, clock):
    shelf.until(720).hourly([4.0] * 720)
    worker = watched(shelf)
    renewed = []
    for _ in range(3 * 24):
        worker.look_at_the_clock()
        if worker.run_due():
            renewed.append(kept(shelf).as_of)
        clock.move(timedelta(hours=1))

    assert [later - earlier for earlier, later in itertools.pairwise(renewed)] == [A_DAY + timedelta(hours=1)]
    assert ask(shelf, stale_stores, clock.at - timedelta(days=2)) == []


def test_a_club_that_read_its_fridges_before_this_was_kept_has_their_hours_put_together(shelf, clock):
    shelf.until(720).hourly([4.0] * 720)
    before = kept(shelf)
    for table in (BundleKeeping, StoreDay, StoreRecord):
        run(shelf.writer, lambda session, table=table: session.execute(table.__table__.delete()) and None)
    worker = watched(shelf)

    worker.look_at_the_clock()
    asked = jobs(shelf)
    worker.run_due()

    assert asked == [("doses", f"doses:{shelf.store.id}"), ("keeping", f"keeping:{shelf.store.id}")]
    assert kept(shelf) == before
    assert before.share is not None


@pytest.mark.parametrize("gone", ["out", "used", "closed"])
def test_a_store_without_wood_asks_for_nothing(shelf, clock, gone):
    shelf.until(720).hourly([4.0] * 24)
    clock.move(timedelta(days=2))
    wanted = [store_id for store_id, _ in ask(shelf, stale_stores, clock.at - A_DAY)]
    ended = {
        "out": update(Stay).values(until_at=clock.at),
        "used": update(Bundle).values(discarded=Bundle.came_in),
        "closed": update(Store).values(closed_at=clock.at),
    }
    run(shelf.writer, lambda session: session.execute(ended[gone]) and None)

    assert wanted == [shelf.store.id]
    assert ask(shelf, stale_stores, clock.at - A_DAY) == []


def test_wood_that_was_used_up_is_passed_over_no_more_where_the_first_to_use_are_asked_for(shelf, clock):
    (other,) = make_bundles(shelf.writer, shelf.ground)
    put(shelf.writer, shelf.ground.host, {"bundle_id": other, "store_id": shelf.store.id, "done_at": CUT})
    shelf.until(720).hourly([4.0] * 720)
    used_up = update(Bundle).where(Bundle.id == shelf.bundle).values(discarded=Bundle.came_in)
    run(shelf.writer, lambda session: session.execute(used_up) and None)
    clock.move(timedelta(hours=1))
    shelf.hourly([4.0], clock.at)

    with shelf.database.reading() as session:
        kept_in = dict(session.exec(select(BundleKeeping.bundle_id, BundleKeeping.store_id)).all())

    assert (kept_in[shelf.bundle], kept_in[other]) == (None, shelf.store.id)
    assert kept(shelf).keeps_until is not None


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("where", ["one store", "all stores"])
def test_what_is_to_be_used_first_is_read_in_the_order_of_an_index(shelf, statements, where):
    """On PostgreSQL a small table is sorted whatever its indexes; there the list out of a hundred thousand is timed."""
    shelf.until(24).hourly([4.0] * 24)
    with statements.exactly(1), shelf.database.reading() as session:
        use_first(session, shelf.store.id if where == "one store" else None)
    with closing(sqlite3.connect(shelf.database.url.removeprefix("sqlite:///"))) as connection:
        asked = statements[-1]
        plan = [row[3] for row in connection.execute(f"EXPLAIN QUERY PLAN {asked}", [1] * asked.count("?"))]

    assert [step for step in plan if "TEMP B-TREE" in step] == []
    assert [step for step in plan if "keeping USING INDEX ix_keeping" in step] != []


# -- many deeds, one job -------------------------------------------------------------------------------------------------


def test_hands_that_go_through_a_box_ask_for_one_job_that_knows_all_they_told(shelf, clock):
    shelf.until(900).hourly([4.0] * 900)
    wood = make_bundles(shelf.writer, shelf.ground, 3)
    shelf.work()
    clock.move(timedelta(hours=1))
    for bundle in wood:
        put(
            shelf.writer, shelf.ground.host, {"bundle_id": bundle, "store_id": shelf.store.id, "done_at": CUT}
        )
        body = [schemas.BundleCheckCreate(bundle_id=bundle, buds="tight")]
        shelf.writer.write_now(actions.record_bundle_checks, shelf.ground.host, body)
        clock.move(timedelta(minutes=1))

    assert jobs(shelf) == [("keeping", "keeping:told")]
    assert shelf.at_once() == 0
    clock.move(timedelta(minutes=10))
    assert shelf.at_once() == 1
    assert all("Looked at on" in kept(shelf, each).look_words for each in wood)
    assert kept(shelf).as_of < kept(shelf, wood[0]).as_of  # what nobody touched was not reckoned again


def test_readings_ask_for_one_job_an_hour(shelf, clock):
    shelf.until(24)
    shelf.work()
    for minutes in range(0, 60, 5):
        send(shelf.writer, shelf.ground, shelf.sensor, [(clock.at, 4 + minutes / 10)])
        shelf.at_once()
        clock.move(timedelta(minutes=5))

    assert [one for one in jobs(shelf) if one[0] == "doses"] == [("doses", f"doses:{shelf.store.id}")]
    assert shelf.at_once() == 2  # the hours put together, and what lies there reckoned


def test_what_was_told_of_a_box_or_taken_back_concerns_its_wood(shelf, clock):
    shelf.until(900)
    box = make_box(shelf.writer, shelf.ground)
    put(shelf.writer, shelf.ground.host, {"box_id": box.id, "store_id": shelf.store.id, "done_at": CUT})
    put(shelf.writer, shelf.ground.host, {"bundle_id": shelf.bundle, "into_box_id": box.id})
    clock.move(timedelta(minutes=10))
    shelf.work()
    clock.move(timedelta(hours=1))
    before = ask(shelf, told_since)
    other = make_store(shelf.writer, shelf.ground, name="Cellar")
    put(shelf.writer, shelf.ground.host, {"box_id": box.id, "store_id": other.id})

    assert before == []
    assert ask(shelf, told_since) == [shelf.bundle]
    shelf.work()
    assert kept(shelf).store_id == other.id


def test_a_weight_that_was_taken_back_concerns_its_wood_again(shelf, clock):
    shelf.until(900)
    body = schemas.WeighingCreate(bundle_id=shelf.bundle, grams=Decimal(400))
    made = shelf.writer.write_now(actions.weigh_bag, shelf.ground.host, body)
    clock.move(timedelta(minutes=10))
    shelf.work()
    clock.move(timedelta(hours=1))
    before = ask(shelf, told_since)
    why = schemas.TakenBack(why="Another bag")
    shelf.writer.write_now(actions.take_weighing_back, shelf.ground.host, made.id, why)

    assert before == []
    assert ask(shelf, told_since) == [shelf.bundle]


def test_what_was_seen_of_a_bundle_before_it_was_split_renews_its_parts(shelf, clock):
    split = CUT + timedelta(days=20)
    (child,) = make_bundles(shelf.writer, shelf.ground, parent_id=shelf.bundle, made_at=split)
    put(shelf.writer, shelf.ground.host, {"bundle_id": child, "store_id": shelf.store.id, "done_at": split})
    shelf.until(720).hourly([4.0] * 720)
    before = kept(shelf, child)
    clock.move(timedelta(hours=1))

    shelf.look(buds="green", seen_at=CUT + timedelta(days=10))

    assert kept(shelf, child).share.expected < before.share.expected


def test_of_split_wood_what_went_to_others_is_not_reckoned_for_them_and_what_was_split_from_that_is(shelf):
    other = make_person(shelf.writer, name="Odhrán Feeney")
    (passed,) = make_bundles(shelf.writer, shelf.ground, parent_id=shelf.bundle, holder_id=other.party_id)
    (back,) = make_bundles(shelf.writer, shelf.ground, parent_id=passed)
    (used,) = make_bundles(shelf.writer, shelf.ground, parent_id=shelf.bundle, discarded=10)
    (lying,) = make_bundles(shelf.writer, shelf.ground, parent_id=used, holder_id=other.party_id)
    put(shelf.writer, shelf.ground.host, {"bundle_id": lying, "store_id": shelf.store.id})

    found = ask(shelf, with_children, [shelf.bundle])

    assert set(found) == {shelf.bundle, back, lying}
    assert {passed, used}.isdisjoint(found)


def test_of_more_bundles_than_a_statement_has_room_for_what_was_split_is_found(shelf):
    """SQLite takes 32,766 parameters by default, PostgreSQL 65,535."""
    (child,) = make_bundles(shelf.writer, shelf.ground, parent_id=shelf.bundle)
    many = [shelf.bundle, *(new_id() for _ in range(70_000))]

    found = ask(shelf, with_children, many)

    assert set(found) == {*many, child}


def test_wood_that_went_to_others_is_reckoned_in_the_store_where_it_lies_alone(shelf):
    elsewhere = make_person(shelf.writer, name="Odhrán Feeney")
    theirs, left = make_bundles(shelf.writer, shelf.ground, 2, holder_id=elsewhere.party_id)
    for bundle in (theirs, left):
        put(
            shelf.writer, shelf.ground.host, {"bundle_id": bundle, "store_id": shelf.store.id, "done_at": CUT}
        )
    put(shelf.writer, shelf.ground.host, {"bundle_id": left, "out": True})

    found = ask(shelf, bundles_that_lay_in, shelf.store.id)

    assert theirs in found
    assert left not in found


@pytest.mark.parametrize("inside", [True, False])
def test_fruit_told_by_the_stores_own_form_counts(shelf, clock, inside):
    shelf.until(720).hourly([6.0] * 720)
    told = shelf.store
    for word in (True, False)[: 1 if inside else 2]:
        shelf.work()
        body = schemas.StoreUpdate(fruit_inside=word)
        told = shelf.writer.write_now(actions.change_store, shelf.host, told.id, told.version, body)

    assert ("keeping", f"keeping:{shelf.store.id}") in jobs(shelf)


# -- what is told of how it is known -----------------------------------------------------------------------------------------


def test_fruit_in_another_time_and_a_weight_are_no_evidence_of_fruit_and_looks(shelf):
    shelf.until(720).hourly([4.0] * 720)
    before = schemas.FruitCreate(
        store_id=shelf.store.id, what="apples", amount="ripe",
        from_on=CUT.date() - timedelta(days=20), until_on=CUT.date() - timedelta(days=2),
    )  # fmt: skip
    shelf.writer.write_now(actions.put_fruit_in, shelf.ground.host, before)
    for grams, hours in (("210", 1), ("205", 719)):
        body = schemas.WeighingCreate(
            bundle_id=shelf.bundle, grams=Decimal(grams), empty_grams=Decimal(10), weighed_at=CUT + timedelta(hours=hours), sure=True,
        )  # fmt: skip
        shelf.writer.write_now(actions.weigh_bag, shelf.ground.host, body)

    told = {one.what: one.how for one in shelf.told().inputs}

    assert (told["fruit"], told["weight"], told["looks"]) == ("not known", "measured", "not known")


# -- the list of what to use first ----------------------------------------------------------------------------------------


def test_wood_that_outlives_what_is_reckoned_stands_after_what_has_an_end(shelf):
    shelf.until(720).hourly([4.0] * 720)
    told = kept(shelf)
    endless = told.model_copy(update={"keeps_until": None})
    by_age = told.model_copy(update={"share": None, "keeps_until": None})

    sorts = [row["sort_on"] for row in keeping_rows([told, endless, by_age])]

    assert sorts[0] == told.keeps_until
    assert sorts[2] == told.usual_until
    assert sorts[1] > told.as_of.date() + timedelta(days=2 * 366)


# The order is judgement: past use, then what gets worse each day, then what water may mend.
WORST_FIRST = [
    {"buds": "green"}, {"green_under_scratch": False}, {"mould": True}, {"buds": "swelling"}, {"wrinkled": True}, {"buds": "tight"},
]  # fmt: skip


def test_of_wood_looked_at_on_one_day_the_worst_stands_first_whatever_its_code(shelf):
    shelf.until(24).hourly([4.0] * 24)
    for look in reversed(WORST_FIRST):
        (bundle,) = make_bundles(shelf.writer, shelf.ground)
        put(
            shelf.writer, shelf.ground.host, {"bundle_id": bundle, "store_id": shelf.store.id, "done_at": CUT}
        )
        check = schemas.BundleCheckCreate(bundle_id=bundle, **look)
        shelf.writer.write_now(actions.record_bundle_checks, shelf.ground.host, [check])
    shelf.work()

    with shelf.database.reading() as session:
        listed = use_first(session)
        of_host = use_first_of(session, shelf.host.party_id, shelf.clock.at)
    found = [one.keeping.found_words or "nothing" for one in listed]

    assert [one.bundle_id for one in of_host] == [one.bundle_id for one in listed]
    starts = (
        "The buds show green",
        "No green under",
        "Mould",
        "The buds swell",
        "The bark is wrinkled",
        "nothing",
    )
    assert [one.startswith(start) for one, start in zip(found, starts, strict=False)] == [True] * len(starts)


def test_of_wood_as_bad_as_the_other_what_keeps_shorter_stands_first(shelf):
    shelf.until(720).hourly([4.0] * 720)
    (young,) = make_bundles(shelf.writer, shelf.ground)
    put(
        shelf.writer,
        shelf.ground.host,
        {"bundle_id": young, "store_id": shelf.store.id, "done_at": shelf.clock.at},
    )
    checks = [schemas.BundleCheckCreate(bundle_id=one, wrinkled=True) for one in (young, shelf.bundle)]
    shelf.writer.write_now(actions.record_bundle_checks, shelf.ground.host, checks)
    shelf.work()

    with shelf.database.reading() as session:
        found = use_first(session)[:2]

    assert {one.bundle_id for one in found} == {young, shelf.bundle}
    assert [one.keeping.found_on for one in found] == [shelf.clock.at.date()] * 2
    assert found[0].keeping.until < found[1].keeping.until
