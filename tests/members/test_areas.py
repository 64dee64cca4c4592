"""Plant-health areas and what the authority answered."""

from __future__ import annotations

from datetime import date
from uuid import uuid4

import pytest

from service.members import queries
from service.members.rules import Role
from tests.builders.members import make_area, make_asker, make_permit, make_session


@pytest.fixture
def health_steward(writer, opened):
    return opened(make_session(writer, make_asker(writer, Role.HEALTH_STEWARD)))


def test_areas_are_recorded_listed_and_changed(health_steward):
    made = health_steward.post(
        "/api/areas", json=[{"name": "South Vale"}, {"name": "North Vale", "authority": "Vale PH"}]
    )
    path = f"/api/areas/{made.json()[0]['id']}"

    changed = health_steward.patch(path, json={"checked_on": "2026-02-01"}, headers={"If-Match": '"v1"'})

    assert made.status_code == 201
    assert [one["name"] for one in health_steward.get("/api/areas").json()["items"]] == [
        "North Vale",
        "South Vale",
    ]
    assert changed.json()["checked_on"] == "2026-02-01"
    assert health_steward.get(path).headers["etag"].startswith('"v2-')
    assert health_steward.patch(path, json={"note": "x"}, headers={"If-Match": '"v1"'}).status_code == 412


def test_two_areas_of_one_name_are_refused(writer, health_steward):
    make_area(writer, "North Vale")

    assert health_steward.post("/api/areas", json=[{"name": "North Vale"}]).status_code == 409


def test_the_authoritys_answer_is_recorded_and_counts_from_its_day(database, writer, health_steward):
    here, there = make_area(writer, "North Vale"), make_area(writer, "South Vale")
    body = {
        "from_area_id": str(here.id), "to_area_id": str(there.id), "reference": "PH 26/104", "allows": True,
        "genus": "Malus", "answered_on": "2026-02-10", "valid_until": "2026-03-31",
    }  # fmt: skip

    made = health_steward.post("/api/area-permits", json=[body])

    assert made.status_code == 201
    assert made.json()[0]["from_area_name"] == "North Vale"
    assert health_steward.get("/api/area-permits").json()["items"] == made.json()
    asked = [
        (here.id, there.id, "Malus", date(2026, 2, 14)),
        (here.id, there.id, "malus", date(2026, 3, 31)),
        (here.id, there.id, "Malus", date(2026, 4, 1)),
        (here.id, there.id, "Malus", date(2026, 2, 9)),
        (here.id, there.id, "Pyrus", date(2026, 2, 14)),
        (there.id, here.id, "Malus", date(2026, 2, 14)),
    ]
    with database.reading() as session:
        found = [queries.permit_for(session, *one) for one in asked]
    assert [permit is not None for permit in found] == [True, True, False, False, False, False]
    assert found[0].reference == "PH 26/104"


def test_a_newer_no_ends_an_older_yes(database, writer):
    here, there = make_area(writer, "North Vale"), make_area(writer, "South Vale")
    member = make_asker(writer, Role.HEALTH_STEWARD)
    make_permit(writer, member, here.id, there.id, answered_on="2026-01-05")
    make_permit(writer, member, here.id, there.id, answered_on="2026-02-05", allows=False)

    with database.reading() as session:
        assert queries.permit_for(session, here.id, there.id, "Malus", date(2026, 2, 14)).allows is False


@pytest.mark.parametrize(
    "changed",
    [
        {"answered_on": "2026-02-15"},
        {"valid_until": "2026-01-01"},
        {"to_area_id": str(uuid4())},
        {"reference": ""},
        {"to_area_id": "same"},
    ],
)
def test_an_answer_that_cannot_be_is_refused(writer, health_steward, changed):
    here, there = make_area(writer, "North Vale"), make_area(writer, "South Vale")
    body = {
        "from_area_id": str(here.id), "to_area_id": str(there.id), "reference": "PH 26/104", "allows": True,
        "answered_on": "2026-02-10", **changed,
    }  # fmt: skip
    if body["to_area_id"] == "same":
        body["to_area_id"] = body["from_area_id"]

    assert health_steward.post("/api/area-permits", json=[body]).status_code == 422
    assert health_steward.get("/api/area-permits").json()["count"] == 0


def test_facts_come_in_one_statement_however_many(database, writer, statements):
    areas = [make_area(writer, f"Vale {n}") for n in range(5)]
    with database.reading() as session, statements.exactly(1):
        facts = queries.facts_for_areas(session, [area.id for area in areas])

    assert {fact.name for fact in facts.values()} == {f"Vale {n}" for n in range(5)}
