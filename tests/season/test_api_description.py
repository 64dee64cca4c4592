"""The description of the API says what a program must know: who may, what goes wrong and how, which headers a change needs."""

from __future__ import annotations

import re
from typing import Any

import jsonschema_rs
import pytest
import schemathesis

from service.app import create_app
from service.lib.description import operations
from service.lib.settings import Settings
from tests.season.test_matrix import ROWS

PROBLEM = {"application/problem+json": {"schema": {"$ref": "#/components/schemas/ProblemAnswer"}}}
# Signing in, and joining, are no changes of somebody known: there is nobody yet whose key it could be.
KEYLESS = {"/api/session", "/api/invitations/accept"}


@pytest.fixture(scope="module")
def document(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    folder = tmp_path_factory.mktemp("described")
    app = create_app(Settings(data_dir=folder, database_url=f"sqlite:///{folder}/club.sqlite3"))
    app.state.database.close()
    return app.openapi()


@pytest.fixture(scope="module")
def described(document: dict[str, Any]) -> list[tuple[str, str, dict[str, Any]]]:
    return list(operations(document))


def headers_of(operation: dict[str, Any]) -> dict[str, Any]:
    return {each["name"]: each for each in operation.get("parameters", ()) if each["in"] == "header"}


def test_it_is_valid_openapi_3_1(document: dict[str, Any]) -> None:
    schemathesis.openapi.from_dict(document).validate()

    assert document["openapi"].startswith("3.1.")


def test_its_schemas_are_valid_json_schema(document: dict[str, Any]) -> None:
    # OpenAPI 3.1.0, 4.8.24: a schema object is one of JSON Schema, draft 2020-12.
    draft = {"$schema": "https://json-schema.org/draft/2020-12/schema"}

    wrong = [
        name
        for name, schema in document["components"]["schemas"].items()
        if not jsonschema_rs.meta.is_valid({**draft, **schema})
    ]
    assert wrong == []


def test_it_holds_every_route_of_the_api_and_no_other(described: Any) -> None:
    written = {(row["method"], row["route"]) for row in ROWS if row["route"].startswith("/api/")}

    assert {(method.upper(), path) for path, method, _ in described} == written - {
        ("GET", "/api/openapi.json")
    }


def test_each_call_has_a_summary_one_tag_and_says_who_may(described: Any) -> None:
    wrong = [
        (method, path)
        for path, method, operation in described
        if not (8 <= len(operation["summary"]) <= 140 and len(operation["tags"]) == 1)
        or not re.search(r"Who may: .{6,}\.$", operation["description"])
    ]

    assert wrong == []


def test_each_problem_is_told_as_a_problem_answer(described: Any) -> None:
    wrong = [
        (method, path, status)
        for path, method, operation in described
        for status, answer in operation["responses"].items()
        if status >= "400" and (answer["content"] != PROBLEM or len(answer["description"]) < 10)
    ]

    assert wrong == []


def test_each_call_tells_of_what_may_go_wrong_with_any_call(described: Any) -> None:
    wrong = [
        (method, path)
        for path, method, operation in described
        if not {"400", "401", "403", "422", "429", "503"} <= set(operation["responses"])
    ]

    assert wrong == []


def test_each_new_thing_needs_a_key_and_each_edit_a_version(described: Any) -> None:
    for path, method, operation in described:
        known = headers_of(operation)
        if method == "post" and path not in KEYLESS:
            assert known["Idempotency-Key"]["required"], path
            assert {"400", "409"} <= set(operation["responses"]), path
        if method == "patch":
            assert known["If-Match"]["required"], path
            assert {"412", "428"} <= set(operation["responses"]), path
            assert "ETag" in operation["responses"]["200"]["headers"], path


def test_a_call_that_needs_nobody_is_open_and_every_other_needs_a_token_or_a_session(described: Any) -> None:
    strangers = {(row["method"], row["route"]) for row in ROWS if row["stranger"] == "yes"}
    open_to_all = {
        (method.upper(), path)
        for path, method, operation in described
        if not operation.get("security") or {} in operation["security"]
    }

    assert open_to_all == strangers & {(method.upper(), path) for path, method, _ in described}
