"""A token for a logger's program, bound to one logger, store or site: it writes for that alone."""

from __future__ import annotations

import re
from uuid import uuid4

import pytest

from service.lib.clock import minute_words
from service.lib.paging import EVERY
from service.members import queries as members
from service.members.rules import Role
from service.storage import actions, queries, schemas
from service.storage.queries.readings import read_readings
from service.storage.rules import EVER
from service.trees import actions as trees
from service.trees.schemas import SiteCreate
from tests.bad_input.desk import words_of
from tests.builders.loggers import make_logger
from tests.builders.members import make_asker
from tests.builders.storage import ago, make_ground, make_store
from tests.infra.web import Client
from tests.pages.desk import opened, read, send

BATCH = {"readings": [{"at": ago(hours=2).isoformat(), "temp": 3.1}]}
AIR = {"measured": "the shed", "days": [{"day": "2025-01-05", "lowest_c": -4.0, "highest_c": 1.5}]}


@pytest.fixture
def there(writer):
    """Two loggers, each in a store of its own, and two sites."""
    ground, me = make_ground(writer), make_asker(writer, Role.STEWARD)
    stores = [make_store(writer, ground, name).id for name in ("Near cellar", "Far cellar")]
    loggers = [make_logger(writer, ground, name).id for name in ("Grey logger", "Blue logger")]
    for store, logger in zip(stores, loggers, strict=True):
        body = schemas.LoggerMoveCreate(store_id=store, from_at=ago(days=9))
        writer.write_now(actions.hang_logger, ground.host, logger, body)
    with writer.database.reading() as session:
        area_id = members.list_areas(session, EVERY).items[0].id
    sites = [
        writer.write_now(trees.add_site, me, SiteCreate(name=name, area_id=area_id)).id
        for name in ("Top orchard", "Low orchard")
    ]
    return {"logger": loggers, "store": stores, "site": sites}


@pytest.fixture
def program(as_, app, portal):
    steward, scripts = as_(Role.STEWARD), []

    def made(kind, one):
        scopes = {"site": ["read", "trees"], None: ["read", "readings", "trees"]}.get(
            kind, ["read", "readings"]
        )
        body = {"name": "a script", "scopes": scopes} | (
            {"bound_kind": kind, "bound_id": str(one)} if kind else {}
        )
        told = steward.post("/api/tokens", json=body, headers={"Idempotency-Key": str(uuid4())}).json()
        script = Client(app, portal)
        script.headers["Authorization"] = f"Bearer {told['token']}"
        scripts.append(script)
        return script

    yield made
    for script in scripts:
        script.close()


def sent(script, there, place):
    """What becomes of readings of a logger, of a dial of a store, of a site's air, and of something else."""
    key = {"Idempotency-Key": str(uuid4())}
    dial = {"store_id": str(there["store"][place]), "now": 3.5}
    return [
        script.put(f"/api/loggers/{there['logger'][place]}/readings", json=BATCH).status_code,
        script.post("/api/dial-readings", json=dial, headers=key).status_code,
        script.post(f"/api/sites/{there['site'][place]}/air", json=AIR, headers={"Idempotency-Key": str(uuid4())}).status_code,
        script.post("/api/areas", json={"name": "x"}, headers={"Idempotency-Key": str(uuid4())}).status_code,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "own"), [("logger", [200, 403, 403, 403]), ("store", [200, 201, 403, 403]), ("site", [403, 403, 201, 403])]
)  # fmt: skip
def test_a_bound_token_writes_for_its_own_and_for_no_other(there, program, kind, own) -> None:
    script = program(kind, there[kind][0])

    assert sent(script, there, 0) == own
    assert sent(script, there, 1) == [403, 403, 403, 403]
    assert script.get("/api/trees").status_code == 200
    refused = script.post(
        "/api/dial-readings/00000000-0000-0000-0000-000000000001/taken-back", json={"why": "mistyped"}
    )
    assert refused.status_code == 403
    assert refused.json()["title"] == "This token is bound to something else"
    assert "make one for it on your account page" in refused.text


def test_a_token_bound_to_nothing_writes_for_all_as_before(there, program) -> None:
    script = program(None, None)

    assert [sent(script, there, place)[:3] for place in (0, 1)] == [[200, 201, 201]] * 2


def test_a_logger_that_was_moved_is_no_more_of_the_store_of_a_token(there, program, writer) -> None:
    script = program("store", there["store"][0])
    host = make_asker(writer, Role.HOST)
    body = schemas.LoggerMoveCreate(store_id=there["store"][1], from_at=ago(hours=5))
    writer.write_now(actions.hang_logger, host, there["logger"][0], body)

    answer = script.put(f"/api/loggers/{there['logger'][0]}/readings", json=BATCH)

    assert answer.status_code == 403
    assert "one store alone" in answer.json()["detail"]


def moved(there, writer):
    """The first logger hung in the first store until five hours ago, and in the second since."""
    host = make_asker(writer, Role.HOST)
    body = schemas.LoggerMoveCreate(store_id=there["store"][1], from_at=ago(hours=5))
    writer.write_now(actions.hang_logger, host, there["logger"][0], body)


def kept(database, logger_id):
    with database.reading() as session:
        return [str(one.temp) for one in read_readings(queries.readings_of_logger(session, logger_id, EVER))]


def test_a_token_of_the_store_a_logger_came_to_cannot_change_what_it_measured_before(
    there, program, writer, database
) -> None:
    logger_id = there["logger"][0]
    first = program("logger", logger_id).put(
        f"/api/loggers/{logger_id}/readings",
        json={"readings": [{"at": ago(hours=8).isoformat(), "temp": 3.1}]},
    )
    assert first.status_code == 200
    moved(there, writer)
    script = program("store", there["store"][1])
    both = [ago(hours=1), ago(hours=8), ago(hours=7)]
    told = {"readings": [{"at": at.isoformat(), "temp": 19.5} for at in both], "where_differing": "replace"}

    answer = script.put(f"/api/loggers/{logger_id}/readings", json=told)

    assert answer.status_code == 403
    assert f"Grey logger did not hang there at {minute_words(ago(hours=8))}" in answer.json()["detail"]
    assert answer.json()["facts"]["count"] == 2
    assert kept(database, logger_id) == ["3.1"]
    told["readings"] = told["readings"][:1]
    assert script.put(f"/api/loggers/{logger_id}/readings", json=told).status_code == 200
    assert kept(database, logger_id) == ["3.1", "19.5"]


def test_what_a_logger_measured_in_a_store_is_still_sent_for_it_after_it_left(there, program, writer) -> None:
    script = program("store", there["store"][0])
    moved(there, writer)
    late, now_elsewhere, on_the_minute = ago(hours=6), ago(hours=4), ago(hours=5)

    answers = [
        script.put(
            f"/api/loggers/{there['logger'][0]}/readings",
            json={"readings": [{"at": at.isoformat(), "temp": 3.1}]},
        ).status_code
        for at in (late, now_elsewhere, on_the_minute)
    ]

    assert answers == [200, 403, 403]


def test_half_a_bond_is_no_bond(as_) -> None:
    told = {"name": "a script", "scopes": ["readings"], "bound_kind": "logger"}

    answer = as_(Role.STEWARD).post("/api/tokens", json=told, headers={"Idempotency-Key": str(uuid4())})

    assert answer.status_code == 422
    assert "both of bound_kind and bound_id" in answer.text


def test_the_page_asks_which_and_shows_it(as_, there, app, portal) -> None:
    steward = as_(Role.STEWARD)
    form = {**opened(steward, "/account/tokens/new", name="shed script", days="30"), "scopes": ["readings"]}

    asked = send(steward, "/account/tokens/new", {**form, "bound": ""})
    made = send(steward, "/account/tokens/new", {**form, "bound": f"logger:{there['logger'][0]}"})

    assert asked.status_code == 422
    assert "choose which logger, store or site it sends for" in words_of(asked).lower()
    assert "logger Grey logger alone" in words_of(made)
    assert "for one logger alone" in words_of(read(steward, "/account"))
    script = Client(app, portal)
    script.headers["Authorization"] = "Bearer " + re.search(r'id="token"[^>]*value="([^"]+)"', made.text)[1]
    assert sent(script, there, 1)[0] == 403
    assert sent(script, there, 0)[0] == 200
    script.close()


def asked_for(client, scopes, kind, one):
    body = {"name": "a script", "scopes": scopes, "bound_kind": kind, "bound_id": str(one)}
    return client.post("/api/tokens", json=body, headers={"Idempotency-Key": str(uuid4())})


@pytest.mark.parametrize(
    ("kind", "scopes", "words"),
    [
        ("logger", ["read"], "it sends by the right readings"),
        ("store", ["trees"], "it sends by the right readings"),
        ("site", ["read", "readings"], "it sends by the right trees"),
        ("logger", ["readings", "store", "labels"], "it could not use: labels, store"),
        ("site", ["read", "readings", "trees"], "it could not use: readings"),
    ],
)
def test_a_bond_that_leaves_a_token_nothing_or_less_than_it_says_is_refused(as_, there, kind, scopes, words):
    steward = as_(Role.STEWARD)

    answer = asked_for(steward, scopes, kind, there[kind][0])

    assert answer.status_code == 422
    assert answer.json()["type"] == "/problems/bond-does-not-fit"
    assert words in answer.json()["detail"]
    assert steward.get("/api/tokens").json() == []


@pytest.mark.parametrize(
    ("kind", "right"), [("logger", "readings"), ("store", "readings"), ("site", "trees")]
)
def test_a_token_is_bound_to_what_there_is(as_, there, kind, right):
    steward = as_(Role.STEWARD)
    other = {"logger": "store", "store": "site", "site": "logger"}[kind]

    wrong = [asked_for(steward, [right], kind, one) for one in (uuid4(), there[other][0])]

    assert [each.status_code for each in wrong] == [422, 422]
    assert wrong[0].json()["detail"] == f"There is no {kind} under this id."
    assert asked_for(steward, ["read", right], kind, there[kind][0]).status_code == 201
    assert asked_for(steward, [right], kind, there[kind][0]).status_code == 201


def test_the_page_refuses_a_bond_that_does_not_fit_in_the_words_of_its_choices(as_, there):
    steward = as_(Role.STEWARD)
    form = {**opened(steward, "/account/tokens/new", name="shed script", days="30")}
    logger = f"logger:{there['logger'][0]}"

    idle = send(steward, "/account/tokens/new", {**form, "scopes": ["read"], "bound": logger})
    wide = send(steward, "/account/tokens/new", {**form, "scopes": ["readings", "stop"], "bound": logger})

    assert (idle.status_code, wide.status_code) == (422, 422)
    assert "hoose also “send readings of loggers and thermometers”" in words_of(idle)
    assert "eave out “stop wood and trees”: a token for one logger could not use it" in words_of(wide)
    assert steward.get("/api/tokens").json() == []


def test_the_page_asks_for_the_bond_of_a_token_that_sends_air(as_, there):
    steward = as_(Role.STEWARD)
    form = {**opened(steward, "/account/tokens/new", name="air script", days="30"), "scopes": ["trees"]}

    asked = send(steward, "/account/tokens/new", {**form, "bound": ""})
    made = send(steward, "/account/tokens/new", {**form, "bound": f"site:{there['site'][0]}"})

    assert asked.status_code == 422
    assert "choose which logger, store or site it sends for" in words_of(asked).lower()
    assert "site Top orchard alone" in words_of(made)


@pytest.mark.parametrize(
    ("role", "every"),
    [
        (Role.MEMBER, None),
        (Role.HOST, "every logger and store"),
        (Role.STEWARD, "every logger, store and site"),
    ],
)
def test_the_question_is_asked_of_those_to_whom_it_means_something(as_, there, role, every):
    page = read(as_(role), "/account/tokens/new")

    assert ("It writes for" in words_of(page)) is (every is not None)
    assert re.findall(r'value="any"[^>]*>([^<]+)<', page.text) == ([every] if every else [])


def test_a_member_makes_a_token_that_reads_without_being_asked(as_):
    member = as_(Role.MEMBER)
    form = {**opened(member, "/account/tokens/new", name="my reader", days="30"), "scopes": ["read"]}

    assert "Copy this token now" in words_of(send(member, "/account/tokens/new", form))
