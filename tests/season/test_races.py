"""Many hands reach for the last sticks at once: the record gives out what is there, once."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any
from uuid import UUID, uuid4

import pytest
from fastapi import FastAPI

from service.bundles.actions import discard_sticks
from service.bundles.rules import MoveKind, NotEnoughSticks, StoppedBundle
from service.bundles.schemas import BundleRead, DiscardCreate
from service.exchange import actions
from service.exchange.schemas import HandOverCreate, ReturnCreate, SplitCreate, TableBackCreate
from service.lib.database import Database
from service.lib.errors import Problem
from service.lib.write import Writer
from tests.builders.bundles import (
    Cutting,
    audit_of,
    bind,
    make_bundle,
    make_cutting,
    moves_of,
    read_bundle,
    settle,
)
from tests.infra.cast import Cast
from tests.infra.web import Client

TAKERS = 40
HANDS = 10


@pytest.fixture
def cutting(writer: Writer, cast: Cast) -> Cutting:
    made = make_cutting(writer, cast.steward)
    settle(writer, made.orchard.area_id, cast.guest_id)
    return made


@pytest.fixture
def bundle(writer: Writer, cast: Cast, cutting: Cutting) -> BundleRead:
    return make_bundle(writer, cast.steward, cutting, 12)


def at_once(takers: int, do: Callable[[int], Any]) -> list[Any]:
    """Do it so many times by ten hands that begin together; gives answers and refusals."""
    ready = threading.Barrier(HANDS)

    def one(n: int) -> Any:
        if n < HANDS:
            ready.wait(30)
        try:
            return do(n)
        except Problem as problem:
            return problem

    with ThreadPoolExecutor(HANDS) as pool:
        return list(pool.map(one, range(takers)))


def tally(results: list[Any]) -> Counter[str]:
    return Counter(type(each).__name__ if isinstance(each, Exception) else "won" for each in results)


def one_stick(bundle_id: UUID, to: UUID) -> list[HandOverCreate]:
    return [HandOverCreate(bundle_id=bundle_id, sticks=1, form="flag", party_id=to)]


def test_forty_who_reach_for_twelve_sticks_get_twelve(
    writer: Writer, database: Database, cast: Cast, bundle: BundleRead
) -> None:
    results = at_once(
        TAKERS,
        lambda _n: writer.write_now(actions.hand_over, cast.steward, one_stick(bundle.id, cast.guest_id)),
    )

    assert tally(results) == {"won": 12, "NotEnoughSticks": 28}
    assert read_bundle(database, bundle.id).on_hand == 0
    assert len({result[0].bundle.id for result in results if isinstance(result, list)}) == 12
    assert audit_of(database).clean


def test_different_deeds_on_the_same_sticks_never_use_one_twice(
    writer: Writer, database: Database, cast: Cast, bundle: BundleRead
) -> None:
    ways: list[Callable[[], Any]] = [
        lambda: writer.write_now(actions.hand_over, cast.steward, one_stick(bundle.id, cast.guest_id)),
        lambda: writer.write_now(actions.split_bundles, cast.steward, [SplitCreate(bundle_id=bundle.id, sticks=1)]),
        lambda: writer.write_now(discard_sticks, cast.steward, DiscardCreate(bundle_id=bundle.id, sticks=1, reason="dry")),
        lambda: writer.write_now(
            actions.hand_over, cast.steward, [HandOverCreate(bundle_id=bundle.id, sticks=1, form="table")]
        ),
    ]  # fmt: skip

    results = at_once(TAKERS, lambda n: ways[n % 4]())

    assert tally(results) == {"won": 12, "NotEnoughSticks": 28}
    assert audit_of(database).clean


def test_forty_repeats_of_one_request_hand_one_stick_over(
    writer: Writer, database: Database, cast: Cast, bundle: BundleRead
) -> None:
    body = one_stick(bundle.id, cast.guest_id)

    results = at_once(
        TAKERS, lambda _n: writer.write_now(actions.hand_over, cast.steward, body, key="the-same-key")
    )

    assert tally(results) == {"won": TAKERS}
    assert {result[0].bundle.id for result in results} == {body[0].child_id}
    assert read_bundle(database, bundle.id).on_hand == 11
    assert audit_of(database).clean


def test_the_same_deed_under_many_keys_is_done_once(
    writer: Writer, database: Database, cast: Cast, bundle: BundleRead
) -> None:
    body = one_stick(bundle.id, cast.guest_id)

    results = at_once(
        TAKERS, lambda n: writer.write_now(actions.hand_over, cast.steward, body, key=f"key-number-{n}")
    )

    assert tally(results) == {"won": 1, "AlreadyKnown": TAKERS - 1}
    assert read_bundle(database, bundle.id).on_hand == 11
    assert audit_of(database).clean


def test_no_more_comes_back_from_the_table_than_went_out_whoever_counts(
    writer: Writer, database: Database, cast: Cast, bundle: BundleRead
) -> None:
    writer.write_now(
        actions.hand_over, cast.steward, [HandOverCreate(bundle_id=bundle.id, sticks=8, form="table")]
    )

    results = at_once(
        20,
        lambda _n: writer.write_now(
            actions.count_back, cast.steward, TableBackCreate(bundle_id=bundle.id, sticks=1)
        ),
    )

    assert tally(results) == {"won": 8, "NothingAtTable": 12}
    assert read_bundle(database, bundle.id).on_hand == 12
    assert audit_of(database).clean


def test_a_bundle_comes_back_once(writer: Writer, database: Database, cast: Cast, bundle: BundleRead) -> None:
    handed = writer.write_now(actions.hand_over, cast.steward, one_stick(bundle.id, cast.guest_id))
    child = handed[0].bundle

    results = at_once(
        HANDS,
        lambda _n: writer.write_now(actions.return_bundle, cast.steward, ReturnCreate(bundle_id=child.id)),
    )

    assert tally(results) == {"won": 1, "NotHandedOver": HANDS - 1}
    assert [move.kind for move in moves_of(database, child.id)].count(MoveKind.RETURNED) == 1


def test_nothing_is_taken_after_a_stop_was_answered(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    """Half of them come as they come; the others when the stop was answered, so that some surely come too late."""
    bundle = make_bundle(writer, cast.steward, cutting, 200)
    on_hand_when_stopped: list[int] = []
    stopped = threading.Event()

    def take_or_stop(n: int) -> Any:
        if n == HANDS // 2:
            bind(writer, cast.steward, bundle.id)
            on_hand_when_stopped.append(read_bundle(database, bundle.id).on_hand)
            stopped.set()
            return None
        if n >= TAKERS // 2:
            stopped.wait(30)
        return writer.write_now(actions.hand_over, cast.steward, one_stick(bundle.id, cast.guest_id))

    results = at_once(TAKERS, take_or_stop)

    assert read_bundle(database, bundle.id).on_hand == on_hand_when_stopped[0]
    assert all(isinstance(each, StoppedBundle) for each in results[TAKERS // 2 :])
    assert {type(each) for each in results if isinstance(each, Exception)} == {StoppedBundle}
    assert audit_of(database).clean


def test_those_who_lock_many_bundles_in_any_order_all_come_through(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    bundles = [make_bundle(writer, cast.steward, cutting, TAKERS) for _ in range(4)]

    def from_all(n: int) -> Any:
        order = bundles if n % 2 else list(reversed(bundles))
        body = [HandOverCreate(bundle_id=b.id, sticks=1, form="flag", party_id=cast.guest_id) for b in order]
        return writer.write_now(actions.hand_over, cast.steward, body)

    results = at_once(TAKERS, from_all)

    assert tally(results) == {"won": TAKERS}
    assert {read_bundle(database, b.id).on_hand for b in bundles} == {0}
    assert audit_of(database).clean


def test_over_http_forty_takers_hear_twelve_times_yes_and_twenty_eight_times_why_not(
    app: FastAPI, client: Callable[[str], Client], database: Database, cast: Cast, bundle: BundleRead
) -> None:
    host = client("host")

    def ask(_n: int) -> Any:
        body = [{"bundle_id": str(bundle.id), "sticks": 1, "party_id": str(cast.guest_id)}]
        return host.post("/api/hand-overs", json=body)

    answers = at_once(TAKERS, ask)

    assert Counter(answer.status_code for answer in answers) == {201: 12, 409: 28}
    refused = next(answer.json() for answer in answers if answer.status_code == 409)
    assert refused["type"] == f"/problems/{NotEnoughSticks.slug()}"
    assert refused["facts"]["free"] == 0
    assert audit_of(database).clean


def test_over_http_a_commit_that_fails_is_told_as_not_saved(
    app: FastAPI, client: Callable[[str], Client], database: Database, cast: Cast, bundle: BundleRead
) -> None:
    def no_disk(point: str) -> None:
        if point == "before commit":
            raise OSError("no space left")

    key, host = str(uuid4()), client("host")
    body = [{"bundle_id": str(bundle.id), "sticks": 1, "party_id": str(cast.guest_id)}]
    app.state.writer.reached = no_disk

    lost = host.post("/api/hand-overs", json=body, headers={"Idempotency-Key": key})
    on_hand = read_bundle(database, bundle.id).on_hand
    app.state.writer.reached = lambda _point: None
    saved = host.post("/api/hand-overs", json=body, headers={"Idempotency-Key": key})

    assert (lost.status_code, lost.headers["Content-Type"]) == (503, "application/problem+json")
    assert "its key keeps it from counting twice" in lost.json()["todo"]
    assert (on_hand, saved.status_code) == (12, 201)
    assert read_bundle(database, bundle.id).on_hand == 11


@pytest.mark.databases("sqlite")
def test_over_http_a_failing_trigger_at_the_ledger_leaves_no_half_of_a_hand_over(
    app: FastAPI, client: Callable[[str], Client], database: Database, cast: Cast, bundle: BundleRead
) -> None:
    with database.writing_session() as session:
        session.connection().exec_driver_sql(
            "create trigger full_disk before insert on stick_move begin select raise(rollback, 'disk full'); end"
        )
        session.commit()
    body = [{"bundle_id": str(bundle.id), "sticks": 1, "party_id": str(cast.guest_id)}]

    answer = client("host").post("/api/hand-overs", json=body)

    assert answer.status_code >= 400
    assert read_bundle(database, bundle.id) == bundle
    with database.writing_session() as session:
        session.connection().exec_driver_sql("drop trigger full_disk")
        session.commit()
    assert client("host").post("/api/hand-overs", json=body).status_code == 201
    assert audit_of(database).bundles == 2
