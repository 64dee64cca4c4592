"""A list of wood of which the record refuses rows: its page tells each, what lifts it, and offers to leave it out.

The club, its people and its trees are invented.
"""

from __future__ import annotations

import re

import pytest

from service.members import actions as member_actions
from service.members.rules import Role
from service.members.schemas import PartyCreate
from service.members.signin import SESSION_COOKIE
from tests.bad_input.desk import PAGE, words_of
from tests.builders.members import make_asker, make_session
from tests.builders.trees import change, make_orchard, make_tree
from tests.infra.browser_checks import check_page
from tests.infra.web import live
from tests.pages.desk import fresh, opened, read, send, told_next

TABLE = "Variety,Kind,Sticks,Cut on,Tree,How the owner agreed\n"


@pytest.fixture
def steward(writer):
    return make_asker(writer, Role.STEWARD)


@pytest.fixture
def tree(writer, steward):
    return make_tree(writer, steward, make_orchard(writer, steward), may_cut="ask")


def sent(browser, text: str, sort: str = "wood") -> str:
    page = read(browser, "/lists")
    told = {**fresh(page), "sort": sort}
    answer = browser.post("/lists", data=told, files={"file": ("wood.csv", text.encode(), "x")}, headers=PAGE)
    assert answer.status_code == 303, words_of(answer)
    return answer.headers["location"]


def cut(tree, agreed: str = "") -> str:
    return f"Gala,Apple,6,2026-01-17,{tree.number},{agreed}\n"


def test_rows_that_the_record_refuses_are_told_with_what_lifts_them_and_can_be_left_out(as_, tree):
    steward = as_(Role.STEWARD)
    path = sent(steward, TABLE + cut(tree, "on the telephone") + cut(tree))
    assert "Leave out" not in words_of(read(steward, path))

    refused = send(steward, f"{path}/take", opened(steward, path))
    words = words_of(refused)
    left = send(steward, f"{path}/take", {**opened(steward, path), "leave_refused": "true"})

    assert refused.status_code == 409
    assert "Rows that the record refuses" in words and "Line 3" in words
    assert f'href="/trees/{tree.id}/may-cut?back=' in refused.text
    assert "write down how the owner agreed" in words and "owner_agreed" not in words
    assert "Leave out the 1 row that cannot be used" in words
    assert "1 bundle is in the record" in told_next(steward, left)


def test_where_every_row_is_refused_each_reason_is_told_though_rows_may_be_left_out(as_, tree):
    steward = as_(Role.STEWARD)
    path = sent(steward, TABLE + cut(tree) + cut(tree))

    refused = send(steward, f"{path}/take", {**opened(steward, path), "leave_refused": "true"})

    words = words_of(refused)
    assert refused.status_code == 409
    assert "Line 2" in words and "Line 3" in words and "who is to be asked before each cut" in words
    assert refused.text.count(f'href="/trees/{tree.id}/may-cut?back=') == 2
    assert "It refuses every row" in words and "Leave out" not in words


def test_whose_area_is_missing_is_told_before_the_take_and_after_it_by_name_with_the_page_that_mends_it(
    as_, writer, tree, client
):
    steward = as_(Role.STEWARD)
    bo = writer.write_now(
        member_actions.add_parties, make_asker(writer, Role.STEWARD), [PartyCreate(name="Bo Fenwick")]
    )[0]
    table = "Variety,Kind,Sticks,Cut on,Plant-health area,Handed to\nGala,Apple,6,2026-01-17,North Vale,\n"
    path = sent(steward, table + "Gala,Apple,6,2026-01-17,North Vale,Bo Fenwick\n")

    page = read(steward, path)
    refused = send(steward, f"{path}/take", opened(steward, path))

    words = words_of(page)
    assert words.count("Your own plant-health area is not recorded") == 1
    assert words.count("The plant-health area of Bo Fenwick is not recorded") == 1
    links = re.findall(r'href="/people/([^/"]+)/edit\?back=/lists/', page.text.replace("%2F", "/"))
    assert len(links) == 2 and str(bo.id) in links
    assert refused.status_code == 409
    told = words_of(refused).partition("Rows that the record refuses")[2]
    assert told.count("Your own plant-health area is not recorded; the wood is of North Vale.") == 2
    assert "on your page, then do this again" in told


def test_wood_handed_to_somebody_without_an_area_names_them(as_, writer, tree):
    steward = as_(Role.STEWARD)
    asker = make_asker(writer, Role.STEWARD)
    writer.write_now(member_actions.add_parties, asker, [PartyCreate(name="Bo Fenwick")])
    path = sent(steward, f"Sticks,Cut on,Tree,Handed to\n6,2026-01-17,{tree.number},Bo Fenwick\n")
    change(writer, asker, tree, may_cut="yes")

    refused = send(steward, f"{path}/take", opened(steward, path))

    assert "The plant-health area of Bo Fenwick is not recorded; the wood is of North Vale." in words_of(
        refused
    )
    assert "Choose Bo Fenwick’s plant-health area on their page" in words_of(refused)


def test_what_a_list_of_wood_brought_is_said_to_be_corrected_not_gone(as_, tree):
    steward = as_(Role.STEWARD)
    path = sent(steward, TABLE + cut(tree, "on the telephone"))
    assert send(steward, f"{path}/take", opened(steward, path)).status_code == 303

    back = send(steward, f"{path}/take-back", {**opened(steward, path), "reason": "the wrong file"})

    words = told_next(steward, back)
    assert "what it brought is corrected to nothing, and the ledger keeps every line" in words
    assert "1 bundle is counted to nothing" in words and "is gone" not in words


@pytest.mark.databases("sqlite")
def test_what_was_chosen_in_a_form_below_another_is_there_again_after_a_refusal_was_lifted(
    app, phone, writer, steward, tree, as_
):
    browser = as_(Role.STEWARD)
    (bo,) = writer.write_now(member_actions.add_parties, steward, [PartyCreate(name="Bo Fenwick")])
    path = sent(browser, TABLE + cut(tree, "on the telephone") + cut(tree))
    signed_in = make_session(writer, make_asker(writer, Role.STEWARD))
    with live(app) as address:
        phone.context.add_cookies([{"name": SESSION_COOKIE, "value": signed_in.token, "url": address}])
        phone.goto(address + path)
        take = f"main form[action='{path}/take']"
        phone.click(f"{take} button.main")
        phone.evaluate("document.querySelectorAll('main details').forEach((one) => { one.open = true; })")
        phone.select_option(f"{take} [name=on_behalf_of]", str(bo.id))
        first = phone.locator("main form[method=post]").first.get_attribute("action")
        phone.click("main a[data-back] >> nth=0")
        phone.goto(address + path)

        assert first == f"{path}/form"  # another stands above it
        assert phone.input_value(f"{take} [name=on_behalf_of]") == str(bo.id)
        assert phone.inner_text(f"{take} [role=status]") == "What you had typed is here again."
        check_page(phone)
