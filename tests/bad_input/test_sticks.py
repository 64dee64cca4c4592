"""More sticks than there are; two people who reach for the last one."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import httpx
import pytest

from service.bundles.rules import NotEnoughSticks, NothingAtTable
from tests.bad_input.desk import Club, Json, check_page, check_problem
from tests.builders.bundles import audit_of

HAND_OVERS = ("bundle", "flag", "table")


def hand_over(club: Club, bundle: Json, sticks: int, form: str) -> httpx.Response:
    receiver = {} if form == "table" else {"party_id": str(club.cast.guest_id)}
    return club.post("/hand-overs", [{"bundle_id": bundle["id"], "sticks": sticks, "form": form, **receiver}])


def graft(club: Club, bundle: Json, sticks: int) -> httpx.Response:
    wood = {"bundle_id": bundle["id"], "sticks": sticks}
    return club.post("/grafts", [{"woods": [wood], "rootstock_id": str(club.orchard.m9_id)}])


TAKINGS: dict[str, Callable[[Club, Json, int], httpx.Response]] = {
    "split": lambda club, b, n: club.post("/splits", [{"bundle_id": b["id"], "sticks": n}]),
    **{f"hand over: {form}": lambda club, b, n, form=form: hand_over(club, b, n, form) for form in HAND_OVERS},
    "graft": graft,
    "discard": lambda club, b, n: club.post("/discards", {"bundle_id": b["id"], "sticks": n, "reason": "mould"}),
    "give outside": lambda club, b, n: club.post(
        "/given-outside", {"bundle_id": b["id"], "sticks": n, "to_whom": "a fair", "area_id": str(club.orchard.area_id)}
    ),
    "cut to length": lambda club, b, n: club.post(
        "/cuts-to-length", {"bundle_id": b["id"], "sticks_before": n, "sticks_after": n + 1}
    ),
}  # fmt: skip


@pytest.mark.parametrize("how", TAKINGS)
def test_more_sticks_than_are_on_hand_are_refused_with_both_numbers(club: Club, how: str) -> None:
    bundle = club.bundle(7)

    with club.nothing_written():
        answer = TAKINGS[how](club, bundle, 8)

    told = check_problem(answer, 409, NotEnoughSticks)
    assert told["detail"] == "8 sticks asked, but only 7 are free."
    assert (told["facts"]["on_hand"], told["facts"]["asked"], told["facts"]["code"]) == (7, 8, bundle["code"])


def test_several_lines_of_one_request_are_counted_together(club: Club) -> None:
    bundle = club.bundle(7)
    line = {"bundle_id": bundle["id"], "sticks": 4}

    with club.nothing_written():
        answer = club.post("/splits", [line, line])

    assert check_problem(answer, 409, NotEnoughSticks)["facts"]["asked"] == 8


def test_no_more_comes_back_from_the_table_than_went_out(club: Club) -> None:
    bundle = club.bundle(7)
    club.hand_over(bundle, 2, "table")

    with club.nothing_written():
        answer = club.post("/table-counts", {"bundle_id": bundle["id"], "sticks": 3})
        page = club.submit(f"/hand-over/{bundle['id']}/back", {"back": "3"})

    assert check_problem(answer, 409, NothingAtTable)["detail"] == "3 come back, but only 2 are out."
    check_page(
        page, 409, "3 come back, but only 2 are out.", "Nothing was written.", at="back", keeps={"back": "3"}
    )


@pytest.mark.parametrize("sticks", ["0", "-1", "1.5", "many", "10001"])
def test_what_is_no_number_of_sticks_is_told_at_the_field(club: Club, sticks: str) -> None:
    bundle = club.bundle(7)
    form = {"sticks": sticks, "reason": "dry as a bone"}

    with club.nothing_written():
        answer = club.post("/discards", {"bundle_id": bundle["id"], **form})
        page = club.submit(f"/bundles/{bundle['id']}/discard", form)

    told = check_problem(answer, 422, "unusable")
    assert [wrong["at"] for wrong in told["errors"]] == ["body.sticks"]
    check_page(page, 422, "Nothing was written.", "mend the marked fields", at="d1", keeps=form)


# A page's form for each act: its address, what is typed, and the id of the field that is wrong.
FORMS: dict[str, tuple[str, dict[str, str], str]] = {
    "split": ("/bundles/{id}/split", {"sticks": "8"}, "s1"),
    "discard": ("/bundles/{id}/discard", {"sticks": "8", "reason": "mould"}, "d1"),
    "cut to length": ("/bundles/{id}/length", {"sticks_before": "8", "sticks_after": "20"}, ""),
    "hand over": ("/hand-over/{id}", {"sticks": "8", "form": "flag", "guest": "Ida Rask", "reason": "asked in autumn"}, "sticks"),
    "graft": ("/bench/graft/{id}", {"sticks": "8", "grafts": "8", "plants": "8", "stock_as_told": "a seedling"}, "sticks"),
}  # fmt: skip


@pytest.mark.parametrize("which", FORMS)
def test_a_form_says_how_many_there_are_and_keeps_what_was_typed(club: Club, which: str) -> None:
    address, form, at = FORMS[which]
    bundle = club.bundle(7)
    area = {"guest_area": str(club.orchard.area_id)} if "guest" in form else {}

    with club.nothing_written():
        page = club.submit(address.format(id=bundle["id"]), form | area)

    check_page(
        page, 409, "8 sticks asked, but only 7 are free.", "Nothing was written.", at=at, keeps=form | area
    )


def test_a_guest_is_recorded_with_what_they_take(club: Club) -> None:
    bundle = club.bundle(7)
    form = {"sticks": "2", "form": "flag", "guest": "Ida Rask", "guest_area": str(club.orchard.area_id)}

    page = club.submit(f"/hand-over/{bundle['id']}", form)

    assert page.status_code == 303, page.text
    assert club.get(f"/bundles/{bundle['id']}")["on_hand"] == 5


def test_a_guest_whose_area_nobody_knows_is_not_recorded_without_the_wood(club: Club) -> None:
    bundle = club.bundle(7)
    form = {"sticks": "2", "form": "flag", "guest": "Pim Okker"}

    with club.nothing_written():
        page = club.submit(f"/hand-over/{bundle['id']}", form)

    check_page(page, 409, "plant-health area", "Nothing was written.", keeps=form)


# -- the last stick --------------------------------------------------------------------------------------------------


def at_once(*asks: Callable[[], Any]) -> list[Any]:
    ready = threading.Barrier(len(asks))

    def one(ask: Callable[[], Any]) -> Any:
        ready.wait(20)
        return ask()

    with ThreadPoolExecutor(len(asks)) as pool:
        return list(pool.map(one, asks))


@pytest.mark.parametrize("how", [name for name in TAKINGS if name != "cut to length"])
def test_of_two_people_who_take_the_last_stick_one_gets_it_and_the_other_hears_why(
    club: Club, how: str
) -> None:
    for _ in range(3):
        bundle = club.bundle(1)

        answers = at_once(*[lambda b=bundle: TAKINGS[how](club, b, 1)] * 2)

        assert Counter(answer.status_code for answer in answers) == {201: 1, 409: 1}
        (refused,) = (answer for answer in answers if answer.status_code == 409)
        told = check_problem(refused, 409, NotEnoughSticks)
        assert told["detail"] == "1 stick asked, but only 0 are free."
        assert club.get(f"/bundles/{bundle['id']}")["on_hand"] == 0
    assert audit_of(club.database).clean


def test_over_two_phones_one_gets_the_last_stick_and_the_other_page_says_that_none_is_free(
    club: Club,
) -> None:
    bundle = club.bundle(1)
    form = {"sticks": "1", "form": "flag", "party_id": str(club.cast.guest_id)}

    def phone(who: str) -> Callable[[], httpx.Response]:
        return lambda: club.submit(f"/hand-over/{bundle['id']}", form, who)

    pages = at_once(phone("host"), phone("steward"))

    assert sorted(page.status_code for page in pages) == [303, 409]
    (refused,) = (page for page in pages if page.status_code == 409)
    check_page(refused, 409, "only 0 are free", "Nothing was written.", "none free")
    assert audit_of(club.database).clean
