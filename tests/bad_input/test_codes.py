"""A code with a wrong check sign is told apart from one that nobody here has, wherever codes are taken."""

from __future__ import annotations

from collections.abc import Callable
from uuid import uuid4

import httpx
import pytest

from service.lib.codes import ALPHABET, group_code, is_code, make_code
from service.tags.rules.words import MistypedCode, UnknownTag
from tests.bad_input.desk import PAGE, Club, Json, check_page, check_problem


@pytest.fixture
def bundle(club: Club) -> Json:
    return club.bundle()


def slip(code: str) -> str:
    """The code with its last sign misread: its check sign does not fit."""
    other = next(sign for sign in ALPHABET if sign != code[-1])
    assert not is_code(code[:-1] + other)
    return code[:-1] + other


# Every place of the API that takes a code: how to send one there.
API: dict[str, Callable[[Club, Json, str], httpx.Response]] = {
    "the answer of a scan": lambda club, _, code: club.browser("stranger").get(f"/api/tags/{code}/answer"),
    "the address on the tag": lambda club, _, code: club.browser("stranger").get(f"/T/{code}"),
    "a tag": lambda club, _, code: club.browser("host").get(f"/api/tags/{code}"),
    "a tag that was lost": lambda club, _, code: club.browser("host").post(f"/api/tags/{code}/replacement"),
    "put away": lambda club, _, code: club.post("/put-away", [{"code": code, "out": True}]),
    "put away into": lambda club, b, code: club.post("/put-away", [{"bundle_id": b["id"], "into_code": code}]),
    "wood of a graft": lambda club, _, code: club.post(
        "/grafts", [{"woods": [{"code": code}], "rootstock_id": str(club.orchard.m9_id)}]
    ),
    "stock of a graft": lambda club, b, code: club.post(
        "/grafts", [{"woods": [{"bundle_id": b["id"]}], "stock_code": code}]
    ),
    "labels": lambda club, _, code: club.post("/label-sheets", {"codes": [code], "sheet": "a4-3x7"}),
}  # fmt: skip


@pytest.mark.parametrize("where", API)
def test_a_wrong_check_sign_is_told_with_the_code_that_was_meant(
    club: Club, bundle: Json, where: str
) -> None:
    with club.nothing_written():
        answer = API[where](club, bundle, slip(bundle["code"]))

    told = check_problem(answer, 422, MistypedCode, changing=answer.request.method == "POST")
    assert "check sign" in told["detail"]
    assert f"Was {group_code(bundle['code'])} meant?" in told["detail"]
    assert told["facts"]["suggestion"] == bundle["code"]


@pytest.mark.parametrize("where", API)
def test_a_sound_code_that_nobody_here_has_is_told_as_unknown(club: Club, bundle: Json, where: str) -> None:
    code = make_code()

    with club.nothing_written():
        answer = API[where](club, bundle, code)

    told = check_problem(answer, 404, UnknownTag, changing=answer.request.method == "POST")
    assert group_code(code) in told["detail"]


def test_no_correction_is_offered_where_none_is_known(club: Club) -> None:
    code = slip(make_code())

    told = check_problem(club.browser().get(f"/api/tags/{code}/answer"), 422, MistypedCode, changing=False)

    assert "meant" not in told["detail"]
    assert "suggestion" not in told["facts"]


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("", "none were given"), ("7K3P", "A code has 8 signs; 4 were given"), ("7K3P 9M2*", "“*”, the 8th sign"),
        ("א" * 8, "“א”, the 1st sign"),
    ],
    ids=["nothing", "too short", "a sign never used", "another script"],
)  # fmt: skip
def test_signs_that_are_no_code_say_which_one_is_wrong(club: Club, typed: str, says: str) -> None:
    with club.nothing_written():
        answer = club.post("/put-away", [{"code": typed, "out": True}])

    assert says in check_problem(answer, 422, MistypedCode)["detail"]


# -- pages -----------------------------------------------------------------------------------------------------------


def test_the_page_of_a_mistyped_code_offers_the_right_one_by_a_tap(club: Club, bundle: Json) -> None:
    page = club.browser("stranger").get(f"/T/{slip(bundle['code'])}", headers=PAGE)

    check_page(
        page, 422, "This code was mistyped", f"Was {group_code(bundle['code'])} meant?", "sign by sign"
    )
    assert f'href="/T/{bundle["code"]}"' in page.text


def test_the_page_of_an_unknown_code_says_so(club: Club) -> None:
    page = club.browser("stranger").get(f"/T/{make_code()}", headers=PAGE)

    check_page(page, 404, "No tag of this club carries this code", "another club's tag")


# Every form with a field for a code: its address, the field, and the other fields of that form.
FORMS = {
    "hand over": ("/hand-over", "code", {}),
    "bench": ("/bench", "code", {}),
    "put away": ("/store/put-away", "things", {"into": "out:", "note": "top shelf"}),
    "stock": ("/bench/graft/{bundle}", "stock_code", {"sticks": "1", "grafts": "2", "plants": "0", "note": "at the wall"}),
}  # fmt: skip


@pytest.mark.parametrize("where", FORMS)
def test_a_form_marks_a_mistyped_and_an_unknown_code_and_keeps_what_was_typed(
    club: Club, bundle: Json, where: str
) -> None:
    address, name, rest = FORMS[where]
    address = address.format(bundle=bundle["id"])

    for typed, status, says in (
        (slip(bundle["code"]), 422, f"Was {group_code(bundle['code'])} meant?"),
        (make_code(), 404, "No tag of this club carries this code"),
    ):
        with club.nothing_written():
            page = club.submit(address, {name: typed, **rest})

        check_page(page, status, says, "Nothing was written.", at=name, keeps={name: typed, **rest})


def test_a_mistyped_code_in_the_search_is_told_with_the_right_one(club: Club, bundle: Json) -> None:
    page = club.browser().get(f"/look-up?q={slip(bundle['code'])}", headers=PAGE, follow_redirects=True)

    check_page(page, 422, f"Was {group_code(bundle['code'])} meant?")


def test_a_tag_of_the_wrong_kind_is_told_at_its_field(club: Club) -> None:
    store = club.made(
        "/stores", {"name": f"Cellar {uuid4().hex[:5]}", "host_id": str(club.cast.host.party_id)}
    )

    with club.nothing_written():
        page = club.submit("/hand-over", {"code": store["code"]})

    check_page(page, 422, "This tag is not on a bundle.", at="code", keeps={"code": store["code"]})
