"""A refusal for area, rights or the owner's word leads to the one form that lifts it, filled in, and back: refused, lifted, allowed."""

from __future__ import annotations

import html
import re
from uuid import uuid4

import pytest

from service.collection.schemas import CollectionCreate
from service.members.rules import PartyKind, Role
from service.members.signin import SESSION_COOKIE
from service.tags.actions import collect_and_label
from service.tags.schemas import LabelledCutCreate
from tests.bad_input.desk import words_of
from tests.builders.bundles import cut_again, make_bundle
from tests.builders.members import make_asker, make_party, make_session
from tests.builders.trees import make_orchard, make_site, make_tree
from tests.infra.browser_checks import check_page
from tests.infra.web import live
from tests.pages.desk import opened, send

ALL = (Role.STEWARD, Role.HEALTH_STEWARD, Role.COLLECTOR)


@pytest.fixture
def steward(writer):
    return make_asker(writer, *ALL)


@pytest.fixture
def orchard(writer, steward):
    return make_orchard(writer, steward)


@pytest.fixture
def everybody(as_):
    """Somebody who may do all that lifts a refusal, and takes what stands in no area."""
    return as_(*ALL)


def refused(browser, path: str, **typed: str):
    """The form sent and refused; gives the link that lifts it."""
    answer = send(browser, path, opened(browser, path, **typed))
    assert answer.status_code == 409, words_of(answer)
    links = [
        html.unescape(each) for each in re.findall(r'<a class="press" href="([^"]+back=[^"]+)"', answer.text)
    ]
    assert len(links) == 1, answer.text
    return links[0]


def lifted(browser, link: str, path: str, **typed: str) -> None:
    """The form behind the link saved, which leads back to where the refusal was."""
    answer = send(browser, link.partition("?")[0], opened(browser, link, **typed))
    assert answer.status_code == 303, words_of(answer)
    assert answer.headers["location"] == path


def allowed(browser, path: str, **typed: str) -> None:
    answer = send(browser, path, opened(browser, path, **typed))
    assert answer.status_code == 303, words_of(answer)


@pytest.mark.parametrize(
    ("tree", "sticks", "says"),
    [
        ({"may_cut": "no"}, "3", {"may_cut": "yes"}),
        ({"may_cut": "ask"}, "3", {"may_cut": "yes"}),
        ({"most_sticks": 2}, "3", {"most_sticks": "9"}),
        ({"most_sticks": 2}, "3", {"most_sticks": ""}),
        ({"no_propagation_contract": True}, "3", {"contract": "", "rights_note": "the seller, by letter of 3 January"}),
    ],
    ids=["owner says no", "owner not asked", "more than the owner said", "no limit any more", "contract"],
)  # fmt: skip
def test_what_the_owner_or_the_seller_says_now_lifts_it(
    everybody, orchard, writer, steward, tree, sticks, says
):
    path = f"/cut/{make_tree(writer, steward, orchard, **tree).id}"

    link = refused(everybody, path, sticks=sticks, stage="tight")
    form = opened(everybody, link, **says)
    if "contract" in says:
        form.pop("contract")
    answer = send(everybody, link.partition("?")[0], form)

    assert answer.status_code == 303 and answer.headers["location"] == path, words_of(answer)
    allowed(everybody, path, sticks=sticks, stage="tight")


def test_a_contract_does_not_end_without_words_on_who_agreed(everybody, orchard, writer, steward):
    tree = make_tree(writer, steward, orchard, no_propagation_contract=True)
    form = opened(everybody, f"/trees/{tree.id}/contract")
    form.pop("contract")

    answer = send(everybody, f"/trees/{tree.id}/contract", form)

    assert answer.status_code == 422 and "Who agreed in writing, and when." in words_of(answer)


@pytest.mark.parametrize(
    "says",
    [
        {"protection": "permission", "note": "the breeder, by letter of 3 January, no. 17"},
        {"protection": "free", "register_name": "the national register", "protected_until": ""},
        {"protection": "protected", "protected_until": "2026-02-01"},
    ],
    ids=["permission", "not protected", "expired"],
)
def test_what_is_known_of_the_right_lifts_the_refusal_of_a_protected_variety(
    everybody, orchard, writer, steward, says
):
    path = f"/cut/{make_tree(writer, steward, orchard, cultivar_id=orchard.protected_id).id}"

    link = refused(everybody, path, sticks="3", stage="tight")
    assert opened(everybody, link)["protected_until"] == "2031-03-01"
    lifted(everybody, link, path, **says)

    allowed(everybody, path, sticks="3", stage="tight")


@pytest.mark.parametrize(
    ("says", "wants"),
    [
        ({"protection": "permission", "note": ""}, "Who agreed in writing, when, and under which number."),
        ({"protection": "free", "register_name": ""}, "The register that says so."),
    ],
)
def test_a_right_is_not_lifted_without_words_on_who_said_so(everybody, orchard, says, wants):
    path = f"/varieties/{orchard.protected_id}/rights"

    answer = send(everybody, path, opened(everybody, path, **says))

    assert answer.status_code == 422 and wants in words_of(answer)


ANSWER = {"allows": "true", "reference": "PH 26-117", "answered_on": "2026-02-14"}


def test_the_authoritys_answer_lifts_a_cut_across_a_boundary(as_, orchard, writer, steward):
    browser = as_(*ALL, area_id=orchard.other_area_id)
    path = f"/cut/{make_tree(writer, steward, orchard).id}"

    link = refused(browser, path, sticks="3", stage="tight")
    form = opened(browser, link)
    assert (form["from_area_id"], form["to_area_id"], form["genus"]) == (
        str(orchard.area_id),
        str(orchard.other_area_id),
        "Malus",
    )
    assert "allows" not in form  # whoever read the answer says what it is
    lifted(browser, link, path, **ANSWER)

    allowed(browser, path, sticks="3", stage="tight")


@pytest.fixture
def bundle(writer, steward, orchard):
    return make_bundle(writer, steward, cut_again(writer, steward, orchard))


def test_the_authoritys_answer_lifts_a_hand_over_across_a_boundary(everybody, orchard, writer, bundle):
    guest = make_party(writer, "Old Mr Pettifer", PartyKind.GUEST, area_id=orchard.other_area_id)
    path, typed = f"/hand-over/{bundle.id}", {"party_id": str(guest.id), "sticks": "2", "form": "flag"}

    lifted(everybody, refused(everybody, path, **typed), path, **ANSWER)

    allowed(everybody, path, **typed)


def test_an_answer_that_says_no_lifts_nothing(everybody, orchard, writer, bundle):
    guest = make_party(writer, "Old Mr Pettifer", PartyKind.GUEST, area_id=orchard.other_area_id)
    path, typed = f"/hand-over/{bundle.id}", {"party_id": str(guest.id), "sticks": "2", "form": "flag"}

    lifted(everybody, refused(everybody, path, **typed), path, **ANSWER | {"allows": "false"})

    refused(everybody, path, **typed)


def test_a_receivers_area_lifts_a_hand_over_to_nobody_knows_where(everybody, orchard, writer, bundle):
    guest = make_party(writer, "Old Mr Pettifer", PartyKind.GUEST)
    path, typed = f"/hand-over/{bundle.id}", {"party_id": str(guest.id), "sticks": "2", "form": "flag"}

    link = refused(everybody, path, **typed)
    assert link.startswith(f"/people/{guest.id}/edit?")
    lifted(everybody, link, path, area_id=str(orchard.area_id))

    allowed(everybody, path, **typed)


def test_the_authoritys_answer_lifts_a_graft_across_a_boundary(everybody, orchard, writer, steward, bundle):
    far = make_site(writer, steward, orchard.other_area_id, name="Shore plot").id
    body = {
        "woods": [{"bundle_id": str(bundle.id), "sticks": 1}], "grafts": 1, "plants": 1, "site_id": str(far),
        "stock_as_told": "a seedling",
    }  # fmt: skip

    told = everybody.post("/api/grafts", json=[body]).json()
    lifted(everybody, told["lift"], "/areas", **ANSWER)

    assert told["type"] == "/problems/crosses-area" and "genus=Malus" in told["lift"]
    assert everybody.post("/api/grafts", json=[body]).status_code == 201


def test_the_authoritys_answer_lifts_a_graft_at_the_bench_for_a_far_site(
    everybody, orchard, writer, steward, bundle
):
    far = make_site(writer, steward, orchard.other_area_id, name="Shore plot").id
    path = f"/bench/graft/{bundle.id}"
    typed = {"stock_as_told": "a seedling", "site_id": str(far), "sticks": "1"}

    link = refused(everybody, path, **typed)
    assert "genus=Malus" in link
    lifted(everybody, link, path, **ANSWER)

    allowed(everybody, path, **typed)


def test_the_area_wood_from_outside_grew_in_is_told_on_its_form_and_recorded_where_it_is_not_in_the_list(
    as_, orchard
):
    browser = as_(*ALL, area_id=orchard.area_id)
    typed = {"taxon_id": str(orchard.apple_id), "sticks": "3", "from_whom": "a club over the hills"}

    link = refused(browser, "/receive", **typed)
    assert link.startswith("/areas/new?")
    lifted(browser, link, "/receive", name="Over the hills")

    assert "No answer of the authority is recorded" in words_of(
        send(browser, "/receive", opened(browser, "/receive", **typed, area_id="Over the hills"))
    )
    allowed(browser, "/receive", **typed, area_id=str(orchard.area_id))


def test_each_refused_row_of_a_pencilled_list_leads_to_what_lifts_it_and_back_to_its_site(
    everybody, orchard, writer, steward
):
    trees = [
        make_tree(writer, steward, orchard, **told)
        for told in ({"may_cut": "no"}, {"no_propagation_contract": True}, {})
    ]
    path = f"/cut/from-paper?site={orchard.site_id}"
    typed = {"day": "2026-02-14", **{f"sticks.{tree.id}": "3" for tree in trees}}

    answer = send(everybody, "/cut/from-paper", opened(everybody, path, **typed))

    assert answer.status_code == 409
    links = [html.unescape(each) for each in re.findall(r'href="([^"]+back=[^"]+)"', answer.text)]
    assert [link.partition("?")[0] for link in links] == [
        f"/trees/{trees[0].id}/may-cut",
        f"/trees/{trees[1].id}/contract",
    ]
    lifted(everybody, links[0], path, may_cut="yes")


def test_each_refused_row_of_a_slip_leads_to_what_lifts_it(everybody, orchard, writer, steward):
    cut = CollectionCreate(tree_id=make_tree(writer, steward, orchard).id, sticks=5)
    body = LabelledCutCreate(cut=cut, bundles=[{"sticks": 5}])
    (bundle,) = writer.write_now(collect_and_label, steward, [body])[0].bundles
    guest = make_party(writer, "Old Mr Pettifer", PartyKind.GUEST, area_id=orchard.other_area_id)
    path = "/hand-over/slip"
    typed = {"party_id": str(guest.id), "day": "2026-02-14", "code.1": bundle.code, "sticks.1": "2"}

    link = refused(everybody, path, **typed)

    assert link.startswith("/areas/answers/new?")
    lifted(everybody, link, path, **ANSWER)
    allowed(everybody, path, **typed)


# -- who sees it, and the API ----------------------------------------------------------------------------------------


def test_who_may_not_lift_it_is_told_whom_to_ask_and_is_offered_no_form(
    as_, orchard, writer, steward, bundle
):
    guest = make_party(writer, "Old Mr Pettifer", PartyKind.GUEST, area_id=orchard.other_area_id)
    host, path = as_(Role.HOST), f"/hand-over/{bundle.id}"

    answer = send(host, path, opened(host, path, party_id=str(guest.id), sticks="2", form="flag"))

    assert answer.status_code == 409
    assert "back=" not in answer.text
    assert "health steward" in words_of(answer)


def test_the_api_gives_the_same_address_as_an_extension_member(as_, orchard, writer, steward):
    """RFC 9457, section 3.2: extension members may be added to a problem."""
    tree = make_tree(writer, steward, orchard, may_cut="no")
    body = [{"tree_id": str(tree.id), "sticks": 3, "id": str(uuid4())}]
    browser = as_(*ALL)

    answer = browser.post("/api/collections", json=body)

    assert (answer.status_code, answer.json()["lift"]) == (409, f"/trees/{tree.id}/may-cut")
    assert browser.get("/api/trees/" + str(uuid4())).json()["lift"] == ""


@pytest.mark.parametrize(
    "back", ["https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example"]
)
def test_no_form_leads_to_another_website(everybody, orchard, writer, steward, back):
    tree = make_tree(writer, steward, orchard)
    path = f"/trees/{tree.id}/contract"

    answer = send(everybody, path, opened(everybody, path, back=back))

    assert (answer.status_code, answer.headers["location"]) == (303, "/")


@pytest.mark.databases("sqlite")
def test_the_forms_have_no_fault_that_axe_knows(app, phone, orchard, writer, steward):
    tree = make_tree(writer, steward, orchard, no_propagation_contract=True)
    signed_in = make_session(writer, steward)
    with live(app) as address:
        phone.context.add_cookies([{"name": SESSION_COOKIE, "value": signed_in.token, "url": address}])
        for path in (
            f"/trees/{tree.id}/may-cut",
            f"/trees/{tree.id}/contract",
            f"/varieties/{orchard.protected_id}/rights",
        ):
            phone.goto(address + path)
            check_page(phone)


@pytest.mark.databases("sqlite")
def test_who_goes_to_lift_a_refusal_finds_what_they_had_typed_when_they_come_back(
    app, phone, orchard, writer, steward
):
    tree = make_tree(writer, steward, orchard, may_cut="no", owner_id=make_party(writer, "Ada Corvin").id)
    other = make_tree(writer, steward, orchard)
    signed_in = make_session(writer, steward)
    with live(app) as address:
        phone.context.add_cookies([{"name": SESSION_COOKIE, "value": signed_in.token, "url": address}])
        phone.goto(f"{address}/cut/{tree.id}")
        phone.fill("main [name=sticks]", "7")
        phone.evaluate("document.querySelectorAll('main details').forEach((one) => { one.open = true; })")
        phone.check("main [name=leaves_down][value=true]", force=True)
        phone.fill("main [name=note]", "cut in the rain")
        phone.click("main form button.main")
        phone.click("main a[data-back]")
        phone.check("main [name=may_cut][value=yes]", force=True)
        phone.click("main form button.main")
        phone.wait_for_url(f"**/cut/{tree.id}")

        assert phone.input_value("main [name=sticks]") == "7"
        assert phone.is_checked("main [name=leaves_down][value=true]")
        assert phone.input_value("main [name=note]") == "cut in the rain"
        assert phone.inner_text("main form [role=status]") == "What you had typed is here again."
        check_page(phone)
        phone.goto(f"{address}/cut/{other.id}")
        assert phone.input_value("main [name=note]") == ""
        phone.goto(f"{address}/cut/{tree.id}")
        assert phone.input_value("main [name=note]") == ""
