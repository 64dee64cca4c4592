"""Parties, roles and the club's settings over HTTP."""

from __future__ import annotations

import threading
from uuid import uuid4

import pytest

from service.lib.write import Writer
from service.members import actions
from service.members.rules import LastAdministrator, PartyKind, Role
from service.members.schemas import RolesUpdate
from tests.builders.members import make_area, make_asker, make_party, make_session

ODD_NAMES = [
    'Ann "Nan" O\'Hara',
    "🌳 Wren 🌱",
    "x" * 300,
    "אילנה בת-שבע",
    "Frida \u202bنور\u202c Ek",
    "<script>alert(1)</script>",
    "%_\\'; DROP TABLE party; --",
]


@pytest.fixture
def steward(writer, opened):
    return opened(make_session(writer, make_asker(writer, Role.STEWARD, name="Edda")))


@pytest.fixture
def administrator(writer, opened):
    return opened(make_session(writer, make_asker(writer, Role.ADMINISTRATOR, name="Jonas")))


@pytest.mark.parametrize("name", ODD_NAMES)
def test_any_name_is_kept_as_it_was_written_and_found_again(steward, name):
    made = steward.post("/api/parties", json=[{"name": name}])

    assert made.status_code == 201
    party = made.json()[0]
    assert party["name"] == name
    assert steward.get(f"/api/parties/{party['id']}").json() == party
    found = steward.get("/api/parties", params={"q": name[:100]}).json()["items"]
    assert [one["id"] for one in found] == [party["id"]]


@pytest.mark.parametrize("name", ["", "   ", "x" * 301, "two\nlines", "a\x00b"])
def test_what_is_no_name_is_refused(steward, name):
    assert steward.post("/api/parties", json=[{"name": name}]).status_code == 422


@pytest.mark.parametrize(
    "typed, found",
    [
        ("lucja", ["Łucja Wróbel"]),
        ("WROBEL luc", ["Łucja Wróbel"]),
        ("ros", ["Rosa Bertín", "Tea Rosén"]),
        ("100%", ["100% Orchard"]),
        ("_", []),
        ("", ["100% Orchard", "Edda", "Łucja Wróbel", "Rosa Bertín", "Tea Rosén"]),
    ],
)
def test_people_are_searched_without_accents(writer, steward, typed, found):
    for name in ("Łucja Wróbel", "Rosa Bertín", "Tea Rosén", "100% Orchard"):
        make_party(writer, name)

    answer = steward.get("/api/parties", params={"q": typed}).json()

    assert [one["name"] for one in answer["items"]] == found
    assert answer["count"] == len(found)


def test_people_come_a_page_at_a_time(writer, steward):
    for n in range(5):
        make_party(writer, f"Grower {n}")

    first = steward.get("/api/parties", params={"q": "grower", "limit": 3}).json()
    second = steward.get("/api/parties", params={"q": "grower", "limit": 3, "cursor": first["next"]}).json()

    assert [one["name"] for one in first["items"] + second["items"]] == [f"Grower {n}" for n in range(5)]
    assert second["next"] is None


def test_the_list_keeps_to_one_kind(writer, steward):
    make_party(writer, "Hollow Lane Growers", PartyKind.CLUB)

    answer = steward.get("/api/parties", params={"kind": "club"}).json()

    assert [one["name"] for one in answer["items"]] == ["Hollow Lane Growers"]


def test_names_for_choosing_tell_nothing_of_how_to_reach_people(writer, opened):
    make_party(writer, "Marta Quill", contact="marta@quill.example", note="ring after six")
    host = opened(make_session(writer, make_asker(writer, Role.HOST)))

    answer = host.get("/api/parties/names", params={"q": "marta"})

    assert set(answer.json()["items"][0]) == {"id", "kind", "name", "area_id"}
    assert "quill.example" not in answer.text


def test_people_see_themselves_and_not_each_other(writer, opened):
    asker, other = make_asker(writer, Role.MEMBER), make_asker(writer, Role.MEMBER)
    browser = opened(make_session(writer, asker))

    assert browser.get(f"/api/parties/{asker.party_id}").json()["name"] == asker.name
    assert browser.get(f"/api/parties/{other.party_id}").status_code == 403
    assert browser.get("/api/parties").status_code == 403
    assert browser.get("/api/parties/names").status_code == 403


def test_a_new_party_gets_the_only_area_there_is(writer, steward):
    lone = steward.post("/api/parties", json=[{"name": "Before any area"}]).json()[0]
    area = make_area(writer, "North Vale")
    one = steward.post("/api/parties", json=[{"name": "With one area"}]).json()[0]
    other = make_area(writer, "South Vale")
    two = steward.post(
        "/api/parties", json=[{"name": "With two"}, {"name": "Told", "area_id": str(other.id)}]
    ).json()

    assert lone["area_id"] is None
    assert (one["area_id"], one["area_name"]) == (str(area.id), "North Vale")
    assert [party["area_name"] for party in two] == ["", "South Vale"]


def test_an_area_nobody_recorded_is_refused(steward):
    answer = steward.post("/api/parties", json=[{"name": "Ivo", "area_id": str(uuid4())}])

    assert answer.status_code == 422
    assert answer.json()["type"] == "/problems/unknown-area"


def test_twenty_people_cost_no_more_statements_than_one(writer, steward, statements):
    make_area(writer)
    with statements.exactly(5):  # who asks, the key, the only area, the people, the kept answer
        steward.post("/api/parties", json=[{"name": "One"}])
    with statements.exactly(5):
        steward.post("/api/parties", json=[{"name": f"Many {n}"} for n in range(20)])


def test_the_same_request_twice_adds_nobody_twice(steward):
    key = {"Idempotency-Key": str(uuid4())}
    body = [{"name": "Ivo Tarn"}]

    first, again = (steward.post("/api/parties", json=body, headers=key) for _ in range(2))
    other = steward.post("/api/parties", json=[{"name": "Somebody else"}], headers=key)

    assert first.json() == again.json()
    assert other.status_code == 422
    assert steward.get("/api/parties", params={"q": "ivo tarn"}).json()["count"] == 1


def test_a_known_id_under_a_new_key_is_refused(steward):
    body = [{"name": "Ivo Tarn", "id": str(uuid4())}]

    first, again = (steward.post("/api/parties", json=body) for _ in range(2))

    assert (first.status_code, again.status_code) == (201, 409)


def test_an_edit_holds_for_the_version_it_was_made_on(writer, steward):
    party = make_party(writer, "Marta Quill")
    path = f"/api/parties/{party.id}"
    tag = steward.get(path).headers["etag"]

    changed = steward.patch(path, json={"name": "Marta Quíll-Fen"}, headers={"If-Match": tag})
    stale = steward.patch(path, json={"note": "late"}, headers={"If-Match": tag})
    blind = steward.patch(path, json={"note": "blind"})

    assert changed.status_code == 200
    assert changed.headers["etag"] == '"v2"'
    assert (stale.status_code, blind.status_code) == (412, 428)
    assert stale.json()["facts"] == {"have": 2, "read": 1}
    assert steward.get("/api/parties", params={"q": "quill-fen"}).json()["count"] == 1


def test_people_change_their_own_contact_and_nothing_that_binds_wood(writer, opened):
    asker, area = make_asker(writer, Role.MEMBER), make_area(writer)
    browser, path = opened(make_session(writer, asker)), f"/api/parties/{asker.party_id}"

    own = browser.patch(
        path, json={"contact": "0191 555", "keep_contact_for_recall": True}, headers={"If-Match": '"v1"'}
    )
    area_too = browser.patch(path, json={"area_id": str(area.id)}, headers={"If-Match": '"v2"'})

    assert own.status_code == 200
    assert own.json()["contact"] == "0191 555"
    assert area_too.status_code == 403


def test_null_is_no_name(steward, writer):
    party = make_party(writer, "Marta Quill")

    answer = steward.patch(f"/api/parties/{party.id}", json={"name": None}, headers={"If-Match": '"v1"'})

    assert answer.status_code == 422


# -- roles -----------------------------------------------------------------------------------------------------


def test_roles_are_given_and_taken(writer, administrator, opened):
    asker = make_asker(writer, Role.MEMBER)
    browser, path = opened(make_session(writer, asker)), f"/api/roles/{asker.party_id}"

    given = administrator.put(path, json={"roles": ["host", "member", "host"]}, headers={"If-Match": '"v1"'})
    at_once = browser.get("/api/session").json()["roles"]
    taken = administrator.put(path, json={"roles": []}, headers={"If-Match": '"v2"'})

    assert given.json()["roles"] == ["member", "host"]
    assert at_once == ["member", "host"]
    assert taken.json() == {"party_id": str(asker.party_id), "roles": [], "may": [], "version": 3}
    assert administrator.get(path).json() == taken.json()
    assert browser.get("/api/club").status_code == 403


def test_the_last_administrator_stays_one(writer, administrator):
    me = administrator.get("/api/session").json()["party_id"]
    # Somebody who cannot sign in cannot look after the club.
    paper = make_party(writer, "On paper only")
    administrator.put(
        f"/api/roles/{paper.id}", json={"roles": ["administrator"]}, headers={"If-Match": '"v1"'}
    )

    answer = administrator.put(f"/api/roles/{me}", json={"roles": ["member"]}, headers={"If-Match": '"v1"'})

    assert answer.status_code == 409
    assert answer.json()["type"] == "/problems/last-administrator"
    assert administrator.get("/api/session").json()["roles"] == ["administrator"]


def test_one_of_two_administrators_may_go(writer, administrator):
    make_asker(writer, Role.ADMINISTRATOR)
    me = administrator.get("/api/session").json()["party_id"]

    answer = administrator.put(f"/api/roles/{me}", json={"roles": ["member"]}, headers={"If-Match": '"v1"'})

    assert answer.status_code == 200
    assert administrator.get("/api/session").json()["roles"] == ["member"]


def test_two_administrators_cannot_dismiss_each_other_at_once(database, writer, clock):
    pair = [make_asker(writer, Role.ADMINISTRATOR) for _ in range(2)]
    start, came = threading.Barrier(2), []

    def dismiss(member, other):
        # Each with a writer of its own, as two serving processes would have on PostgreSQL.
        own = writer if database.is_sqlite else Writer(database, clock)
        start.wait()
        try:
            own.write_now(actions.set_roles, member, other.party_id, RolesUpdate(roles=[Role.MEMBER]), 1)
            came.append("dismissed")
        except LastAdministrator:
            came.append("refused")

    threads = [threading.Thread(target=dismiss, args=two) for two in (pair, pair[::-1])]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(came) == ["dismissed", "refused"]


def test_roles_of_a_stale_reading_are_refused(writer, administrator):
    party = make_party(writer, "Marta Quill")
    path = f"/api/roles/{party.id}"
    administrator.put(path, json={"roles": ["member"]}, headers={"If-Match": '"v1"'})

    answer = administrator.put(path, json={"roles": ["host"]}, headers={"If-Match": '"v1"'})

    assert answer.status_code == 412
    assert administrator.get(path).json()["roles"] == ["member"]


def test_every_role_is_listed_with_what_it_may(administrator):
    listed = {one["role"]: one["may"] for one in administrator.get("/api/roles").json()}

    assert list(listed) == [role.value for role in Role]
    assert listed["member"] == ["graft", "read"]


# -- the club ----------------------------------------------------------------------------------------------------


def test_the_club_is_named_and_placed_in_a_zone(administrator):
    before = administrator.get("/api/club")
    told = {
        "name": "Harrow Fen Grafters",
        "short_name": "HARROW FEN",
        "zone": "Pacific/Auckland",
        "recall_look_back_winters": 4,
    }

    answer = administrator.patch("/api/club", json=told, headers={"If-Match": before.headers["etag"]})

    assert before.json()["zone"] == "UTC"
    assert answer.status_code == 200
    assert {name: answer.json()[name] for name in told} == told
    assert (
        administrator.patch("/api/club", json=told, headers={"If-Match": before.headers["etag"]}).status_code
        == 412
    )


@pytest.mark.parametrize(
    "wrong",
    [
        {"zone": "Middle/Earth"},
        {"zone": "../etc"},
        {"recall_look_back_winters": -1},
        {"name": ""},
        {"unknown": 1},
    ],
)
def test_settings_that_cannot_be_are_refused(administrator, wrong):
    assert administrator.patch("/api/club", json=wrong, headers={"If-Match": '"v1"'}).status_code == 422
