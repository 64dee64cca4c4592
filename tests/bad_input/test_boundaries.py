"""A receiver across a plant-health boundary: refused until the authority's answer is recorded, then let through."""

from __future__ import annotations

from typing import Any
from uuid import UUID

import httpx
import pytest

from service.members.rules import CrossesArea
from tests.bad_input.desk import Club, Json, check_page, check_problem
from tests.builders.bundles import settle

PERMIT = "PH 26/104"


@pytest.fixture
def far_guest(club: Club) -> str:
    """Somebody who lives in the other area."""
    (made,) = club.made("/parties", [{"kind": "guest", "name": "Nella Far"}])
    settle(club.writer, club.orchard.other_area_id, UUID(made["id"]))
    return str(made["id"])


def hand_over(club: Club, bundle: Json, to: str, form: str) -> httpx.Response:
    return club.post("/hand-overs", [{"bundle_id": bundle["id"], "sticks": 1, "party_id": to, "form": form}])


def answered(club: Club, *, allows: bool, **told: Any) -> None:
    body = {
        "from_area_id": str(club.orchard.area_id), "to_area_id": str(club.orchard.other_area_id), "reference": PERMIT, "allows": allows,
        "answered_on": "2026-02-01", **told,
    }  # fmt: skip
    club.made("/area-permits", [body], "health_steward")


@pytest.mark.parametrize("form", ["bundle", "flag"])
def test_wood_does_not_cross_without_an_answer(club: Club, far_guest: str, form: str) -> None:
    bundle = club.bundle(5)
    typed = {"sticks": "1", "form": form, "party_id": far_guest, "reason": "asked in autumn"}

    with club.nothing_written():
        answer = hand_over(club, bundle, far_guest, form)
        page = club.submit(f"/hand-over/{bundle['id']}", typed)

    told = check_problem(answer, 409, CrossesArea)
    assert told["detail"] == "No answer of the authority is recorded for wood from North Vale to South Shore."
    assert "Ask the plant-health authority" in told["todo"]
    check_page(
        page,
        409,
        "North Vale to South Shore",
        "Nothing was written.",
        "Ask the plant-health authority",
        keeps=typed,
    )


def test_one_receiver_across_the_boundary_holds_back_the_whole_request(club: Club, far_guest: str) -> None:
    bundle = club.bundle(5)
    near = {"bundle_id": bundle["id"], "sticks": 1, "party_id": str(club.cast.guest_id)}

    with club.nothing_written():
        answer = club.post("/hand-overs", [near, {**near, "party_id": far_guest}])

    check_problem(answer, 409, CrossesArea)


def test_wood_of_a_tree_across_the_boundary_is_neither_cut_nor_grafted_there(fresh_club: Club) -> None:
    club = fresh_club
    bundle = club.bundle(5)
    (far,) = club.made("/sites", [{"name": "South Wall", "area_id": str(club.orchard.other_area_id)}])
    tree_id = club.plant(site_id=UUID(far["id"]))
    graft = {"woods": [{"bundle_id": bundle["id"]}], "stock_tree_id": tree_id}

    with club.nothing_written():
        cut = club.post("/labelled-cuts", [{"cut": {"tree_id": tree_id, "sticks": 2}}])
        grafted = club.post("/grafts", [graft])

    for answer in (cut, grafted):
        assert answer.json()["detail"].startswith("No answer of the authority is recorded"), answer.text
        check_problem(answer, 409, CrossesArea)


def test_once_the_answer_is_recorded_the_same_hand_over_is_done(fresh_club: Club) -> None:
    club = fresh_club
    (made,) = club.made("/parties", [{"kind": "guest", "name": "Nella Far"}])
    settle(club.writer, club.orchard.other_area_id, UUID(made["id"]))
    bundle = club.bundle(5)

    answered(club, allows=False)
    with club.nothing_written():
        refused = hand_over(club, bundle, made["id"], "bundle")
    answered(club, allows=True, answered_on="2026-02-10")
    done = hand_over(club, bundle, made["id"], "bundle")

    assert f"{PERMIT} of 1 February 2026 does not allow" in check_problem(refused, 409, CrossesArea)["detail"]
    assert done.status_code == 201, done.text
    assert club.get(f"/bundles/{bundle['id']}")["on_hand"] == 4
