"""How warm it was, what rang, what is due everywhere and one's own letters, over HTTP."""

from __future__ import annotations

import pytest

from service.storage import actions, schemas
from tests.builders.garage import Garage
from tests.builders.loggers import steady
from tests.builders.members import make_session
from tests.builders.storage import ago, make_bundles, put
from tests.infra.web import Client


@pytest.fixture
def garage(database, writer, clock):
    return Garage(database, writer, clock)


@pytest.fixture
def ask(app, portal, writer, garage):
    opened = []

    def of(asker, path):
        signed_in = make_session(writer, asker)
        opened.append(Client(app, portal, cookie=("club_session", signed_in.token)))
        return opened[-1].get(path)

    yield of
    for one in opened:
        one.close()


def test_what_rang_is_listed_since_a_moment_and_what_was_withdrawn_is_marked(garage, ask):
    made = garage.dial(now="-8")
    told = ask(garage.steward, "/api/store-rings").json()
    garage.writer.write_now(
        actions.take_dial_back, garage.ground.host, made.id, schemas.TakenBack(why="mistyped")
    )
    garage.work()

    (ring,) = ask(garage.steward, "/api/store-rings").json()
    later = ask(garage.steward, "/api/store-rings?since=2026-02-14T10:00:01Z").json()
    assert [(one["kind"], one["store_name"], one["withdrawn_at"]) for one in told] == [("freezing", "Garage fridge", None)]  # fmt: skip
    assert ring["withdrawn_at"] is not None
    assert later == []
    assert ask(garage.steward, "/api/store-rings?since=yesterday").status_code == 422


def test_a_stores_days_are_told_from_any_day_on_and_those_that_cannot_be_are_refused(garage, ask):
    garage.send(garage.logger(), steady(ago(days=9), 30, ("6.0", "88")))
    path = f"/api/stores/{garage.store.id}/temperatures"

    told = ask(garage.steward, f"{path}?from_day=2026-02-05&days=2").json()
    refused = [
        ask(garage.steward, f"{path}?{asked}")
        for asked in ("days=401", "from_day=2026-02-15", "from_day=soon")
    ]

    assert [day["day"] for day in told["days"]] == ["2026-02-05", "2026-02-06"]
    assert [day["humidity_low_pct"] for day in told["days"]] == [88.0, 88.0]
    assert (told["humidity_of"], len(told["hours"])) == ("air", 48)
    assert sum(hour["mean_c"] == 6.0 for hour in told["hours"]) == 30
    assert [(one["hours"], one["above"], one["ended_at"]) for one in told["excursions"]] == [
        (30.0, True, None)
    ]
    assert told["until_at"] == "2026-02-06T23:00:00Z"
    assert [one.status_code for one in refused] == [422, 422, 422]
    assert refused[1].json()["type"].endswith("/problems/no-such-days")


def test_looks_due_of_all_stores_cost_the_same_however_many_there_are(garage, ask, statements):
    statements.clear()
    one = ask(garage.steward, "/api/checks-due")
    cost = len(statements)
    for n in range(4):
        body = schemas.StoreCreate(name=f"Shed {n}", host_id=garage.host.party_id)
        shed = garage.writer.write_now(actions.add_store, garage.host, body)
        (bundle,) = make_bundles(garage.writer, garage.ground)
        put(
            garage.writer,
            garage.ground.host,
            {"bundle_id": bundle, "store_id": shed.id, "done_at": ago(days=3)},
        )
    statements.clear()
    many = ask(garage.steward, "/api/checks-due")

    assert [each["store_name"] for each in one.json()] == ["Garage fridge"]
    assert [each["store_name"] for each in many.json()] == ["Garage fridge", *(f"Shed {n}" for n in range(4))]
    assert len(statements) == cost


def test_letters_are_ones_own_alone(garage, ask):
    garage.dial(now="-8")

    mine = ask(garage.host, "/api/letters").json()["items"]
    theirs = ask(garage.steward, "/api/letters").json()["items"]

    assert [(one["subject"], one["party_id"], one["mail"]) for one in mine] == [
        ("It froze: see to the wood now (Garage fridge)", str(garage.host.party_id), "no_address")
    ]
    assert [one["party_id"] for one in theirs] == [str(garage.steward.party_id)]
