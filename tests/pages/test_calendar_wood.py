"""Wood and grafts in one's own calendar: what is to be used first, one's own wood, and when a take is judged."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from service.lib.clock import day_words
from service.members.actions import change_club
from service.members.queries import club, find_calendar_reader
from service.members.rules import Role, digest_of
from service.members.schemas import ClubUpdate
from service.pages.calendar_days import days_of
from service.storage.queries.use_first import use_first
from tests.builders.garage import Garage
from tests.builders.grafting import (
    APPLE,
    GALA,
    HARDY,
    M9,
    PEAR,
    QUINCE_A,
    graft,
    look,
    make_bench,
    make_wood,
    of,
)
from tests.builders.members import calendar_secret, make_asker
from tests.builders.storage import make_bundles, make_person, put, stop_bundles
from tests.storage.test_keeping import Shelf


@pytest.fixture
def days(database, writer, clock):
    """What somebody's calendar tells, the earliest first."""

    def of_asker(asker):
        secret = calendar_secret(writer, asker)
        with database.reading() as session:
            reader = find_calendar_reader(session, digest_of(secret))
            return sorted(days_of(session, reader, clock.now()), key=lambda day: day.on)

    return of_asker


# -- what is to be used first --------------------------------------------------------------------------------------


def test_what_is_to_be_used_first_stands_on_the_day_until_which_it_keeps(database, writer, clock, days):
    shelf = Shelf(database, writer, clock)
    shelf.until(24 * 60).hourly([4.0] * 24 * 60)
    with database.reading() as session:
        told = [one for one in use_first(session) if one.keeping.keeps_until]
    kept = min((one.keeping for one in told), key=lambda one: one.keeps_until)
    until = kept.keeps_until

    first, last = (day for day in days(shelf.host) if day.about.startswith("use-first/"))

    assert first.on == until
    assert first.title == last.title == "Garage fridge: use 1 bundle this week at the latest"
    between = f"between {day_words(kept.keeps_from)} and {day_words(kept.keeps_to)}"
    assert f"three quarters left until {day_words(until)} ({between}), as reckoned" in first.text
    assert "by its age until 27 June 2026 (usually kept 8 to 24 weeks)" in last.text, (
        "nothing was reckoned of it: 24 weeks from its cut"
    )
    assert last.on == date(2026, 6, 27)
    assert first.path == f"/store/{shelf.store.id}/use-first"
    assert first.changed_at >= max(one.keeping.as_of for one in told)


def test_stopped_wood_is_never_counted_among_what_to_use_first(database, writer, clock, days):
    shelf = Shelf(database, writer, clock)
    shelf.until(24 * 60).hourly([4.0] * 24 * 60)
    with database.reading() as session:
        everything = [one.bundle_id for one in use_first(session)]
    stop_bundles(writer, shelf.ground, everything)

    found = [day for day in days(shelf.host) if day.about.startswith("use-first/")]

    assert {day.title for day in found} == {"Garage fridge: stopped wood, not to be used"}
    assert all("stopped, and not to be used until it is released" in day.text for day in found)


def test_a_day_of_the_club_tells_a_host_what_hardly_keeps_until_then_and_others_the_day_alone(
    database, writer, clock, days
):
    shelf = Shelf(database, writer, clock)
    shelf.until(24 * 60).hourly([4.0] * 24 * 60)
    with database.reading() as session:
        until = {one.bundle_id: one.keeping.until for one in use_first(session)}
        version = club(session).version
    on = until[shelf.bundle] + timedelta(days=1)
    writer.write_now(change_club, shelf.steward, ClubUpdate(grafting_on=on), version)

    (told,) = (day for day in days(shelf.host) if day.about.startswith("club/"))
    (quiet,) = (day for day in days(make_asker(writer, Role.MEMBER)) if day.about.startswith("club/"))

    assert min(until.values()) == until[shelf.bundle] < on < max(until.values())
    assert (told.on, told.title, told.path) == (on, "Grafting day", "/use-first")
    assert told.text.startswith("1 bundle in store hardly keeps until then:\n‘Kordia’ (")
    assert (quiet.on, quiet.title, quiet.text) == (on, "Grafting day", "")
    with database.reading() as session:
        missed = {one.bundle_id: [day.on for day in one.misses] for one in use_first(session)}
    assert missed == {one: [on] if one == shelf.bundle else [] for one in until}


# -- one's own wood ------------------------------------------------------------------------------------------------


def test_own_wood_stands_on_the_last_day_its_kind_is_usually_kept(database, writer, clock, days):
    """Apple is kept 24 weeks at most (common practice, no source), here from its cut on 10 January."""
    garage = Garage(database, writer, clock)
    member = make_asker(writer, Role.MEMBER)
    (own,) = make_bundles(writer, garage.ground, holder_id=member.party_id)

    (day,) = days(member)

    assert day.title == "Graft by this day: 1 bundle of yours"
    assert day.on == date(2026, 1, 10) + timedelta(weeks=24)
    assert "10 sticks: by its age until 27 June 2026 (usually kept 8 to 24 weeks)" in day.text
    assert day.path == f"/bundles/{own}"
    assert days(make_asker(writer, Role.MEMBER)) == []


def test_own_wood_that_is_stopped_is_not_to_be_grafted(database, writer, clock, days):
    garage = Garage(database, writer, clock)
    member = make_asker(writer, Role.MEMBER)
    stop_bundles(writer, garage.ground, make_bundles(writer, garage.ground, holder_id=member.party_id))

    (day,) = days(member)

    assert day.title == "Wood of yours is stopped"
    assert "stopped, and not to be used until it is released" in day.text


# -- takes ---------------------------------------------------------------------------------------------------------


def test_who_grafted_looks_on_the_day_of_the_methods_verdict(database, writer, clock, days):
    ground = make_bench(writer)
    member = make_asker(writer, Role.MEMBER)
    apple, pear = make_wood(writer, ground, APPLE, GALA), make_wood(writer, ground, PEAR, HARDY)
    told = {"method": "whip-and-tongue"}
    made = graft(
        writer, make_person(writer, acting_for=member.party_id),
        {**told, "woods": of(apple, sticks=2), "rootstock_id": M9, "grafts": 3},
        {**told, "woods": of(pear), "rootstock_id": QUINCE_A, "grafts": 1},
    )  # fmt: skip

    (day,) = days(member)
    assert day.title == "Look whether 4 grafts took"
    assert day.on == made[0].verdict_on
    assert "Gala" in day.text and "3 grafts" in day.text
    assert day.path == "/bench"
    assert days(make_asker(writer, Role.STEWARD)) == []

    clock.move(timedelta(days=(made[0].verdict_on - clock.now().date()).days))
    look(writer, ground.host, {"graft_id": made[0].id, "alive": 2, "looked_at": 3, "is_verdict": True})
    (after,) = days(member)
    assert after.title == "Look whether 1 graft took"
    assert after.about == day.about
    assert after.changed_at == clock.now()
    assert after.path == f"/grafts/{made[1].id}"


# -- costs ---------------------------------------------------------------------------------------------------------


def test_a_calendar_takes_as_many_statements_for_much_wood_as_for_little(
    database, writer, clock, statements, days
):
    shelf = Shelf(database, writer, clock)
    steward = make_asker(writer, Role.STEWARD)
    shelf.until(240).hourly([4.0] * 240)
    shelf.dial(now="-8", unit="C")
    costs = []
    for _ in range(2):
        secret = digest_of(calendar_secret(writer, steward))
        with database.reading() as session:
            statements.clear()
            found = days_of(session, find_calendar_reader(session, secret), clock.now())
            costs.append(len(statements))
        for bundle_id in make_bundles(writer, shelf.ground, 30):
            put(
                writer,
                shelf.ground.host,
                {"bundle_id": bundle_id, "store_id": shelf.store.id, "done_at": shelf.clock.now()},
            )
        make_bundles(writer, shelf.ground, 30, holder_id=steward.party_id)
        shelf.work()

    assert costs[0] == costs[1]
    assert costs[0] <= 13
    assert len(found) > 3
