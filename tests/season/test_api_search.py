"""Everything the API does, asked with what its description allows and much that it does not: no fault of ours, nothing undocumented.

The same cases on every run. A longer, random search: `pytest tests/season/test_api_search.py --hypothesis-profile=search`.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from typing import Any
from urllib.parse import parse_qsl, urlsplit
from uuid import uuid4

import hypothesis
import pytest
import requests
import schemathesis
from anyio.from_thread import BlockingPortal
from schemathesis.checks import not_a_server_error
from schemathesis.config import SchemathesisConfig
from schemathesis.core.transport import Response
from schemathesis.generation.hypothesis.builder import HypothesisTestConfig, HypothesisTestMode, create_test
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    missing_required_header,
    negative_data_rejection,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
    unsupported_method,
)

from service.lib.request import KEY_FORM
from tests.infra.web import ORIGIN
from tests.season.filled_club import FilledClub, filled_club
from tests.season.known_values import enriched, thinned
from tests.season.test_matrix import ROWS

OPERATIONS = [
    (row["method"], row["route"])
    for row in ROWS
    if row["route"].startswith("/api/") and row["route"] != "/api/openapi.json"
]
CASES = 5
# Sound calls of these are made by the matrix and by tests of their own.
NEVER_BY_CHANCE = {
    "/api/shelf-counts/{count_id}/photos": "a picture made by chance is sound, but shows no tag"
}
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    negative_data_rejection,
    missing_required_header,
    unsupported_method,
]
# How data outside the description may be answered; a version that is none is a version that does not match (RFC 9110, 13.1.1).
REFUSALS = ["400", "401", "403", "404", "405", "406", "409", "412", "413", "415", "422", "428", "429"]
# What ends the sign-in of whoever asks, or takes their rights.
UPSETTING = re.compile(r"/api/(session|sessions|password|roles|parties/[^/]+/forget)\b")


@pytest.fixture(scope="module")
def club(makers, tmp_path_factory, portal: BlockingPortal) -> Iterator[FilledClub]:
    with filled_club(makers("sqlite").migrated(), tmp_path_factory.mktemp("search"), portal) as filled:
        yield filled


@pytest.fixture(scope="module")
def api(club: FilledClub) -> Any:
    config = SchemathesisConfig.from_dict(
        {
            "checks": {
                "negative_data_rejection": {"expected-statuses": REFUSALS},
                "missing_required_header": {"expected-statuses": ["400", "422", "428"]},
            }
        }
    )
    document = enriched(club.app.openapi(), club)
    whole = not hypothesis.settings.default.derandomize
    return schemathesis.openapi.from_dict(document if whole else thinned(document), config=config)


def is_shaded(path: str) -> bool:
    """Whether the address is also one of a neighbour with an id in it, such as `/grafts/due` of `/grafts/{graft_id}`."""
    forms = {re.sub(r"\{[^}]*\}", "[^/]+", other) for _, other in OPERATIONS if other != path}
    return any(re.fullmatch(form, path) for form in forms if form != path)


def ask(club: FilledClub, case: Any) -> Response:
    """Send a case as it would go over the wire, as the administrator."""
    browser = club.client("administrator")
    kept = dict(case.headers)
    asks_for_key = any(parameter.name == "Idempotency-Key" for parameter in case.operation.headers)
    if not asks_for_key or KEY_FORM.fullmatch(str(kept.get("Idempotency-Key", ""))):
        kept["Idempotency-Key"] = str(uuid4())
    case.headers.clear()
    case.headers.update({**kept, "X-CSRF-Token": browser.csrf_token})
    sent = requests.Request(**case.as_transport_kwargs(base_url=ORIGIN)).prepare()
    asked = browser.build_request(sent.method, sent.url, content=sent.body, headers=dict(sent.headers))
    answer = browser.send(asked)
    heard = {name: answer.headers.get_list(name) for name in answer.headers}
    return Response(answer.status_code, heard, answer.content, sent, 0.0, verify=True)


def checks_for(path: str, answer: Response) -> list[Any]:
    """All checks, but for two that would blame what HTTP and the framework settle."""
    names = [name for name, _ in parse_qsl(urlsplit(str(answer.request.url)).query, keep_blank_values=True)]
    spared = {
        # Of a parameter sent twice the last one counts, which a description cannot say.
        negative_data_rejection: len(set(names)) < len(names),
        # The address is a neighbour's too, which may take that method.
        unsupported_method: is_shaded(path),
    }
    return [check for check in CHECKS if not spared.get(check)]


@pytest.mark.parametrize("method, path", OPERATIONS, ids=[" ".join(each) for each in OPERATIONS])
def test_no_call_finds_a_fault(club: FilledClub, api: Any, method: str, path: str) -> None:
    club.put_back()
    heard = Counter[int]()

    def one(case: Any) -> None:
        answer = ask(club, case)
        heard[answer.status_code] += 1
        case.validate_response(answer, checks=checks_for(path, answer))
        if UPSETTING.match(path) and answer.status_code < 300:
            club.put_back()

    default = hypothesis.settings.default
    assert default is not None
    settings = hypothesis.settings(max_examples=CASES) if default.derandomize else default
    config = HypothesisTestConfig(project=api.config, modes=list(HypothesisTestMode), settings=settings)
    create_test(operation=api[path][method.lower()], test_func=one, config=config)()
    if path in NEVER_BY_CHANCE:
        assert heard[422], f"nothing was read: {heard}"
        return
    assert any(status < 300 for status in heard), f"nothing went through: {heard}"
