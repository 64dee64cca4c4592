"""Pages about everybody else: people, the club and its areas, and who may see what."""

from __future__ import annotations

import re
from datetime import timedelta
from uuid import uuid4

import pytest

from service.lib.paging import Paging
from service.members import actions, queries
from service.members.rules import Role
from service.members.signin import SESSION_COOKIE
from tests.builders.members import (
    make_area,
    make_asker,
    make_invitation,
    make_party,
    make_permit,
    make_session,
    make_token,
)
from tests.infra.browser_checks import check_page
from tests.pages.desk import fresh

# -- people --------------------------------------------------------------------------------------------------------


def test_people_are_found_without_accents(writer, as_):
    make_party(writer, "Łucja Wróbel")
    make_party(writer, "Tea Rosén")
    steward = as_(Role.STEWARD)

    page = steward.get("/people", params={"q": "lucja wrobel"})

    assert "1 fits “lucja wrobel”" in page.text
    assert "Łucja Wróbel" in page.text
    assert "Tea Rosén" not in page.text


def test_a_host_adds_guests_and_sees_no_list(as_):
    host = as_(Role.HOST)
    page = host.get("/people/new")

    answer = host.post(
        "/people/new", data={**fresh(page), "kind": "guest", "name": "Pia Holm"}, follow_redirects=True
    )
    refused = host.post(
        "/people/new", data={**fresh(page), "form_key": str(uuid4()), "kind": "club", "name": "Hollow Lane"}
    )

    assert re.findall(r'name="kind" value="([^"]+)"', page.text) == ["guest"]
    assert "Pia Holm is in the record." in answer.text
    assert refused.status_code == 403
    assert host.get("/people").status_code == 403


def test_a_person_without_an_area_is_marked(writer, as_):
    party = make_party(writer, "Pia Holm", contact="pia@holm.example")
    steward = as_(Role.STEWARD)
    area = make_area(writer, "North Vale")
    before = steward.get(f"/people/{party.id}")
    typed = fresh(steward.get(f"/people/{party.id}/edit"))
    typed |= {"kind": "member", "name": "Pia Holm", "contact": "pia@holm.example", "area_id": str(area.id)}

    after = steward.post(f"/people/{party.id}/edit", data=typed, follow_redirects=True)

    assert "No wood can be handed to them" in before.text
    assert "No wood can be handed to them" not in after.text
    assert "North Vale" in after.text


def test_roles_are_ticked_by_an_administrator(writer, as_, browser):
    asker = make_asker(writer, Role.MEMBER)
    administrator, member = as_(Role.ADMINISTRATOR), browser(make_session(writer, asker))
    path = f"/people/{asker.party_id}/roles"
    page = administrator.get(path)

    administrator.post(path, data={**fresh(page), "roles": ["member", "host"]})

    assert re.findall(r'value="(\w+)" checked', page.text) == ["member"]
    assert "Member, host" in member.get("/account").text
    assert as_(Role.STEWARD).get(path).status_code == 403


def test_the_last_administrator_hears_why_not(as_, writer):
    administrator = as_(Role.ADMINISTRATOR)
    me = administrator.get("/api/session").json()["party_id"]
    path = f"/people/{me}/roles"

    answer = administrator.post(path, data={**fresh(administrator.get(path)), "roles": ["member"]})

    assert answer.status_code == 409
    assert "The club needs an administrator" in answer.text


def test_somebody_is_forgotten_after_being_asked_twice(writer, as_):
    party = make_party(writer, "Zebulon Quartermain", contact="zq@quartermain.example")
    steward = as_(Role.STEWARD)
    asked = steward.get(f"/people/{party.id}/forget")

    answer = steward.submit(f"/people/{party.id}/forget", fresh(asked), follow_redirects=True)

    assert "Forget Zebulon Quartermain?" in asked.text
    assert "No contact is kept" in asked.text
    assert "They are forgotten" in answer.text
    assert "uartermain" not in steward.get("/people").text
    assert "This person was forgotten" in steward.get(f"/people/{party.id}").text


def test_a_forgotten_person_has_a_page_without_a_name(writer, as_):
    party = make_party(writer, "Zebulon Quartermain", contact="zq@example")
    writer.write_now(actions.erase_party, make_asker(writer, Role.ADMINISTRATOR), party.id, None)

    page = as_(Role.STEWARD).get(f"/people/{party.id}")

    assert "This person was forgotten" in page.text
    assert "uartermain" not in page.text


# -- areas ---------------------------------------------------------------------------------------------------------


def test_areas_and_answers_are_recorded(database, writer, as_, clock):
    health_steward = as_(Role.HEALTH_STEWARD)
    for name in ("North Vale", "South Vale"):
        typed = {**fresh(health_steward.get("/areas/new")), "name": name, "checked_on": "2026-02-01"}
        health_steward.post("/areas/new", data=typed)
    page = health_steward.get("/areas/answers/new")
    north, south = re.findall(r'<option value="([0-9a-f-]{36})"', page.text)[:2]
    typed = {
        "from_area_id": north,
        "to_area_id": south,
        "allows": "false",
        "reference": "PH 26/9",
        "answered_on": "2026-02-10",
    }

    answer = health_steward.post("/areas/answers/new", data={**fresh(page), **typed}, follow_redirects=True)

    assert "2 plant-health areas are in the record" in answer.text
    assert "not allowed" in answer.text
    with database.reading() as session:
        area = queries.list_areas(session, Paging()).items[0]
    edit = health_steward.get(f"/areas/{area.id}/edit")
    changed = health_steward.post(
        f"/areas/{area.id}/edit",
        data={**fresh(edit), "name": "North Vale", "authority": "Vale PH"},
        follow_redirects=True,
    )
    assert "Vale PH" in changed.text


def test_an_answer_about_one_area_is_refused_in_words(writer, as_):
    area = make_area(writer, "North Vale")
    health_steward = as_(Role.HEALTH_STEWARD)
    typed = {
        **fresh(health_steward.get("/areas/answers/new")), "from_area_id": str(area.id), "to_area_id": str(area.id),
        "allows": "true", "reference": "x", "answered_on": "2026-02-10",
    }  # fmt: skip

    answer = health_steward.post("/areas/answers/new", data=typed)

    assert answer.status_code == 422
    assert "two different areas" in answer.text


# -- who may see what ----------------------------------------------------------------------------------------------

PEOPLE = {"steward", "administrator"}
VOLUNTEERS = {"collector", "host", "steward", "health_steward", "administrator"}
TREES = {"collector", "steward", "health_steward", "administrator"}
HEALTH = {"health_steward", "administrator"}
MEMBERS = {"member", *VOLUNTEERS}
SIGNED_IN = {"guest", *MEMBERS}
EVERYBODY = {"stranger", *SIGNED_IN}

PAGES = [
    ("/sign-in", EVERYBODY),
    ("/start", EVERYBODY),
    ("/account", SIGNED_IN),
    ("/account/contact", SIGNED_IN),
    ("/account/password", SIGNED_IN),
    ("/account/tokens/new", SIGNED_IN),
    ("/people", PEOPLE),
    ("/people/new", VOLUNTEERS),
    ("/people/invite", PEOPLE),
    ("/people/invitations", PEOPLE),
    ("/people/{party}", PEOPLE),
    ("/people/{party}/edit", PEOPLE),
    ("/people/{party}/roles", {"administrator"}),
    ("/people/{party}/forget", PEOPLE),
    ("/club", {"administrator"}),
    ("/areas", MEMBERS),
    ("/areas/new", TREES),
    ("/areas/{area}/edit", TREES),
    ("/areas/answers/new", HEALTH),
]


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("path, let_in", PAGES)
def test_each_page_is_seen_by_who_may(writer, as_, browser, statements, path, let_in):
    make_asker(writer, Role.ADMINISTRATOR)
    party, area = make_party(writer, "Somebody else"), make_area(writer)
    make_permit(writer, make_asker(writer, Role.MEMBER), area.id, make_area(writer, "South Vale").id)
    address = path.format(party=party.id, area=area.id)
    for who in sorted(EVERYBODY):
        roles = () if who == "guest" else (Role.MEMBER, Role(who)) if who != "stranger" else None
        one = browser() if roles is None else as_(*set(roles))

        with statements.at_most(9):
            answer = one.get(address)

        if who in let_in:
            assert answer.status_code in {200, 303}, (who, answer.status_code)
        else:
            assert answer.status_code == (401 if who == "stranger" else 403), (who, answer.status_code)


def test_an_old_sign_in_says_so(writer, clock, browser):
    member = browser(make_session(writer, make_asker(writer, Role.MEMBER)))
    clock.move(timedelta(days=31))

    answer = member.get("/sign-in")

    assert "Your sign-in has ended" in answer.text


# -- on a phone ----------------------------------------------------------------------------------------------------


@pytest.mark.databases("sqlite")
def test_every_page_fits_a_phone_and_has_no_known_fault(writer, live_server, phone):
    administrator = make_asker(writer, Role.MEMBER, Role.ADMINISTRATOR, name="Jonas Vey")
    party = make_party(writer, "Łucja Wróbel " + "von und zu " * 8, contact="lucja@wrobel.example")
    area, other = make_area(writer, "North Vale"), make_area(writer, "South Vale")
    make_permit(writer, administrator, area.id, other.id)
    make_token(writer, administrator, name="scales in the cellar")
    invitation = make_invitation(writer, administrator, note="for the saw course")
    signed_in = make_session(writer, administrator)
    for path in ("/sign-in", invitation.path):
        phone.goto(live_server + path)
        check_page(phone)
    phone.context.add_cookies([{"name": SESSION_COOKIE, "value": signed_in.token, "url": live_server}])
    paths = [
        path.format(party=party.id, area=area.id) for path, _ in PAGES if path not in {"/sign-in", "/start"}
    ]

    for path in paths:
        phone.goto(live_server + path)
        check_page(phone)

    phone.goto(f"{live_server}/people/invite")
    phone.get_by_role("button", name="Make the invitation").click()
    assert "it is not shown again" in phone.locator("h1").inner_text()
    check_page(phone)
