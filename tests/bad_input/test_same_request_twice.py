"""The same request twice, with the same body and with another; a known id under a new key; a form tapped twice."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from uuid import uuid4

import pytest

from service.lib.errors import AlreadyKnown, KeyReused, NoKey
from tests.bad_input.desk import Club, Json, check_page, check_problem


def bodies(club: Club) -> dict[str, tuple[Json, Json]]:
    """Requests that each bring an id of their own, and the same with one thing changed."""
    bundle, place = club.bundle(20), str(uuid4())
    own = {"bundle_id": bundle["id"], "sticks": 2}
    wood = {
        "woods": [{"bundle_id": bundle["id"]}],
        "rootstock_id": str(club.orchard.m9_id),
        "id": str(uuid4()),
    }
    cut = {"id": str(uuid4()), "tree_id": club.tree_id, "sticks": 3}
    return {
        "/splits": ([{**own, "id": str(uuid4()), "child_id": str(uuid4())}], [{"sticks": 3}]),
        "/hand-overs": (
            [{**own, "id": str(uuid4()), "child_id": str(uuid4()), "party_id": str(club.cast.guest_id)}], [{"sticks": 3}],
        ),
        "/discards": ({**own, "id": str(uuid4()), "reason": "dry"}, {"reason": "mould"}),
        "/given-outside": ({**own, "id": str(uuid4()), "area_id": str(club.orchard.area_id)}, {"sticks": 1}),
        "/recounts": ({"id": str(uuid4()), "bundle_id": bundle["id"], "counted": 9, "reason": "counted"}, {"counted": 8}),
        "/grafts": ([wood], [{"grafts": 3}]),
        "/collections": ([cut], [{"sticks": 4}]),
        "/put-away": ([{"id": str(uuid4()), "bundle_id": bundle["id"], "out": True}], [{"note": "on the table"}]),
        "/stores": ({"id": place, "name": f"Cellar {place[:6]}", "host_id": str(club.cast.host.party_id)}, {"note": "cold"}),
        "/parties": ([{"id": str(uuid4()), "kind": "guest", "name": "Ida Rask"}], [{"name": "Ida Rusk"}]),
    }  # fmt: skip


PATHS = (
    "/splits", "/hand-overs", "/discards", "/given-outside", "/recounts", "/grafts", "/collections", "/put-away", "/stores", "/parties",
)  # fmt: skip


def changed(body: Json, change: Json) -> Json:
    return [{**body[0], **change[0]}] if isinstance(body, list) else {**body, **change}


@pytest.mark.parametrize("path", PATHS)
def test_a_repeat_gets_the_first_answer_and_another_body_is_refused(club: Club, path: str) -> None:
    body, change = bodies(club)[path]
    key = {"Idempotency-Key": str(uuid4())}
    first = club.made(path, body, headers=key)

    with club.nothing_written():
        again = club.post(path, body, headers=key)
        other = club.post(path, changed(body, change), headers=key)
        known = club.post(path, body)

    assert (again.status_code, again.json()) == (201, first)
    assert "new Idempotency-Key" in check_problem(other, 422, KeyReused)["todo"]
    check_problem(known, 409, "name-in-use" if path == "/stores" else AlreadyKnown)


def test_the_same_key_with_another_deed_is_refused(club: Club) -> None:
    bundle, key = club.bundle(5), {"Idempotency-Key": str(uuid4())}
    body = {"bundle_id": bundle["id"], "sticks": 1, "reason": "dry"}
    club.made("/discards", body, headers=key)

    with club.nothing_written():
        answer = club.post("/given-outside", body, headers=key)

    check_problem(answer, 422, KeyReused)


def test_a_refusal_leaves_its_key_free_for_the_mended_request(club: Club) -> None:
    bundle, key = club.bundle(5), {"Idempotency-Key": str(uuid4())}
    body = {"bundle_id": bundle["id"], "sticks": 6, "reason": "dry"}
    with club.nothing_written():
        assert club.post("/discards", body, headers=key).status_code == 409

    club.made("/discards", {**body, "sticks": 5}, headers=key)

    assert club.get(f"/bundles/{bundle['id']}")["on_hand"] == 0


def test_a_change_without_a_key_is_refused(club: Club) -> None:
    body = {"bundle_id": club.bundle(5)["id"], "sticks": 1, "reason": "dry"}

    with club.nothing_written():
        answer = club.post("/discards", body, headers={"Idempotency-Key": ""})

    check_problem(answer, 400, NoKey)


# -- forms -----------------------------------------------------------------------------------------------------------


def test_a_form_tapped_twice_is_done_once(club: Club) -> None:
    bundle = club.bundle(9)
    form = {"form_key": str(uuid4()), "sticks": "2", "form": "flag", "party_id": str(club.cast.guest_id)}
    ready = threading.Barrier(2)

    def tap(_n: int) -> int:
        ready.wait(20)
        return club.submit(f"/hand-over/{bundle['id']}", form).status_code

    with ThreadPoolExecutor(2) as pool:
        heard = list(pool.map(tap, range(2)))

    assert heard == [303, 303]
    assert club.get(f"/bundles/{bundle['id']}")["on_hand"] == 7


def test_a_guest_of_a_form_tapped_twice_is_recorded_once(club: Club) -> None:
    bundle, name = club.bundle(9), f"Ida {uuid4().hex[:6]}"
    form = {
        "form_key": str(uuid4()), "sticks": "2", "form": "flag", "guest": name, "guest_area": str(club.orchard.area_id),
    }  # fmt: skip

    for _ in range(2):
        assert club.submit(f"/hand-over/{bundle['id']}", form).status_code == 303

    assert club.get("/parties", q=name)["count"] == 1
    assert club.get(f"/bundles/{bundle['id']}")["on_hand"] == 7


def test_a_form_sent_again_with_something_changed_says_so_and_keeps_what_was_typed(club: Club) -> None:
    bundle = club.bundle(9)
    form = {"form_key": str(uuid4()), "sticks": "2", "form": "table", "reason": "the hall"}
    assert club.submit(f"/hand-over/{bundle['id']}", form).status_code == 303

    with club.nothing_written():
        page = club.submit(f"/hand-over/{bundle['id']}", {**form, "sticks": "3"})

    check_page(
        page,
        422,
        "The same key came with another body",
        "Nothing was written.",
        keeps={"sticks": "3", "reason": "the hall"},
    )


@pytest.mark.parametrize("key", ["x", "k" * 300, "00000000-0000-0000-0000-00000000000g", "\u202e"])
def test_a_damaged_form_says_to_load_the_page_again(club: Club, key: str) -> None:
    bundle = club.bundle(9)

    with club.nothing_written():
        page = club.submit(f"/hand-over/{bundle['id']}", {"form_key": key, "sticks": "1", "form": "table"})

    check_page(page, 422, "This form is damaged", "Nothing was written.", "Load the page again")
