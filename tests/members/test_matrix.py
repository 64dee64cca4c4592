"""Every route of people, as every role, a guest and a stranger: who is let in, who is not."""

from __future__ import annotations

from uuid import uuid4

import pytest

from service.members.routes import router
from service.members.rules import PartyKind, Role
from tests.builders.members import make_area, make_asker, make_party, make_session

EVERYONE = {*Role, "guest"}
PEOPLE = {Role.STEWARD, Role.ADMINISTRATOR}
TREES = {Role.COLLECTOR, Role.STEWARD, Role.HEALTH_STEWARD, Role.ADMINISTRATOR}
VOLUNTEERS = {*Role} - {Role.MEMBER}
ADMINISTRATOR = {Role.ADMINISTRATOR}
ANYBODY = {*EVERYONE, "stranger"}

# A body that is well formed but for a thing that is not there: whoever is let in hears 2xx, 404, 409 or 422.
ROUTES = [
    ("POST", "/api/session", {"name": "nobody", "password": "no such password"}, ANYBODY),
    ("GET", "/api/session", None, EVERYONE),
    ("DELETE", "/api/session", None, EVERYONE),
    ("GET", "/api/sessions", None, EVERYONE),
    ("DELETE", "/api/sessions", None, EVERYONE),
    ("DELETE", "/api/sessions/{session_id}", None, EVERYONE),
    ("PUT", "/api/password", {"old_password": "not mine at all", "password": "quite another one"}, EVERYONE),
    ("GET", "/api/tokens", None, EVERYONE),
    ("POST", "/api/tokens", {"name": "t", "scopes": ["read"]}, {*Role}),
    ("DELETE", "/api/tokens/{token_id}", None, EVERYONE),
    ("GET", "/api/parties", None, PEOPLE),
    ("POST", "/api/parties", [{"name": "Ivo", "kind": "guest"}], VOLUNTEERS),
    ("GET", "/api/parties/names", None, VOLUNTEERS),
    ("GET", "/api/parties/{party_id}", None, PEOPLE),
    ("PATCH", "/api/parties/{party_id}", {"contact": "x"}, PEOPLE),
    ("GET", "/api/roles", None, EVERYONE),
    ("GET", "/api/roles/{party_id}", None, PEOPLE),
    ("PUT", "/api/roles/{party_id}", {"roles": []}, ADMINISTRATOR),
    ("GET", "/api/areas", None, {*Role}),
    ("POST", "/api/areas", [{"name": "A new one"}], TREES),
    ("GET", "/api/areas/{area_id}", None, {*Role}),
    ("PATCH", "/api/areas/{area_id}", {"note": "x"}, TREES),
    ("GET", "/api/area-permits", None, {*Role}),
    (
        "POST", "/api/area-permits",
        [{"from_area_id": str(uuid4()), "to_area_id": str(uuid4()), "reference": "r", "allows": True, "answered_on": "2026-02-01"}],
        {Role.HEALTH_STEWARD, Role.ADMINISTRATOR},
    ),
    ("GET", "/api/invitations", None, PEOPLE),
    ("POST", "/api/invitations", {"roles": []}, PEOPLE),
    ("POST", "/api/invitations/accept", {"token": "NONE", "password": "quite another one"}, ANYBODY),
    ("DELETE", "/api/invitations/{invitation_id}", None, PEOPLE),
    ("GET", "/api/club", None, {*Role}),
    ("PATCH", "/api/club", {"name": "Harrow Fen"}, ADMINISTRATOR),
]  # fmt: skip


def test_the_matrix_knows_every_route():
    written = {(method, route.path) for route in router.routes for method in route.methods}

    assert written == {(method, path) for method, path, _, _ in ROUTES}


@pytest.mark.databases("sqlite")
def test_every_route_is_documented_with_its_problems(app):
    paths = app.openapi()["paths"]

    undocumented = [
        (method, path) for method, path, _, _ in ROUTES if method.lower() not in paths.get(path, {})
    ]
    assert undocumented == []
    for method, path, _, _ in ROUTES:
        assert {"401", "403", "422", "429"} <= set(paths[path][method.lower()]["responses"]), (method, path)


def heard(answer):
    said = answer.json() if answer.content else {}
    return answer.status_code, said.get("type") if isinstance(said, dict) else None


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize(
    "method, path, body, let_in", ROUTES, ids=lambda value: value if isinstance(value, str) else ""
)
def test_each_route_lets_in_who_may(writer, opened, method, path, body, let_in):
    make_asker(writer, Role.ADMINISTRATOR)
    party, area = make_party(writer, "Somebody else"), make_area(writer)
    address = path.format(
        party_id=party.id, area_id=area.id, session_id=uuid4(), token_id=uuid4(), invitation_id=uuid4()
    )
    answers = {}
    for who in (*Role, "guest", "stranger"):
        if who == "stranger":
            browser = opened()
        else:
            roles, kind = ((), PartyKind.GUEST) if who == "guest" else ((Role.MEMBER, who), PartyKind.MEMBER)
            browser = opened(make_session(writer, make_asker(writer, *set(roles), kind=kind)))
        answers[who] = heard(browser.request(method, address, json=body, headers={"If-Match": '"v1"'}))

    for who, (status, kind) in answers.items():
        if who in let_in:
            assert status < 500, (who, status)
            assert status not in {401, 403} or kind == "/problems/wrong-sign-in", (who, status, kind)
        else:
            assert status == (401 if who == "stranger" else 403), (who, status, kind)
