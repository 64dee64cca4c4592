"""What a request must bring and what comes back: keys, versions, sizes, problem answers. Asked of the whole app."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from typing import Any
from uuid import UUID, uuid4

import httpx
import pytest

from service.bundles.schemas import BundleRead
from service.lib import errors
from service.lib.database import Database
from service.lib.request import STATUS, etag_of, problem_body, status_of
from service.lib.write import Writer
from tests.builders.bundles import make_bundle, make_cutting, read_bundle
from tests.infra.cast import Cast
from tests.infra.web import Client


@pytest.fixture
def host(client: Callable[[str], Client]) -> Client:
    return client("host")


@pytest.fixture
def bundle(writer: Writer, cast: Cast) -> BundleRead:
    return make_bundle(writer, cast.steward, make_cutting(writer, cast.steward))


def test_a_read_that_gets_no_connection_in_time_is_told_as_away(
    host: Client, bundle: BundleRead, database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    pool = database.reader.pool
    monkeypatch.setattr(pool, "_timeout", 0.05)
    monkeypatch.setattr(pool, "_max_overflow", 0)
    with ExitStack() as taken:
        for _ in range(pool.size()):
            taken.enter_context(database.reader.connect())
        answer = host.get("/api/bundles")

    check_problem(answer, 503, "unreachable")
    assert host.get("/api/bundles").status_code == 200


def test_a_problem_says_what_became_of_a_change_only_where_one_was_asked_for(host: Client) -> None:
    nowhere = f"/api/bundles/{uuid4()}"

    read = host.get(nowhere)
    changed = host.patch(nowhere, json={"note": "by the door"}, headers={"If-Match": etag_of(1)})

    assert check_problem(read, 404, "no-such-bundle")["outcome"] == ""
    assert check_problem(changed, 404, "no-such-bundle")["outcome"] == "Nothing was written."


def discard(bundle_id: UUID, **told: Any) -> dict[str, Any]:
    return {"bundle_id": str(bundle_id), "sticks": 1, "reason": "mould", **told}


def check_problem(answer: httpx.Response, status: int, slug: str) -> dict[str, Any]:
    assert answer.status_code == status, answer.text
    assert answer.headers["Content-Type"] == "application/problem+json"
    body: dict[str, Any] = answer.json()
    assert (body["status"], body["type"]) == (status, f"/problems/{slug}")
    assert body["title"]
    assert body["detail"]
    return body


# -- keys ----------------------------------------------------------------------------------------------------------------


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("key", ["", "short", "with a space", "k" * 201])
def test_a_change_without_a_usable_key_is_refused(
    host: Client, database: Database, bundle: BundleRead, key: str
) -> None:
    answer = host.post("/api/discards", json=discard(bundle.id), headers={"Idempotency-Key": key})

    check_problem(answer, 400, "no-key")
    assert read_bundle(database, bundle.id) == bundle


def test_a_repeat_with_its_key_is_answered_the_same_and_another_body_is_refused(
    host: Client, database: Database, bundle: BundleRead
) -> None:
    key = {"Idempotency-Key": str(uuid4())}
    first = host.post("/api/discards", json=discard(bundle.id), headers=key)

    again = host.post("/api/discards", json=discard(bundle.id), headers=key)
    other = host.post("/api/discards", json=discard(bundle.id, sticks=2), headers=key)

    assert (again.status_code, again.json()) == (201, first.json())
    check_problem(other, 422, "key-reused")
    assert read_bundle(database, bundle.id).on_hand == 11


def test_an_id_that_stands_already_is_refused_under_a_new_key(
    host: Client, database: Database, bundle: BundleRead
) -> None:
    body = discard(bundle.id, id=str(uuid4()))
    host.post("/api/discards", json=body)

    check_problem(host.post("/api/discards", json=body), 409, "already-known")

    assert read_bundle(database, bundle.id).on_hand == 11


def test_the_same_key_of_two_people_is_two_deeds(
    client: Callable[[str], Client], database: Database, bundle: BundleRead
) -> None:
    key = {"Idempotency-Key": str(uuid4())}

    for who in ("host", "steward"):
        assert client(who).post("/api/discards", json=discard(bundle.id), headers=key).status_code == 201

    assert read_bundle(database, bundle.id).on_hand == 10


# -- versions ------------------------------------------------------------------------------------------------------------


def test_an_edit_says_which_version_it_read(host: Client, database: Database, bundle: BundleRead) -> None:
    address = f"/api/bundles/{bundle.id}"
    etag = host.get(address).headers["ETag"]
    assert re.fullmatch(
        rf'"v{bundle.version}-[0-9a-f]{{32}}"', etag
    )  # the version, and what the answer tells
    assert etag_of(bundle.version) == f'"v{bundle.version}"'

    unread = host.patch(address, json={"note": "a"})
    changed = host.patch(address, json={"note": "b"}, headers={"If-Match": etag})
    stale = host.patch(address, json={"note": "c"}, headers={"If-Match": etag})
    nonsense = host.patch(address, json={"note": "d"}, headers={"If-Match": '"7"'})

    check_problem(unread, 428, "no-version")
    assert (changed.status_code, changed.headers["ETag"]) == (200, etag_of(bundle.version + 1))
    check_problem(stale, 412, "stale")
    check_problem(nonsense, 412, "stale")
    assert read_bundle(database, bundle.id).note == "b"


# -- shapes and sizes ------------------------------------------------------------------------------------------------------


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("content", [b'{"bundle_id": "\xff\xfe"}', b'{"sticks": 1', b"\x00\x01", b"not json"])
def test_a_body_that_is_not_json_in_utf8_is_unreadable(host: Client, content: bytes) -> None:
    answer = host.post("/api/discards", content=content, headers={"Content-Type": "application/json"})

    check_problem(answer, 400, "unreadable")


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize(
    ("change", "at"),
    [
        ({"sticks": 0}, "body.sticks"), ({"sticks": 10_001}, "body.sticks"), ({"sticks": "many"}, "body.sticks"),
        ({"bundle_id": "K7M2"}, "body.bundle_id"), ({"stikcs": 1}, "body.stikcs"), ({"reason": "x" * 301}, "body.reason"),
        ({"reason": "a\x00b"}, "body.reason"), ({"done_at": "2026-02-14T10:00:00"}, "body.done_at"),
        ({"done_at": "0001-01-01T00:00:00Z"}, "body.done_at"),
    ],
)  # fmt: skip
def test_a_value_that_cannot_be_used_is_named(
    host: Client, database: Database, bundle: BundleRead, change: dict[str, Any], at: str
) -> None:
    answer = host.post("/api/discards", json={**discard(bundle.id), **change})

    body = check_problem(answer, 422, "unusable")
    assert at in [wrong["at"] for wrong in body["errors"]]
    assert read_bundle(database, bundle.id) == bundle


@pytest.mark.parametrize(
    "words", ['‘Ashmead’s’ "Kernel"', "🍏🪓", "שלום עולם", "x" * 300, "'; drop table bundle; --"]
)
def test_words_of_every_script_are_kept_as_they_were_sent(
    host: Client, bundle: BundleRead, words: str
) -> None:
    answer = host.post("/api/discards", json=discard(bundle.id, reason=words))

    assert answer.status_code == 201
    assert host.get(f"/api/bundles/{bundle.id}/moves").json()["items"][-1]["reason"] == words


@pytest.mark.databases("sqlite")
def test_twenty_one_megabytes_are_refused_told_or_untold(host: Client) -> None:
    def untold() -> Iterator[bytes]:
        for _ in range(21):
            yield b"x" * 1_000_000

    told = host.post("/api/discards", content=b"x" * 21_000_000)
    streamed = host.post("/api/discards", content=untold(), headers={"Transfer-Encoding": "chunked"})

    check_problem(told, 413, "too-large")
    check_problem(streamed, 413, "too-large")


@pytest.mark.databases("sqlite")
def test_every_answer_carries_safe_headers_and_a_number_of_its_own(host: Client) -> None:
    first, second = host.get("/api/bundles"), host.get("/api/no-such-thing")

    for answer in (first, second):
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert "default-src 'self'" in answer.headers["Content-Security-Policy"]
    assert first.headers["X-Request-Id"] != second.headers["X-Request-Id"]
    check_problem(second, 404, "not-found")


# -- the families ------------------------------------------------------------------------------------------------------------


def _families() -> list[type[errors.Problem]]:
    return [
        each
        for each in vars(errors).values()
        if isinstance(each, type) and issubclass(each, errors.Problem) and each is not errors.Problem
    ]


@pytest.mark.parametrize("family", _families())
def test_every_family_has_its_status_and_stands_in_the_tree(family: type[errors.Problem]) -> None:
    status = status_of(family("why"))

    assert status in {*STATUS.values()}
    line = next(line for line in (errors.__doc__ or "").splitlines() if f" {family.__name__} " in line)
    assert f"({status})" in line


def test_a_problem_tells_its_facts_and_what_to_do() -> None:
    problem = errors.Refused(
        "Only seven.", todo="Count again.", field="sticks", lift="/trees/7/leave", on_hand=7
    )

    assert problem_body(problem) == {
        "type": "/problems/refused", "title": "This cannot be done now", "status": 409, "detail": "Only seven.",
        "outcome": "Nothing was written.", "todo": "Count again.",
        "field": "sticks", "lift": "/trees/7/leave", "facts": {"on_hand": 7}, "errors": [],
    }  # fmt: skip
