"""A cut list that was filled in by pencil is entered on one page: every row or none, nothing typed is lost."""

from __future__ import annotations

import re

import pytest

from service.collection import queries
from service.lib.paging import Paging
from service.members.rules import PartyKind, Role
from service.members.signin import SESSION_COOKIE
from tests.bad_input.desk import words_of
from tests.builders.members import make_asker, make_party, make_session
from tests.builders.trees import make_orchard, make_tree, stop
from tests.infra.browser_checks import check_page
from tests.infra.web import live
from tests.pages.desk import fresh


@pytest.fixture
def steward(writer):
    return make_asker(writer, Role.STEWARD)


@pytest.fixture
def ground(writer, steward):
    """A site with a tree that may be cut, one whose owner is asked first, and one of which two sticks may be cut."""
    orchard = make_orchard(writer, steward)
    told = ({}, {"may_cut": "ask"}, {"most_sticks": 2})
    return orchard, [make_tree(writer, steward, orchard, **each) for each in told]


def address_of(ground) -> str:
    return f"/cut/from-paper?site={ground[0].site_id}"


def cuts(database):
    with database.reading() as session:
        return sorted(queries.list_collections(session, Paging()).items, key=lambda cut: cut.tree_number)


def typed(browser, ground, **rows: str) -> dict[str, str]:
    page = browser.get(address_of(ground))
    return {**fresh(page), "site": str(ground[0].site_id), "day": "2026-01-09", **rows}


def test_a_list_is_entered_with_its_own_day_and_hour_for_whom_and_the_marks_beside_their_codes(
    as_, ground, database, writer
):
    orchard, (plain, ask, _) = ground
    pettifer = make_party(writer, "Old Mr Pettifer", PartyKind.GUEST, area_id=orchard.area_id)
    browser = as_(Role.STEWARD, name="Bram Oosterlaan")
    rows = {
        f"sticks.{plain.id}": "12", f"mark.{plain.id}": "A3", f"time.{plain.id}": "14:30", f"stage.{plain.id}": "tight",
        f"sticks.{ask.id}": "4", f"owner_agreed.{ask.id}": "by telephone", "on_behalf_of": str(pettifer.id),
    }  # fmt: skip
    form = typed(browser, ground, **rows)

    saved = browser.post("/cut/from-paper", data=form)
    again = browser.post("/cut/from-paper", data=form)

    assert (saved.status_code, again.status_code) == (303, 303)
    first, second = cuts(database)
    assert [(cut.sticks, cut.stage, f"{cut.done_at:%Y-%m-%d %H:%M}") for cut in (first, second)] == [
        (12, "tight", "2026-01-09 14:30"),
        (4, None, "2026-01-09 12:00"),
    ]
    with database.reading() as session:
        kept = queries.get_collection(session, first.id)
    assert kept.for_party_id == pettifer.id != kept.by_party_id
    told = browser.get(saved.headers["location"])
    assert "on paper: A3" in words_of(told)
    assert "2 cuts are in the record, 16 sticks in all. Written for Old Mr Pettifer." in words_of(told)
    assert len(re.findall(r"[0-9A-Z]{4} [0-9A-Z]{4}", words_of(told))) == 2


def test_one_bad_row_keeps_all_out_and_every_bad_row_says_what_is_wrong(as_, ground, database):
    _, (plain, ask, few) = ground
    browser = as_(Role.STEWARD)
    rows = {
        f"sticks.{plain.id}": "12", f"mark.{plain.id}": "A3", f"sticks.{ask.id}": "4", f"sticks.{few.id}": "5", f"mark.{few.id}": "C1",
    }  # fmt: skip
    form = typed(browser, ground, **rows)

    answer = browser.post("/cut/from-paper", data=form)

    assert answer.status_code == 409
    assert cuts(database) == []
    wrong = dict(re.findall(r'<p class="error" id="sticks\.([0-9a-f-]+)-wrong">(.*?)</p>', answer.text))
    assert set(wrong) == {str(ask.id), str(few.id)}
    assert "to be asked before each cut" in wrong[str(ask.id)]
    assert "at most 2 sticks a season" in wrong[str(few.id)]
    for name, value in rows.items():
        assert re.search(rf'name="{re.escape(name)}"[^>]* value="{value}"', answer.text), name
    mended = form | {f"owner_agreed.{ask.id}": "at the gate", f"sticks.{few.id}": "2"}
    assert browser.post("/cut/from-paper", data=mended).status_code == 303
    assert [cut.sticks for cut in cuts(database)] == [12, 4, 2]


def test_rows_of_one_tree_count_together(as_, ground, database):
    _, (*_, few) = ground
    browser = as_(Role.STEWARD)
    rows = {f"sticks.{few.id}": "2", "sticks.spare1": "1", "number.spare1": str(few.number)}

    answer = browser.post("/cut/from-paper", data=typed(browser, ground, **rows))

    assert answer.status_code == 409
    assert 'id="sticks.spare1-wrong"' in answer.text and f'id="sticks.{few.id}-wrong"' not in answer.text
    assert cuts(database) == []


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ({}, "Say of at least one tree how many sticks were cut."),
        ({"sticks.{tree}": "3", "day": ""}, "The day that stands on the paper."),
        ({"sticks.{tree}": "three"}, "A whole number."),
        ({"mark.{tree}": "A3", "sticks.{tree}": ""}, "How many sticks?"),
        ({"sticks.{tree}": "3", "time.{tree}": "half nine"}, "An hour, like 09:30."),
        ({"sticks.{tree}": "3", "day": "2026-03-01"}, "It is said to be done on"),
        ({"sticks.spare1": "3", "number.spare1": "999"}, "No tree has this number."),
        ({"sticks.gate": "3"}, "Choose one from the list."),
    ],
)
def test_what_cannot_be_used_is_told_at_its_row(as_, ground, database, rows, says):
    _, (plain, *_) = ground
    browser = as_(Role.STEWARD)
    told = {name.format(tree=plain.id): value for name, value in rows.items()}

    answer = browser.post("/cut/from-paper", data={**typed(browser, ground), **told})

    assert answer.status_code in (409, 422)
    assert says in words_of(answer)
    assert cuts(database) == []


def test_wood_of_a_tree_stopped_meanwhile_is_recorded_once_somebody_says_that_it_is_cut(
    as_, ground, database, writer
):
    _, (plain, *_) = ground
    stop(writer, make_asker(writer, Role.HEALTH_STEWARD), plain.id, agent="fire-blight")
    browser = as_(Role.STEWARD)
    form = typed(browser, ground, **{f"sticks.{plain.id}": "3", "day": "2026-02-14"})

    refused = browser.post("/cut/from-paper", data=form)
    told = browser.post("/cut/from-paper", data=form | {f"already_cut.{plain.id}": "true"})

    assert refused.status_code == 409 and "already_cut." in refused.text
    assert told.status_code == 303
    assert "stopped" in words_of(browser.get(told.headers["location"]))


def test_a_sound_list_costs_no_more_statements_for_more_rows(as_, ground, statements):
    _, (plain, ask, _) = ground
    browser = as_(Role.STEWARD)
    one = {f"sticks.{plain.id}": "1"}
    two = one | {f"sticks.{ask.id}": "1", f"owner_agreed.{ask.id}": "yes"}
    sent = []
    for rows in (one, two):
        form, before = typed(browser, ground, **rows), len(statements)
        assert browser.post("/cut/from-paper", data=form).status_code == 303
        sent.append(len(statements) - before)

    assert sent[1] <= sent[0]


@pytest.mark.databases("sqlite")
def test_the_page_has_no_fault_that_axe_knows(app, phone, ground, writer, steward):
    signed_in = make_session(writer, steward)
    with live(app) as address:
        phone.context.add_cookies([{"name": SESSION_COOKIE, "value": signed_in.token, "url": address}])
        for path in (address_of(ground), "/cut/from-paper"):
            phone.goto(address + path)
            check_page(phone)
