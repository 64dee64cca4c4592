"""A guest's slip is entered at the desk on one page: all of it, or none and which row is wrong."""

from __future__ import annotations

import pytest

from service.members.rules import PartyKind, Role
from service.members.signin import SESSION_COOKIE
from service.tags import actions as tag_actions
from service.tags.schemas import LabelledCutCreate
from tests.bad_input.desk import words_of
from tests.builders.bundles import read_bundle
from tests.builders.members import make_asker, make_party, make_session
from tests.builders.trees import make_orchard, make_tree
from tests.infra.browser_checks import check_page
from tests.infra.web import live
from tests.pages.desk import opened, send, told_next

SLIP = "/hand-over/slip"


@pytest.fixture
def steward(writer):
    return make_asker(writer, Role.STEWARD)


@pytest.fixture
def orchard(writer, steward):
    return make_orchard(writer, steward)


@pytest.fixture
def bundles(writer, steward, orchard):
    """Two tagged bundles of twelve and of three sticks."""
    tree = make_tree(writer, steward, orchard)
    body = [
        LabelledCutCreate.model_validate(
            {"cut": {"tree_id": tree.id, "sticks": n}, "bundles": [{"sticks": n}]}
        )
        for n in (12, 3)
    ]
    return [one.bundles[0] for one in writer.write_now(tag_actions.collect_and_label, steward, body)]


@pytest.fixture
def guest(writer, orchard):
    return make_party(writer, "Old Mr Pettifer", PartyKind.GUEST, area_id=orchard.area_id)


def test_a_slip_is_entered_once_with_all_its_rows(as_, bundles, guest, database):
    host = as_(Role.HOST)
    first, second = bundles
    form = opened(
        host, SLIP, party_id=str(guest.id), **{"code.1": first.code, "sticks.1": "2", "code.2": second.code, "sticks.2": "1"}
    )  # fmt: skip

    saved, again = send(host, SLIP, form), send(host, SLIP, form)

    assert again.status_code == 303
    assert "The slip is in the record: 3 sticks." in told_next(host, saved)
    assert [read_bundle(database, each.id).on_hand for each in bundles] == [10, 2]


def test_one_bad_row_keeps_all_out_and_says_which(as_, bundles, guest, database):
    host = as_(Role.HOST)
    first, second = bundles
    typed = {"code.1": first.code, "sticks.1": "2", "code.2": second.code, "sticks.2": "9"}

    answer = send(host, SLIP, opened(host, SLIP, party_id=str(guest.id), **typed))

    assert answer.status_code == 409
    assert 'id="sticks.2-wrong"' in answer.text and 'id="sticks.1-wrong"' not in answer.text
    assert f'value="{first.code}"' in answer.text and 'value="9"' in answer.text
    assert [read_bundle(database, each.id).on_hand for each in bundles] == [12, 3]


@pytest.mark.parametrize(
    ("typed", "at"),
    [
        ({"code.1": "0000 0000", "sticks.1": "1"}, "code.1-wrong"),
        ({"code.1": "", "sticks.1": "1"}, "code.1-wrong"),
        (
            {"sticks.1": "1", "sticks.2": "3"},
            "code.2-wrong",
        ),  # a row whose code was forgotten is never left out
        ({"sticks.1": "many"}, "sticks.1-wrong"),
        ({"day": "", "sticks.1": "1"}, "day-wrong"),
    ],
)
def test_what_cannot_be_used_is_told_at_its_field(as_, bundles, guest, typed, at, database):
    host = as_(Role.HOST)

    answer = send(
        host, SLIP, opened(host, SLIP, party_id=str(guest.id), **{"code.1": bundles[0].code, **typed})
    )

    assert answer.status_code == 422
    assert f'id="{at}"' in answer.text, words_of(answer)
    assert read_bundle(database, bundles[0].id).on_hand == 12


@pytest.mark.databases("sqlite")
def test_the_slip_has_no_fault_that_axe_knows(app, phone, orchard, writer, steward):
    signed_in = make_session(writer, steward)
    with live(app) as address:
        phone.context.add_cookies([{"name": SESSION_COOKIE, "value": signed_in.token, "url": address}])
        phone.goto(address + SLIP)
        check_page(phone)
