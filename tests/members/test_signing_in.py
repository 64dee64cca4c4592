"""Signing in and out, with the password, the session and the page it is done from."""

from __future__ import annotations

from datetime import timedelta

import pytest
from pwdlib import PasswordHash

from service.lib.errors import Stale
from service.members import actions, queries
from service.members.rules import Role
from service.members.signin import SESSION_COOKIE, Limits, hash_password
from service.members.signin import passwords as hashing
from service.members.signin.passwords import verify_password
from service.members.tables import Account
from tests.builders.members import PASSWORD, make_asker, make_session, new_asker

NEW_PASSWORD = "a scarf, a saw, a stool"


def sign_in(browser, name, password=PASSWORD):
    return browser.post("/api/session", json={"name": name, "password": password})


def test_a_name_and_a_password_open_a_session(writer, opened):
    asker = make_asker(writer, Role.MEMBER, Role.HOST, name="Rafe Löwen")
    browser = opened()

    answer = sign_in(browser, "RAFE lowen")

    assert answer.status_code == 201
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith(f"{SESSION_COOKIE}=")
    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie
    assert "Max-Age=2592000" in cookie
    assert "Secure" not in cookie
    who = browser.get("/api/session").json()
    assert who["name"] == "Rafe Löwen"
    assert who["party_id"] == str(asker.party_id) == who["acting_for_id"]
    assert who["roles"] == ["member", "host"]
    assert "hand-over" in who["may"]
    assert "people" not in who["may"]


def test_cookies_are_secure_where_the_club_says_so(app, writer, opened):
    make_asker(writer, Role.MEMBER, name="Rafe")
    app.state.settings.secure_cookies = True

    answer = sign_in(opened(), "Rafe")

    assert "Secure" in answer.headers["set-cookie"]


def test_the_sessions_token_is_not_in_the_database(database, writer, opened):
    make_asker(writer, Role.MEMBER, name="Rafe")
    browser = opened()
    sign_in(browser, "Rafe")
    token = browser.cookies[SESSION_COOKIE]

    with database.reading() as session:
        kept = session.connection().exec_driver_sql("SELECT * FROM sign_in").mappings().all()

    assert len(kept) == 1
    assert token not in str(kept)


@pytest.mark.parametrize(
    "name, password", [("Rafe", "not the password"), ("Nobody at all", PASSWORD), ("Rafe", PASSWORD + " ")]
)
def test_a_wrong_name_and_a_wrong_password_sound_the_same(writer, opened, name, password):
    make_asker(writer, Role.MEMBER, name="Rafe")

    answer = sign_in(opened(), name, password)

    assert answer.status_code == 401
    assert answer.json()["type"] == "/problems/wrong-sign-in"
    assert answer.json()["detail"] == "No account has this name and password."
    assert "set-cookie" not in answer.headers


@pytest.mark.parametrize("name", ["Rafe", "Nobody at all"])
def test_a_password_is_verified_once_whether_the_name_is_known_or_not(writer, opened, monkeypatch, name):
    make_asker(writer, Role.MEMBER, name="Rafe")
    tried = []
    real = hashing.verify_password
    monkeypatch.setattr(hashing, "verify_password", lambda *told: tried.append(told) or real(*told))

    sign_in(opened(), name, "not the password")

    assert len(tried) == 1


def test_nobodys_hash_costs_what_a_real_one_costs():
    assert PasswordHash.recommended().hashers[0].check_needs_rehash(hashing.NOBODYS_HASH) is False
    assert hash_password(PASSWORD).startswith("$argon2id$v=19$m=65536,t=3,p=4$")


def test_a_hash_with_old_parameters_is_renewed_at_the_next_sign_in(database, writer, opened):
    asker = make_asker(writer, Role.MEMBER, name="Rafe")
    browser = opened()

    assert sign_in(browser, "Rafe").status_code == 201

    with database.reading() as session:
        kept = queries.find_account_by_id(session, asker.account_id).password_hash
    assert kept.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    assert sign_in(opened(), "Rafe").status_code == 201


def test_a_closed_account_signs_in_no_more(database, writer, clock, opened):
    asker = make_asker(writer, Role.MEMBER, name="Rafe")
    browser = opened(make_session(writer, asker))
    with database.writing_session() as session:
        session.get(Account, asker.account_id).disabled_at = clock.now()
        session.commit()

    assert sign_in(opened(), "Rafe").status_code == 401
    assert browser.get("/api/session").status_code == 401


def test_signing_out_ends_the_session_and_not_the_other_one(writer, opened):
    asker = make_asker(writer, Role.MEMBER)
    signed_in = make_session(writer, asker)
    here, elsewhere = opened(signed_in), opened(make_session(writer, asker))

    answer = here.delete("/api/session")

    assert answer.status_code == 204
    assert f'{SESSION_COOKIE}=""' in answer.headers["set-cookie"]
    ended = opened(signed_in).get("/api/session")
    assert ended.status_code == 401
    assert ended.json()["type"] == "/problems/sign-in-ended"
    assert elsewhere.get("/api/session").status_code == 200


def test_sessions_are_listed_and_one_of_them_ended(writer, opened):
    asker = make_asker(writer, Role.MEMBER)
    here = opened(make_session(writer, asker, "Firefox on a desk"))
    lost = make_session(writer, asker, "a phone left on a tram")

    listed = {one["device"]: one for one in here.get("/api/sessions").json()}
    answer = here.delete(f"/api/sessions/{lost.id}")

    assert listed["Firefox on a desk"]["is_this"] is True
    assert listed["a phone left on a tram"]["is_this"] is False
    assert answer.status_code == 204
    assert opened(lost).get("/api/session").status_code == 401
    assert [one["device"] for one in here.get("/api/sessions").json()] == ["Firefox on a desk"]


def test_nobody_ends_somebody_elses_session(writer, opened):
    other = make_session(writer, make_asker(writer, Role.MEMBER))
    administrator = opened(make_session(writer, make_asker(writer, Role.ADMINISTRATOR)))

    assert administrator.delete(f"/api/sessions/{other.id}").status_code == 404
    assert opened(other).get("/api/session").status_code == 200


def test_a_session_ends_after_thirty_days(writer, clock, opened):
    browser = opened(make_session(writer, make_asker(writer, Role.MEMBER)))
    clock.move(timedelta(days=30) - timedelta(seconds=1))
    last_moment = browser.get("/api/session").status_code
    clock.move(timedelta(seconds=1))

    answer = browser.get("/api/session")

    assert last_moment == 200
    assert answer.status_code == 401
    assert "older than thirty days" in answer.json()["detail"]


def test_a_new_password_signs_out_everywhere_else(writer, opened):
    asker = make_asker(writer, Role.MEMBER, name="Rafe")
    here, elsewhere = (opened(make_session(writer, asker)) for _ in range(2))

    answer = here.put("/api/password", json={"old_password": PASSWORD, "password": NEW_PASSWORD})

    assert answer.status_code == 200
    assert here.get("/api/session").status_code == 200
    assert elsewhere.get("/api/session").status_code == 401
    assert sign_in(opened(), "Rafe").status_code == 401
    assert sign_in(opened(), "Rafe", NEW_PASSWORD).status_code == 201


@pytest.mark.parametrize(
    "old, new, kind",
    [
        ("not the password", NEW_PASSWORD, "wrong-password"),
        (PASSWORD, "too short", "weak-password"),
        (PASSWORD, "Rafe Löwen", "weak-password"),
    ],
)
def test_a_password_is_changed_by_who_knows_it_and_to_a_good_one(writer, opened, old, new, kind):
    browser = opened(make_session(writer, make_asker(writer, Role.MEMBER, name="Rafe Lowen")))

    answer = browser.put("/api/password", json={"old_password": old, "password": new})

    assert answer.status_code == 422
    assert answer.json()["type"] == f"/problems/{kind}"
    assert browser.get("/api/session").status_code == 200


def test_guesses_at_the_present_password_are_limited_with_those_at_signing_in(app, writer, opened):
    browser = opened(make_session(writer, make_asker(writer, Role.MEMBER, name="Rafe")))
    guess = {"old_password": "not the password", "password": NEW_PASSWORD}
    for _ in range(app.state.settings.sign_in_tries_per_minute):
        assert browser.put("/api/password", json=guess).status_code == 422

    answer = browser.put("/api/password", json={"old_password": PASSWORD, "password": NEW_PASSWORD})

    assert answer.status_code == 429
    assert answer.json()["detail"] == "Too many tries for this name."
    assert sign_in(opened(), "Rafe").status_code == 429


def test_guesses_at_present_passwords_count_as_failures_of_their_address(app, writer, opened):
    app.state.limits = Limits(sign_in_tries=2, token_calls=10)
    browsers = [
        opened(make_session(writer, make_asker(writer, Role.MEMBER, name=f"Rafe {n}"))) for n in range(4)
    ]
    guess = {"old_password": "not the password", "password": NEW_PASSWORD}
    assert [browser.put("/api/password", json=guess).status_code for browser in browsers[:3] * 2] == [422] * 6

    answer = browsers[3].put("/api/password", json={"old_password": PASSWORD, "password": NEW_PASSWORD})

    assert answer.status_code == 429
    assert answer.json()["detail"] == "Too many failed tries from this address."


def test_of_two_new_passwords_at_once_the_second_is_refused(database, writer):
    asker = make_asker(writer, Role.MEMBER, name="Rafe")
    with database.reading() as session:
        before = queries.find_account_by_id(session, asker.account_id).password_hash
    writer.write_now(actions.change_password, asker, before, hash_password(NEW_PASSWORD), "a desk")

    with pytest.raises(Stale):
        writer.write_now(
            actions.change_password, asker, before, hash_password("an altogether other one"), "a phone"
        )
    writer.write_now(actions.renew_password_hash, None, asker.account_id, before, hash_password(PASSWORD))

    with database.reading() as session:
        kept = queries.find_account_by_id(session, asker.account_id).password_hash
    assert verify_password(NEW_PASSWORD, kept)[0]


def test_tries_for_one_name_are_limited_and_say_how_long_to_wait(app, writer, opened):
    make_asker(writer, Role.MEMBER, name="Rafe")
    browser = opened()
    for _ in range(app.state.settings.sign_in_tries_per_minute):
        assert sign_in(browser, "Rafe", "not the password").status_code == 401

    answer = sign_in(browser, "rafe")

    assert answer.status_code == 429
    assert 1 <= answer.json()["facts"]["wait_seconds"] <= 60
    assert answer.headers["retry-after"] == str(answer.json()["facts"]["wait_seconds"])
    assert sign_in(browser, "somebody else").status_code == 401


def test_failures_from_one_address_are_limited_whatever_the_names(app, opened):
    app.state.limits = Limits(sign_in_tries=2, token_calls=10)
    browser = opened()
    for n in range(6):
        assert sign_in(browser, f"name {n}", "not the password").status_code == 401

    assert sign_in(browser, "another name").status_code == 429


def test_a_hall_that_signs_in_rightly_need_not_wait(app, writer, opened):
    app.state.limits = Limits(sign_in_tries=2, token_calls=10)
    make_asker(writer, Role.MEMBER, name="Rafe")
    browser = opened()

    answers = [sign_in(browser, "Rafe").status_code for _ in range(4)]

    assert answers == [201] * 4


# -- where a change comes from -------------------------------------------------------------------------------------

CONTACT = {"contact": "a new address"}


@pytest.mark.parametrize(
    "headers, status, kind",
    [
        ({"Origin": "http://club.test"}, 200, None),
        ({"Origin": "https://club.test"}, 200, None),
        ({"Origin": "https://elsewhere.test"}, 403, "wrong-origin"),
        ({"Origin": "null"}, 403, "wrong-origin"),
        ({"Origin": "http://club.test.elsewhere.test"}, 403, "wrong-origin"),
        ({"Origin": "http://club.test:81"}, 403, "wrong-origin"),
        ({"Sec-Fetch-Site": "same-origin"}, 200, None),
        ({"Sec-Fetch-Site": "cross-site"}, 403, "wrong-origin"),
        ({"Sec-Fetch-Site": "same-site"}, 403, "wrong-origin"),
        ({"Referer": "http://club.test/account"}, 200, None),
        ({"Referer": "https://elsewhere.test/club.test"}, 403, "wrong-origin"),
        ({}, 403, "form-not-ours"),
        ({"X-CSRF-Token": "{csrf}"}, 200, None),
        ({"X-CSRF-Token": "guessed"}, 403, "form-not-ours"),
        ({"Origin": "http://club.test", "X-CSRF-Token": "guessed"}, 403, "form-not-ours"),
        ({"Origin": "https://elsewhere.test", "X-CSRF-Token": "{csrf}"}, 403, "wrong-origin"),
        ({"Origin": "https://pages.club.example"}, 200, None),
    ],
)
def test_a_change_by_cookie_must_come_from_our_own_pages(app, writer, opened, headers, status, kind):
    app.state.settings.trusted_origins = "https://other.example, https://pages.club.example/"
    asker = make_asker(writer, Role.MEMBER)
    signed_in = make_session(writer, asker)
    browser = opened(signed_in)
    del browser.headers["Origin"]
    told = {name: value.replace("{csrf}", signed_in.csrf_token) for name, value in headers.items()}

    answer = browser.patch(
        f"/api/parties/{asker.party_id}", json=CONTACT, headers={**told, "If-Match": '"v1"'}
    )

    assert answer.status_code == status
    if kind:
        assert answer.json()["type"] == f"/problems/{kind}"


def test_reading_needs_no_origin(writer, opened):
    browser = opened(make_session(writer, make_asker(writer, Role.MEMBER)))
    browser.headers["Origin"] = "https://elsewhere.test"

    assert browser.get("/api/session").status_code == 200


def test_another_website_cannot_sign_somebody_in(writer, opened):
    make_asker(writer, Role.MEMBER, name="Rafe")
    browser = opened()
    browser.headers["Origin"] = "https://elsewhere.test"

    answer = sign_in(browser, "Rafe")

    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers


# -- what it costs -------------------------------------------------------------------------------------------------


def test_who_asks_costs_one_statement_by_session(writer, opened, statements):
    browser = opened(make_session(writer, make_asker(writer, Role.MEMBER, Role.COLLECTOR)))

    with statements.exactly(1):
        assert browser.get("/api/session").status_code == 200


def test_who_asks_for_somebody_else_costs_one_statement_too(writer, opened, statements):
    host, other = make_asker(writer, Role.HOST), make_asker(writer, Role.MEMBER)
    browser = opened(make_session(writer, host))

    with statements.exactly(1):
        answer = browser.get("/api/session", headers={"On-Behalf-Of": str(other.party_id)})

    assert answer.json()["acting_for_id"] == str(other.party_id)


def test_signing_in_costs_four_statements(writer, opened, statements):
    asker = make_asker(writer, Role.MEMBER, name="Rafe")
    sign_in(opened(), "Rafe")

    with statements.at_most(4):
        assert sign_in(opened(), "Rafe").status_code == 201
    assert asker.name == "Rafe"


# -- acting for somebody else --------------------------------------------------------------------------------------


def test_a_member_may_act_for_nobody_else(writer, opened):
    member, other = make_asker(writer, Role.MEMBER), make_asker(writer, Role.MEMBER)
    browser = opened(make_session(writer, member))

    refused = browser.get("/api/session", headers={"On-Behalf-Of": str(other.party_id)})
    own = browser.get("/api/session", headers={"On-Behalf-Of": str(member.party_id)})

    assert refused.status_code == 403
    assert refused.json()["type"] == "/problems/cannot-act-for"
    assert own.status_code == 200


def test_nobody_acts_for_a_party_that_is_not_there(writer, opened):
    browser = opened(make_session(writer, make_asker(writer, Role.HOST)))

    answer = browser.get("/api/session", headers={"On-Behalf-Of": str(new_asker().party_id)})

    assert answer.status_code == 422
    assert answer.json()["type"] == "/problems/unknown-party"
