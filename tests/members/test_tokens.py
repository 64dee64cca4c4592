"""Tokens for programs: narrow, shown once, limited, and over when they are over."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest

from service.members import actions
from service.members.rules import May, Role
from service.members.signin import Limits
from tests.builders.members import make_asker, make_session, make_token


def test_a_token_is_shown_once_and_never_again(database, writer, opened):
    browser = opened(make_session(writer, make_asker(writer, Role.HOST)))
    key, body = (
        {"Idempotency-Key": str(uuid4())},
        {"name": "scales in the cellar", "scopes": ["read", "bundle-checks"]},
    )

    made = browser.post("/api/tokens", json=body, headers=key)
    again = browser.post("/api/tokens", json=body, headers=key)

    assert made.status_code == 201
    assert again.status_code == 409
    assert again.json()["type"] == "/problems/already-known"
    listed = browser.get("/api/tokens").json()
    assert [(one["name"], one["scopes"]) for one in listed] == [
        ("scales in the cellar", ["bundle-checks", "read"])
    ]
    with database.reading() as session:
        run = session.connection().exec_driver_sql
        kept = [str(run(f"SELECT * FROM {table}").all()) for table in ("api_token", "kept_answer")]
    assert made.json()["token"] not in "".join(kept)


def test_a_token_cannot_do_more_than_its_maker(writer, opened):
    browser = opened(make_session(writer, make_asker(writer, Role.MEMBER)))

    answer = browser.post("/api/tokens", json={"name": "too much", "scopes": ["read", "people"]})

    assert answer.status_code == 403
    assert answer.json()["type"] == "/problems/scope-not-yours"
    assert browser.get("/api/tokens").json() == []


def test_a_token_does_what_its_scopes_say_without_origin_or_cookie(writer, program):
    asker = make_asker(writer, Role.STEWARD)
    script = program(make_token(writer, asker, May.READ, May.PEOPLE).token)

    who = script.get("/api/session").json()
    added = script.post("/api/parties", json=[{"name": "Hollow Lane Growers", "kind": "club"}])

    assert who["may"] == ["people", "read"]
    assert who["via"] == "token"
    assert added.status_code == 201


def test_a_token_without_the_scope_is_refused(writer, program):
    script = program(make_token(writer, make_asker(writer, Role.STEWARD), May.READ).token)

    answer = script.get("/api/parties")

    assert answer.status_code == 403
    assert answer.json()["facts"] == {"right": "people"}


def test_a_token_loses_what_its_owner_loses(writer, opened, program):
    owner = make_asker(writer, Role.MEMBER, Role.STEWARD)
    administrator = opened(make_session(writer, make_asker(writer, Role.ADMINISTRATOR)))
    script = program(make_token(writer, owner, May.READ, May.PEOPLE).token)
    before = script.get("/api/parties").status_code

    administrator.put(
        f"/api/roles/{owner.party_id}", json={"roles": ["member"]}, headers={"If-Match": '"v1"'}
    )

    assert before == 200
    assert script.get("/api/parties").status_code == 403
    assert script.get("/api/session").json()["may"] == ["read"]


def test_a_revoked_token_is_refused_in_clear_words(writer, opened, program):
    asker = make_asker(writer, Role.HOST)
    browser, token = opened(make_session(writer, asker)), make_token(writer, asker)
    script = program(token.token)
    before = script.get("/api/session").status_code

    revoked = [browser.delete(f"/api/tokens/{token.id}").status_code for _ in range(2)]
    answer = script.get("/api/session")

    assert before == 200
    assert revoked == [204, 204]
    assert answer.status_code == 401
    assert answer.json()["detail"] == "This token was revoked."
    assert answer.headers["www-authenticate"].startswith("Bearer")


def test_a_token_ends_on_time(writer, clock, program):
    token = make_token(writer, make_asker(writer, Role.HOST), expires_at=clock.now() + timedelta(days=1))
    script = program(token.token)
    before = script.get("/api/session").status_code
    clock.move(timedelta(days=1))

    answer = script.get("/api/session")

    assert before == 200
    assert answer.status_code == 401
    assert "was good until 15 February 2026, 10:00 UTC" in answer.json()["detail"]


def test_a_token_cannot_end_before_it_begins(writer, opened):
    browser = opened(make_session(writer, make_asker(writer, Role.HOST)))

    answer = browser.post(
        "/api/tokens", json={"name": "late", "scopes": ["read"], "expires_at": "2026-02-14T09:59:00Z"}
    )

    assert answer.status_code == 422
    assert answer.json()["type"] == "/problems/ends-in-the-past"


@pytest.mark.parametrize(
    "authorization", ["Bearer never-made", "Bearer ", "Basic cm9vdDpyb290", "nonsense", "Bearer \xe9\xff"]
)
def test_a_token_nobody_made_is_refused_even_beside_a_good_cookie(writer, opened, authorization):
    browser = opened(make_session(writer, make_asker(writer, Role.ADMINISTRATOR)))

    answer = browser.get("/api/session", headers={"Authorization": authorization.encode("latin-1")})

    assert answer.status_code == 401
    assert answer.json()["type"] == "/problems/token-not-good"


@pytest.mark.parametrize("scheme", ["Basic", "Digest", ""], ids=["basic", "digest", "none"])
def test_a_good_token_goes_as_bearer_only(writer, program, scheme):
    token = make_token(writer, make_asker(writer, Role.HOST)).token
    script = program(token)

    told = script.get("/api/session", headers={"Authorization": f"{scheme} {token}".strip()})

    assert told.status_code == 401
    assert script.get("/api/session", headers={"Authorization": f"bearer {token}"}).status_code == 200


def test_a_token_of_a_closed_account_is_over(writer, opened, program):
    asker = make_asker(writer, Role.HOST)
    script = program(make_token(writer, asker).token)
    writer.write_now(actions.erase_party, make_asker(writer, Role.ADMINISTRATOR), asker.party_id, None)

    assert script.get("/api/session").status_code == 401


def test_a_tokens_calls_are_limited(app, writer, program):
    app.state.limits = Limits(sign_in_tries=10, token_calls=5)
    asker = make_asker(writer, Role.HOST)
    script, other = (program(make_token(writer, asker).token) for _ in range(2))

    answers = [script.get("/api/session") for _ in range(6)]

    assert [answer.status_code for answer in answers] == [200] * 5 + [429]
    assert answers[-1].json()["facts"]["wait_seconds"] >= 1
    assert other.get("/api/session").status_code == 200


@pytest.mark.parametrize(
    "method, path, body",
    [
        ("POST", "/api/tokens", {"name": "a child", "scopes": ["read"]}),
        ("DELETE", "/api/tokens/{token}", None),
        ("DELETE", "/api/session", None),
        ("DELETE", "/api/sessions", None),
        ("DELETE", "/api/sessions/{token}", None),
        (
            "PUT",
            "/api/password",
            {"old_password": "rowan ladder frost twine", "password": "another one entirely"},
        ),
    ],
)
def test_a_token_looks_after_no_passwords_sessions_or_tokens(writer, program, method, path, body):
    token = make_token(writer, make_asker(writer, Role.ADMINISTRATOR))

    answer = program(token.token).request(method, path.format(token=token.id), json=body)

    assert answer.status_code == 403
    assert answer.json()["type"] == "/problems/needs-browser"


def test_nobody_revokes_somebody_elses_token(writer, opened, program):
    token = make_token(writer, make_asker(writer, Role.HOST))
    administrator = opened(make_session(writer, make_asker(writer, Role.ADMINISTRATOR)))

    assert administrator.delete(f"/api/tokens/{token.id}").status_code == 404
    assert program(token.token).get("/api/session").status_code == 200


def test_the_day_of_use_is_written_once_a_day(writer, opened, program, statements, clock):
    asker = make_asker(writer, Role.HOST)
    browser, script = opened(make_session(writer, asker)), program(make_token(writer, asker).token)

    with statements.exactly(2):
        script.get("/api/session")
    with statements.exactly(1):
        script.get("/api/session")

    assert browser.get("/api/tokens").json()[0]["last_used_on"] == "2026-02-14"
    clock.move(timedelta(days=1))
    script.get("/api/session")
    assert browser.get("/api/tokens").json()[0]["last_used_on"] == "2026-02-15"


def test_a_token_acts_for_others_only_with_that_scope(writer, program):
    host, other = make_asker(writer, Role.HOST), make_asker(writer, Role.MEMBER)
    behalf = {"On-Behalf-Of": str(other.party_id)}
    with_scope = program(make_token(writer, host, May.READ, May.ACT_FOR).token)
    without = program(make_token(writer, host, May.READ).token)

    assert with_scope.get("/api/session", headers=behalf).json()["acting_for_id"] == str(other.party_id)
    assert without.get("/api/session", headers=behalf).status_code == 403
