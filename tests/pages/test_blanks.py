"""Blank tags on pages: printed ahead, scanned at the tree, cut under, tied to other things, given up."""

from __future__ import annotations

import re

import pytest

from service.lib.codes import group_code
from service.lib.etags import VARY
from service.members.rules import Role
from service.tags import actions as tags
from service.tags import queries
from service.tags.schemas import BlankBatchCreate, PublicAddressCreate
from tests.bad_input.desk import words_of
from tests.builders.provenance import make_yard
from tests.pages.desk import opened, read, send, told_next

SAYS = "This is a tag of this club, bound to nothing yet."


@pytest.fixture
def yard(writer, cast):
    made = make_yard(writer, cast)
    proposed = writer.write_now(
        tags.propose_address, cast.administrator, PublicAddressCreate(host="TAGS.CLUB.EXAMPLE")
    )
    writer.write_now(tags.confirm_address, cast.administrator, proposed.id)
    return made


@pytest.fixture
def blanks(yard, database):
    batch = yard.writer.write_now(tags.print_blanks, yard.cast.host, BlankBatchCreate(blanks=4))
    with database.reading() as session:
        return queries.list_blanks_left(session, batch.id)


def _form_of(page, action):
    """The fields of the form with this action."""
    form = page.partition(f'action="{action}"')[2].partition("</form>")[0]
    return dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', form))


def test_blank_tags_are_printed_on_the_chosen_sheet_and_counted(as_, yard):
    host = as_(Role.HOST)
    assert '"/labels/blank"' in read(host, "/labels").text
    form = opened(host, "/labels/blank", blanks="12", sheet="letter-3x10", first_label="4")

    saved = send(host, "/labels/blank", form)

    assert saved.status_code == 303
    sheet = read(host, saved.headers["location"]).text
    assert "12 labels to print" in sheet
    page = words_of(read(host, "/labels/blank"))
    assert "12 blank tags are left" in page
    assert "12 tags printed 0 tied on" in page


def test_nothing_is_printed_before_the_address_is_confirmed(as_, writer, cast):
    make_yard(writer, cast)
    host = as_(Role.HOST)
    page = read(host, "/labels/blank").text
    key = "0b9f9f5e-5f0e-4f0e-9d3e-0d5f3c1f2a61"

    form = {"blanks": "3", "sheet": "a4-3x7", "form_key": key}
    refused = host.submit("/labels/blank", form, headers={"Accept": "text/html"})

    assert "Make the blank tags" not in page
    assert refused.status_code == 409
    assert "The public address is not confirmed yet" in words_of(refused)


def test_a_number_out_of_bounds_comes_back_filled_in(as_, yard):
    host = as_(Role.HOST)

    again = send(host, "/labels/blank", opened(host, "/labels/blank", blanks="1001", sheet="letter-3x10"))

    assert again.status_code == 422
    assert "1000 or less" in words_of(again)
    assert 'value="1001"' in again.text
    assert re.search(r'value="letter-3x10" checked', again.text)


def test_a_scan_answers_page_and_json_with_a_mark_each(client, as_, blanks):
    stranger, path = client("stranger"), f"/T/{blanks[0]}"
    page = read(stranger, path)
    told = stranger.get(path, headers={"Accept": "application/json"})

    assert SAYS in words_of(page)
    assert "Tie it to a cut" not in page.text
    assert (told.json()["answer"], told.json()["state"]) == (SAYS, "blank")
    for answer, accept in ((page, "text/html"), (told, "application/json")):
        assert answer.headers["vary"] == VARY
        known = {"Accept": accept, "If-None-Match": answer.headers["etag"]}
        assert stranger.get(path, headers=known).status_code == 304
    assert page.headers["etag"] != told.headers["etag"]
    member = read(as_(Role.MEMBER), path)
    assert SAYS in words_of(member)
    assert "Tie it to a cut" not in member.text


def test_a_scanned_blank_leads_to_the_cut_which_takes_it(as_, yard, blanks):
    collector, code = as_(Role.COLLECTOR), blanks[0]
    bar = read(collector, f"/T/{code}").text.partition('<div class="bar">')[2]
    assert re.findall(r'<a class="press( main)?" href="([^"]+)">([^<]+)</a>', bar)[:2] == [
        (" main", f"/cut?tag={code}", "Tie it to a cut"),
        ("", f"/labels/tie/{code}", "It hangs on something else"),
    ]
    which = read(collector, f"/cut?tag={code}").text
    assert f"blank tag {group_code(code)}" in words_of(read(collector, f"/cut?tag={code}"))
    (tree,) = re.findall(rf'href="(/cut/[0-9a-f-]+\?tag={code})"', which)
    form = opened(collector, tree, sticks="6")
    assert form["code"] == code

    saved = send(collector, tree.partition("?")[0], form)

    done = told_next(collector, saved)
    assert "Saved, under the tag it carries" in done
    assert group_code(code) in done
    assert "6 sticks are on hand" in words_of(read(collector, f"/T/{code}"))


def test_a_cut_under_a_tag_that_hangs_elsewhere_says_on_what_and_keeps_what_was_typed(as_, yard, blanks):
    collector, code = as_(Role.COLLECTOR), blanks[0]
    tree = re.findall(r'href="(/cut/[0-9a-f-]{36})', read(collector, f"/cut?tag={code}").text)[0]
    send(collector, tree, opened(collector, f"{tree}?tag={code}", sticks="6"))

    again = send(collector, tree, opened(collector, f"{tree}?tag={code}", sticks="9"))

    assert again.status_code == 409
    assert "hangs on the bundle ‘Gala’" in words_of(again)
    assert re.search(r'name="sticks"[^>]*value="9"', again.text)
    assert re.search(rf'name="code"[^>]*value="{code}"', again.text)


def test_a_tree_met_for_the_first_time_is_cut_under_the_tag_too(as_, yard, blanks):
    collector, code = as_(Role.COLLECTOR), blanks[0]
    (new,) = re.findall(r'href="(/cut/new-tree[^"]*)"', read(collector, f"/cut?tag={code}").text)
    form = opened(
        collector, new.replace("&amp;", "&"), name_as_told="apple by the pump", owner_name="Ivo Lind"
    )
    form["taxon_id"] = "Apple"

    saved = send(collector, "/cut/new-tree", form)

    assert saved.status_code == 303, words_of(saved)
    assert opened(collector, saved.headers["location"])["code"] == code


def test_without_a_tag_the_cut_makes_its_code_as_before(as_, yard, blanks):
    collector = as_(Role.COLLECTOR)
    tree = re.findall(r'href="(/cut/[0-9a-f-]{36})', read(collector, "/cut").text)[0]

    saved = send(collector, tree, opened(collector, tree, sticks="6"))

    assert "Saved. Tie the tag on now" in told_next(collector, saved)
    assert all(SAYS in words_of(read(collector, f"/T/{code}")) for code in blanks)


def test_a_blank_is_tied_to_a_tree_by_its_number_and_to_a_bundle_by_its_code(as_, yard, blanks):
    host = as_(Role.HOST)
    (bundle,) = yard.cut(8)
    on_tree = opened(host, f"/labels/tie/{blanks[0]}", kind="tree", thing="1")
    on_wood = opened(host, f"/labels/tie/{blanks[1]}", kind="bundle", thing=bundle.code.lower())

    told = told_next(host, send(host, f"/labels/tie/{blanks[0]}", on_tree))
    also = told_next(host, send(host, f"/labels/tie/{blanks[1]}", on_wood))

    assert f"{group_code(blanks[0])} is tied on." in told
    assert "8 sticks are on hand" in also
    assert read(host, f"/labels/tie/{blanks[0]}").headers["location"] == f"/T/{blanks[0]}"


@pytest.mark.parametrize(
    ("kind", "thing", "says"),
    [
        ("", "1", "choose what it hangs on"),
        ("tree", "", "type its code, number or name"),
        ("tree", "no such tree", "nothing in the list goes by"),
        ("bundle", "no code", "a code has 8 signs; 6 were given"),
        ("plant", "{other}", "hangs on nothing yet"),
    ],
)
def test_what_it_hangs_on_must_be_known(as_, yard, blanks, kind, thing, says):
    host, path = as_(Role.HOST), f"/labels/tie/{blanks[0]}"
    form = opened(host, path, thing=thing.format(other=blanks[1]), **({"kind": kind} if kind else {}))

    again = send(host, path, form)

    assert again.status_code == 422
    assert says in words_of(again).lower()
    assert SAYS in words_of(read(host, f"/T/{blanks[0]}"))


def test_torn_tags_are_written_down_and_no_longer_left(as_, yard, blanks):
    host = as_(Role.HOST)
    page = read(host, "/labels/blank").text
    codes = f"{group_code(blanks[0])}\nHTTPS://TAGS.CLUB.EXAMPLE/T/{blanks[1]}"
    form = {**_form_of(page, "/labels/blank/given-up"), "codes": codes, "state": "spoiled"}

    saved = send(host, "/labels/blank/given-up", form)

    told = told_next(host, saved)
    assert "2 blank tags are written down as spoiled." in told
    assert "2 spoiled" in told
    assert "2 blank tags are left" in told
    assert "spoiled" in words_of(read(host, f"/T/{blanks[0]}"))


def test_a_mistyped_code_gives_up_none_and_stays_typed(as_, yard, blanks):
    host = as_(Role.HOST)
    page = read(host, "/labels/blank").text
    form = {**_form_of(page, "/labels/blank/given-up"), "codes": f"{blanks[0]}\nABC", "state": "lost"}

    again = send(host, "/labels/blank/given-up", form)

    assert again.status_code == 422
    assert "A code has 8 signs" in words_of(again)
    assert f"{blanks[0]}\nABC" in again.text
    assert "Make the blank tags" in again.text
    assert SAYS in words_of(read(host, f"/T/{blanks[0]}"))
