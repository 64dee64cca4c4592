"""Forgetting a person: nothing of them is left but that somebody held the wood."""

from __future__ import annotations

from datetime import date
from uuid import UUID, uuid4

import pytest

from service.lib.database import metadata
from service.members import actions, queries
from service.members.rules import LastAdministrator, PartyKind, Role
from service.members.schemas import PartyUpdate
from tests.builders.members import (
    PASSWORD,
    make_asker,
    make_invitation,
    make_party,
    make_session,
    make_token,
    party_version,
)

NAME, CONTACT = "Zebulon Quartermain", "zebulon@quartermain.example"
UNTIL = date(2029, 3, 1)


def forget(writer, member, party_id, until=UNTIL):
    writer.write_now(actions.erase_party, member, party_id, until)


@pytest.fixture
def administrator(writer):
    return make_asker(writer, Role.ADMINISTRATOR)


@pytest.fixture
def zebulon(writer):
    asker = make_asker(writer, Role.MEMBER, Role.HOST, name=NAME)
    body = PartyUpdate(contact=CONTACT, keep_contact_for_recall=True)
    writer.write_now(actions.change_party, asker, asker.party_id, body, 1)
    return asker


def everything(database, *, but=()):
    with database.reading() as session:
        run = session.connection().exec_driver_sql
        return "".join(
            str(run(f'SELECT * FROM "{table}"').all()) for table in metadata.tables if table not in but
        )


def test_no_table_knows_the_name_any_more(database, writer, administrator, zebulon, opened):
    steward = opened(make_session(writer, make_asker(writer, Role.STEWARD)))
    steward.post("/api/parties", json=[{"name": f"{NAME} the younger"}])
    body = {"party_id": str(zebulon.party_id), "note": f"for {NAME}"}
    steward.post("/api/invitations", json=body)
    make_token(writer, zebulon, name=f"{NAME}'s script")
    make_session(writer, zebulon, f"{NAME}'s phone")
    younger = steward.get("/api/parties", params={"q": "younger"}).json()["items"][0]["id"]

    forget(writer, administrator, zebulon.party_id)
    forget(writer, administrator, UUID(younger))

    left = everything(database, but=("recall_contact",))
    assert "ebulon" not in left
    assert "uartermain" not in left


def test_the_forgotten_cannot_sign_in_by_any_way(writer, administrator, zebulon, opened, program):
    browser, script = opened(make_session(writer, zebulon)), program(make_token(writer, zebulon).token)
    invitation = make_invitation(writer, administrator, party_id=zebulon.party_id)

    forget(writer, administrator, zebulon.party_id)

    assert browser.get("/api/session").status_code == 401
    assert script.get("/api/session").status_code == 401
    assert opened().post("/api/session", json={"name": NAME, "password": PASSWORD}).status_code == 401
    assert opened().post("/api/session", json={"name": "forgotten", "password": PASSWORD}).status_code == 401
    accepted = opened().post(
        "/api/invitations/accept", json={"token": invitation.token, "password": "quite another one"}
    )
    assert accepted.status_code == 409


def test_the_contact_is_sealed_for_recall_until_its_day(database, writer, administrator, zebulon):
    forget(writer, administrator, zebulon.party_id)

    with database.reading() as session:
        party = queries.get_party(session, zebulon.party_id)
        in_time = queries.contacts_for_recall(session, [zebulon.party_id], UNTIL)
        too_late = queries.contacts_for_recall(session, [zebulon.party_id], date(2029, 3, 2))
    assert (party.name, party.contact, party.forgotten, party.roles) == ("forgotten", "", True, [])
    assert in_time == {zebulon.party_id: CONTACT}
    assert too_late == {zebulon.party_id: ""}


@pytest.mark.parametrize("agreed, until", [(False, UNTIL), (True, None)])
def test_without_agreement_or_a_day_no_contact_is_kept(database, writer, administrator, agreed, until):
    party = make_party(writer, NAME, contact=CONTACT, keep_contact_for_recall=agreed)

    forget(writer, administrator, party.id, until)

    assert "uartermain" not in everything(database)


def test_forgetting_twice_does_no_harm(database, writer, administrator, zebulon):
    forget(writer, administrator, zebulon.party_id)
    version = party_version(writer, zebulon.party_id)

    forget(writer, administrator, zebulon.party_id)

    assert party_version(writer, zebulon.party_id) == version


def test_two_forgotten_people_are_told_apart_by_their_ids_alone(database, writer, administrator):
    people = [make_asker(writer, Role.MEMBER, name=f"{NAME} {n}") for n in range(2)]
    for one in people:
        forget(writer, administrator, one.party_id)

    with database.reading() as session:
        facts = queries.facts_for_parties(session, [one.party_id for one in people])
    assert [(fact.name, fact.forgotten) for fact in facts.values()] == [("forgotten", True)] * 2


def test_the_last_administrator_is_not_forgotten(writer, administrator):
    with pytest.raises(LastAdministrator):
        forget(writer, administrator, administrator.party_id)


def test_nothing_can_be_recorded_of_or_for_the_forgotten(writer, administrator, zebulon, opened):
    host = opened(make_session(writer, make_asker(writer, Role.HOST)))
    browser = opened(make_session(writer, administrator))
    forget(writer, administrator, zebulon.party_id)
    version = {"If-Match": f'"v{party_version(writer, zebulon.party_id)}"'}
    path = zebulon.party_id

    acted = host.get("/api/session", headers={"On-Behalf-Of": str(zebulon.party_id)})

    assert acted.status_code == 422
    assert browser.patch(f"/api/parties/{path}", json={"name": NAME}, headers=version).status_code == 409
    assert browser.put(f"/api/roles/{path}", json={"roles": ["member"]}, headers=version).status_code == 409
    assert browser.post("/api/invitations", json={"party_id": str(path)}).status_code == 409
    assert browser.get("/api/parties", params={"q": "forgotten"}).json()["items"] == []
    assert host.get("/api/parties/names", params={"q": "forgotten"}).json()["items"] == []


def test_a_repeat_of_what_named_the_forgotten_answers_without_the_name(writer, administrator, opened):
    browser, key = (
        opened(make_session(writer, administrator)),
        {"Idempotency-Key": str(uuid4())},
    )
    made = browser.post("/api/parties", json=[{"name": NAME, "kind": PartyKind.GUEST}], headers=key).json()

    forget(writer, administrator, UUID(made[0]["id"]))
    again = browser.post("/api/parties", json=[{"name": NAME, "kind": PartyKind.GUEST}], headers=key)

    assert again.status_code == 409
    assert NAME not in again.text
