"""The page for a tree that is not in the record yet, and the one that finishes it."""

from __future__ import annotations

import html
import re
from uuid import UUID

import pytest

from service.members.rules import PartyKind, Role
from tests.builders.members import make_asker, make_party
from tests.builders.trees import make_orchard, make_site, read_tree
from tests.pages.desk import fresh

NEW = "/cut/new-tree"


@pytest.fixture
def ground(writer):
    return make_orchard(writer, make_asker(writer, Role.COLLECTOR))


def told(ground, **more):
    return {"site_id": str(ground.site_id), "name_as_told": "apple by the pump", "taxon_id": "Apple", **more}


def words_of(page):
    main = page.text.partition("<main")[2].partition("</main>")[0]
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", main)).split())


def enter(browser, ground, **more):
    saved = browser.post(NEW, data={**fresh(browser.get(NEW)), **told(ground, **more)})
    assert saved.status_code == 303, words_of(saved)
    return UUID(saved.headers["location"].removeprefix("/cut/"))


def test_a_tree_that_is_not_there_is_entered_and_cut_from_at_once(as_, ground, database):
    collector = as_(Role.COLLECTOR, name="Wenna Holt")
    tree_id = enter(collector, ground)

    form = collector.get(f"/cut/{tree_id}")
    cut = collector.post(
        f"/cut/{tree_id}", data={**fresh(form), "sticks": "6", "wood": "dormant", "stage": "tight"}
    )

    assert "apple by the pump (as told): how many sticks?" in words_of(form)
    assert cut.headers["location"].startswith("/cut/done/")
    assert read_tree(database, tree_id).owner_name == "Wenna Holt"
    assert "entered on the way" in words_of(collector.get(cut.headers["location"]))


def test_it_waits_under_to_finish_and_says_so_on_its_page(as_, ground):
    collector = as_(Role.COLLECTOR)
    tree_id = enter(collector, ground)

    assert f"/trees/{tree_id}/finish" in collector.get("/to-finish").text
    assert "1 tree waits for a few words" in words_of(collector.get("/to-finish"))
    assert "To finish: it was entered on the way." in words_of(collector.get(f"/trees/{tree_id}"))
    assert "to finish" in words_of(collector.get("/trees?unfinished=true"))


def test_a_name_the_catalogue_knows_tells_the_kind(as_, ground, database):
    tree_id = enter(as_(Role.COLLECTOR), ground, name_as_told="victoria", taxon_id="")

    tree = read_tree(database, tree_id)
    assert (tree.taxon_id, tree.cultivar_id, tree.provisional) == (ground.plum_id, ground.victoria_id, True)


@pytest.mark.parametrize(
    ("wrong", "field", "says"),
    [
        ({"name_as_told": ""}, "name_as_told", "what people call it"),
        ({"taxon_id": ""}, "taxon_id", "choose the kind"),
        ({"site_id": ""}, "site_id", "this is needed"),
        ({"owner_id": "nobody like that"}, "owner_id", "nothing in the list"),
        ({"taxon_id": "Quandong"}, "taxon_id", "nothing in the list"),
    ],
    ids=["no name", "no kind", "no site", "no such owner", "no such kind"],
)
def test_what_is_missing_is_told_at_its_field_and_what_was_typed_stays(
    as_, ground, writer, wrong, field, says
):
    make_site(writer, make_asker(writer, Role.STEWARD), ground.area_id)
    collector = as_(Role.COLLECTOR)

    page = collector.post(
        NEW, data={**fresh(collector.get(NEW)), **told(ground, where_on_site="row 4"), **wrong}
    )

    assert page.status_code == 422
    assert f'id="{field}-wrong"' in page.text
    assert says in words_of(page).lower()
    assert 'value="row 4"' in page.text


def test_whose_it_is_may_be_a_new_name_but_not_two(as_, ground, writer, database):
    pettifer = make_party(writer, "Old Mr Pettifer", PartyKind.GUEST)
    collector = as_(Role.COLLECTOR)
    both = {"owner_id": "Old Mr Pettifer", "owner_name": "Mrs Harkaway"}

    page = collector.post(NEW, data={**fresh(collector.get(NEW)), **told(ground, **both)})
    listed = enter(collector, ground, owner_id="Old Mr Pettifer")
    new = enter(collector, ground, owner_name="Mrs Harkaway")

    assert 'id="owner_name-wrong"' in page.text
    assert read_tree(database, listed).owner_id == pettifer.id
    assert read_tree(database, new).owner_name == "Mrs Harkaway"


def test_it_can_be_entered_for_somebody_else_and_is_then_theirs(as_, ground, writer, database):
    pettifer = make_party(writer, "Old Mr Pettifer", PartyKind.GUEST)

    tree_id = enter(as_(Role.COLLECTOR), ground, on_behalf_of=str(pettifer.id))

    assert read_tree(database, tree_id).owner_id == pettifer.id


def finishing(browser, tree_id, **more):
    page = browser.get(f"/trees/{tree_id}/finish")
    kept = {
        name: value for name, value in fresh(page).items() if name in ("form_key", "csrf_token", "version")
    }
    typed = {"site_id": site_of(page), "taxon_id": "Apple", "variety_id": "as_told", **more}
    return browser.post(f"/trees/{tree_id}/finish", data={**kept, **typed})


def site_of(page):
    return re.search(r'name="site_id".*?<option value="([^"]+)" selected', page.text, re.DOTALL)[1]


def test_finishing_gives_the_accepted_name_to_its_wood(as_, ground, database):
    steward = as_(Role.STEWARD)
    tree_id = enter(steward, ground)
    form = steward.get(f"/cut/{tree_id}")
    steward.post(f"/cut/{tree_id}", data={**fresh(form), "sticks": "6", "wood": "dormant"})

    done = finishing(
        steward, tree_id, variety="bramley", reason="compared in fruit", no_propagation_contract="true"
    )
    page = steward.get(done.headers["location"])

    assert done.status_code == 303, words_of(done)
    assert "Finished: ‘Bramley’. 1 of its bundles follow" in words_of(page)
    assert "a contract that forbids propagation" in words_of(page)
    assert not read_tree(database, tree_id).provisional


def test_a_variety_nobody_knows_is_asked_again_with_what_comes_near(as_, ground, database):
    steward = as_(Role.STEWARD)
    tree_id = enter(steward, ground)

    page = finishing(steward, tree_id, variety="Bramlington")

    assert page.status_code == 422
    assert 'id="variety-wrong"' in page.text
    assert 'value="Bramlington"' in page.text
    assert read_tree(database, tree_id).provisional


def test_a_tree_that_is_finished_has_no_form(as_, ground):
    steward = as_(Role.STEWARD)
    tree_id = enter(steward, ground)
    assert finishing(steward, tree_id).status_code == 303

    page = steward.get(f"/trees/{tree_id}/finish")

    assert "Nothing waits here" in words_of(page)
    assert '<form method="post"' not in page.text


def test_without_a_site_the_page_says_what_comes_first(as_, writer):
    page = as_(Role.COLLECTOR).get(NEW)

    assert "First a site" in words_of(page)
