"""Invitations: who may give what, and that one link makes one account."""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest

from service.lib.errors import Problem
from service.lib.write import Writer
from service.members import actions, queries
from service.members.rules import May, Role
from service.members.schemas import InvitationAccept
from tests.builders.members import (
    PASSWORD,
    make_area,
    make_asker,
    make_invitation,
    make_party,
    make_session,
    make_token,
    quick_hash,
)


def accept(browser, token, **told):
    body = {"token": token, "name": "Rafe Lowen", "sign_in_name": "rafe", "password": PASSWORD, **told}
    return browser.post("/api/invitations/accept", json=body)


@pytest.fixture
def steward(writer, opened):
    return opened(make_session(writer, make_asker(writer, Role.STEWARD, name="Edda")))


def test_an_invitation_makes_a_member_who_is_signed_in_at_once(writer, steward, opened):
    area = make_area(writer, "North Vale")
    made = steward.post(
        "/api/invitations", json={"roles": ["member", "collector"], "note": "saw course"}
    ).json()
    browser = opened()

    answer = accept(browser, made["token"], contact="rafe@lowen.example", keep_contact_for_recall=True)

    assert made["path"] == f"/J/{made['token']}"
    assert answer.status_code == 201
    who = browser.get("/api/session").json()
    assert who["roles"] == ["member", "collector"]
    party = steward.get(f"/api/parties/{who['party_id']}").json()
    assert (party["kind"], party["name"], party["sign_in_name"]) == ("member", "Rafe Lowen", "rafe")
    assert (party["contact"], party["keep_contact_for_recall"]) == ("rafe@lowen.example", True)
    assert party["area_id"] == str(area.id)
    again = opened()
    assert again.post("/api/session", json={"name": "Rafe", "password": PASSWORD}).status_code == 201


def test_the_link_is_shown_once_and_kept_as_a_digest(database, steward):
    made = steward.post("/api/invitations", json={}).json()

    listed = steward.get("/api/invitations").json()["items"]

    assert "token" not in listed[0]
    assert listed[0]["state"] == "open"
    with database.reading() as session:
        run = session.connection().exec_driver_sql
        kept = [str(run(f"SELECT * FROM {table}").all()) for table in ("invitation", "kept_answer")]
    assert made["token"] not in "".join(kept)


def test_an_invitation_works_once(writer, opened):
    made = make_invitation(writer, make_asker(writer, Role.STEWARD))
    first = accept(opened(), made.token)

    second = accept(opened(), made.token, name="Somebody else", sign_in_name="else")

    assert first.status_code == 201
    assert second.status_code == 409
    assert second.json()["facts"] == {"state": "used"}


def test_two_people_with_one_link_make_one_account(database, writer, clock):
    made = make_invitation(writer, make_asker(writer, Role.STEWARD))
    start, came = threading.Barrier(2), []

    def take(name):
        # Each with a writer of its own, as two serving processes would have on PostgreSQL.
        own = writer if database.is_sqlite else Writer(database, clock)
        body = InvitationAccept(token=made.token, name=name, sign_in_name=name, password=PASSWORD)
        start.wait()
        try:
            came.append(own.write_now(actions.accept_invitation, None, body, quick_hash(), ""))
        except Problem as problem:
            came.append(problem)

    threads = [threading.Thread(target=take, args=(name,)) for name in ("Rafe", "Ivo")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(type(one).__name__ for one in came) == ["InvitationGone", "SignedInNow"]
    with database.reading() as session:
        known = [queries.find_account(session, name) for name in ("rafe", "ivo")]
    assert sum(account is not None for account in known) == 1


def test_an_invitation_ends_in_time(writer, clock, opened):
    made = make_invitation(writer, make_asker(writer, Role.STEWARD), valid_days=2)
    clock.move(timedelta(days=2))

    answer = accept(opened(), made.token)

    assert answer.status_code == 409
    assert answer.json()["facts"] == {"state": "expired"}


def test_an_invitation_is_taken_back(writer, steward, opened):
    made = steward.post("/api/invitations", json={}).json()

    taken = [steward.delete(f"/api/invitations/{made['id']}").status_code for _ in range(2)]
    answer = accept(opened(), made["token"])

    assert taken == [204, 204]
    assert answer.status_code == 409
    assert answer.json()["facts"] == {"state": "revoked"}
    assert steward.get("/api/invitations").json()["items"][0]["state"] == "revoked"


def test_a_used_invitation_cannot_be_taken_back(steward, opened):
    made = steward.post("/api/invitations", json={}).json()
    accept(opened(), made["token"])

    assert steward.delete(f"/api/invitations/{made['id']}").status_code == 409


def test_a_link_nobody_made_leads_nowhere_and_is_counted(app, opened):
    browser = opened()
    answers = [
        accept(browser, f"GUESS{n}").status_code
        for n in range(app.state.settings.sign_in_tries_per_minute * 3 + 1)
    ]

    assert set(answers[:-1]) == {404}
    assert answers[-1] == 429


@pytest.mark.parametrize(
    "told, status, field",
    [
        ({"password": "short"}, 422, "password"),
        ({"password": "Rafe Lowen"}, 422, "password"),
        ({"name": ""}, 422, "name"),
        ({"sign_in_name": ""}, 422, "sign_in_name"),
        ({"sign_in_name": "EDDA"}, 409, "sign_in_name"),
    ],
)
def test_a_refused_acceptance_leaves_the_invitation_open(steward, opened, told, status, field):
    made = steward.post("/api/invitations", json={}).json()

    refused = accept(opened(), made["token"], **told)

    assert refused.status_code == status
    assert refused.json()["field"] == field
    assert accept(opened(), made["token"]).status_code == 201


def test_the_password_of_an_invited_person_is_not_their_own_name(writer, steward, opened):
    party = make_party(writer, "Philippa Holmwood")
    made = steward.post("/api/invitations", json={"party_id": str(party.id)}).json()

    refused = accept(opened(), made["token"], name="Pip", sign_in_name="pip", password="philippa holmwood")

    assert refused.status_code == 422
    assert refused.json()["type"] == "/problems/weak-password"
    assert accept(opened(), made["token"], name="Pip", sign_in_name="pip").status_code == 201


def test_another_website_uses_nobodys_invitation(steward, opened):
    made = steward.post("/api/invitations", json={}).json()
    browser = opened()
    browser.headers["Origin"] = "https://elsewhere.test"

    refused = accept(browser, made["token"])

    assert refused.status_code == 403
    assert refused.json()["type"] == "/problems/wrong-origin"
    assert accept(opened(), made["token"]).status_code == 201


@pytest.mark.parametrize("roles", [["administrator"], ["member", "health_steward"]])
def test_a_steward_invites_nobody_who_may_do_more(steward, roles):
    answer = steward.post("/api/invitations", json={"roles": roles})

    assert answer.status_code == 403
    assert answer.json()["type"] == "/problems/may-not-give"


def test_a_guest_on_paper_becomes_a_member_with_the_same_history(writer, steward, opened):
    guest = make_party(writer, "Pia Holm", kind="guest", contact="pia@holm.example")
    made = steward.post("/api/invitations", json={"party_id": str(guest.id)}).json()
    browser = opened()

    accept(browser, made["token"], name="", sign_in_name="pia")

    who = browser.get("/api/session").json()
    assert who["party_id"] == str(guest.id)
    party = steward.get(f"/api/parties/{guest.id}").json()
    assert (party["kind"], party["name"], party["contact"]) == ("member", "Pia Holm", "pia@holm.example")


def test_an_invitation_for_an_account_that_stands_sets_a_new_password(writer, steward, opened):
    asker = make_asker(writer, Role.MEMBER, name="Ivo Tarn")
    lost = opened(make_session(writer, asker))
    made = steward.post(
        "/api/invitations", json={"party_id": str(asker.party_id), "roles": ["collector"]}
    ).json()
    browser = opened()

    answer = accept(browser, made["token"], name="", sign_in_name="", password="quite another one")

    assert answer.status_code == 201
    who = browser.get("/api/session").json()
    assert (who["party_id"], who["roles"]) == (str(asker.party_id), ["member"])
    assert lost.get("/api/session").status_code == 401
    again = opened()
    assert again.post("/api/session", json={"name": "ivo tarn", "password": PASSWORD}).status_code == 401
    assert (
        again.post("/api/session", json={"name": "ivo tarn", "password": "quite another one"}).status_code
        == 201
    )


def test_a_steward_cannot_set_the_password_of_an_administrator(writer, steward):
    administrator = make_asker(writer, Role.ADMINISTRATOR)

    answer = steward.post("/api/invitations", json={"party_id": str(administrator.party_id)})

    assert answer.status_code == 403
    assert answer.json()["type"] == "/problems/may-not-give"


def test_using_one_invitation_of_a_party_ends_its_others(writer, steward, opened):
    party = make_party(writer, "Pia Holm")
    first, second = (
        steward.post("/api/invitations", json={"party_id": str(party.id)}).json() for _ in range(2)
    )

    accept(opened(), first["token"], sign_in_name="pia")

    assert accept(opened(), second["token"], sign_in_name="pia2").status_code == 409


def test_a_token_invites_only_into_its_own_scopes(writer, program):
    asker = make_asker(writer, Role.STEWARD)
    narrow = program(make_token(writer, asker, May.PEOPLE).token)

    assert narrow.post("/api/invitations", json={"roles": []}).status_code == 201
    assert narrow.post("/api/invitations", json={"roles": ["member"]}).status_code == 403


# -- the first administrator ---------------------------------------------------------------------------------------


def test_the_first_link_makes_the_first_administrator_and_no_second(writer, opened):
    first = writer.write_now(actions.make_first_invitation, None)
    browser = opened()

    made = accept(browser, first.token)
    again = accept(opened(), first.token, name="Ivo", sign_in_name="ivo")

    assert made.status_code == 201
    assert browser.get("/api/session").json()["roles"] == ["member", "administrator"]
    assert again.status_code == 409
    with pytest.raises(Problem) as refused:
        writer.write_now(actions.make_first_invitation, None)
    assert type(refused.value).__name__ == "NotFirst"


def test_a_new_first_link_ends_the_one_before(writer, opened):
    lost, printed = (writer.write_now(actions.make_first_invitation, None) for _ in range(2))

    assert accept(opened(), lost.token).json()["facts"] == {"state": "revoked"}
    assert accept(opened(), printed.token).status_code == 201


def test_a_first_link_is_worth_nothing_once_somebody_can_sign_in(writer, opened):
    first = writer.write_now(actions.make_first_invitation, None)
    make_asker(writer, Role.MEMBER)

    assert accept(opened(), first.token).status_code == 409


def test_the_first_link_makes_the_clubs_row(database, writer):
    writer.write_now(actions.make_first_invitation, None)

    with database.reading() as session:
        assert session.connection().exec_driver_sql("SELECT count(*) FROM club").scalar() == 1
