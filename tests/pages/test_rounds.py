"""Rounds past the trees of a site: one tap each, many looks in one act, taken up again another day."""

from __future__ import annotations

import io
import re
from uuid import UUID, uuid4

import pytest
from PIL import Image
from playwright.sync_api import expect

from service.lib.paging import Paging
from service.members.rules import PartyKind, Role
from service.members.signin import SESSION_COOKIE
from service.trees import queries
from tests.bad_input.desk import words_of
from tests.builders.members import make_asker, make_party, make_session
from tests.builders.trees import look, make_orchard, make_tree, read_tree, stop
from tests.infra.browser_checks import check_page
from tests.infra.web import live
from tests.pages.desk import fresh


@pytest.fixture
def steward(writer):
    return make_asker(writer, Role.STEWARD)


@pytest.fixture
def site(writer, steward):
    """An orchard's site with three trees: an apple and a pear in a row, and an apple somewhere."""
    ground = make_orchard(writer, steward)
    told = ({"where_on_site": "row 1, 2"}, {"where_on_site": "row 1, 1", "taxon_id": ground.pear_id}, {})
    trees = [make_tree(writer, steward, ground, **each).id for each in told]
    return ground, trees


def leaf(ground) -> str:
    return f"/sites/{ground.site_id}/round/leaf"


def looks_at(database, tree_id: UUID):
    with database.reading() as session:
        return queries.list_tree_checks(session, Paging(), tree_id).items


def headings(page, title: str) -> list[str]:
    """The trees that stand under a heading."""
    part = page.text.partition(f"<h2>{title}</h2>")[2].partition("</section>")[0]
    return re.findall(r"(?:<legend>|<bdi>)(\d+) · ", part)


def test_what_was_tapped_is_written_in_one_act_and_the_rest_stands_first(as_, site, database):
    ground, (apple, pear, loose) = site
    host = as_(Role.HOST)
    page = host.get(leaf(ground))
    assert headings(page, "Still to see") == ["2", "1", "3"]
    told = {**fresh(page), f"look.{apple}": "healthy", f"look.{pear}": "not_seen"}

    saved = host.post(leaf(ground), data=told)
    again = host.post(leaf(ground), data=told)

    assert (saved.status_code, again.status_code) == (303, 303)
    assert [len(looks_at(database, tree)) for tree in (apple, pear, loose)] == [1, 1, 0]
    page = host.get(leaf(ground))
    assert "2 looks are in the record: 1 healthy, 1 not seen." in page.text
    assert "1 of 3 trees seen in leaf this season" in page.text
    assert headings(page, "Still to see") == ["2", "3"]
    assert "could not be seen on 14 February 2026" in words_of(page)
    assert headings(page, "Seen this season") == ["1"]


def test_a_symptom_asks_what_it_is_and_offers_the_stop_and_a_picture(as_, site, database):
    ground, (apple, pear, _) = site
    host = as_(Role.HOST)
    page = host.get(leaf(ground))
    assert 'list="agents-Malus"' in page.text and 'list="agents-Pyrus"' in page.text
    assert (
        "Erwinia amylovora (fire blight)"
        in page.text.partition('<datalist id="agents-Pyrus">')[2].partition("</datalist>")[0]
    )
    told = {
        f"look.{apple}": "symptom",
        f"agent.{apple}": "fire-blight",
        f"look.{pear}": "healthy",
        f"agent.{pear}": "fire-blight",
    }

    host.post(leaf(ground), data={**fresh(page), **told})

    assert [look.agent for look in looks_at(database, apple)] == ["Erwinia amylovora (fire blight)"]
    assert [look.agent for look in looks_at(database, pear)] == [""]  # a healthy tree has none
    page = host.get(leaf(ground))
    made = looks_at(database, apple)[0].id
    assert (
        f'href="/stops/new?tree={apple}&amp;reason=health&amp;agent=Erwinia%20amylovora%20%28fire%20blight%29"'
        in page.text
    )
    assert f'href="/looks/{made}"' in page.text
    assert page.text.count("Stop this tree") == 1


def test_a_stopped_tree_may_be_looked_at_and_says_that_it_is_stopped(as_, site, writer):
    ground, (apple, *_) = site
    stop(writer, make_asker(writer, Role.HEALTH_STEWARD), apple, agent="fire-blight")
    host = as_(Role.HOST)
    page = host.get(leaf(ground))
    assert "stopped: Erwinia amylovora (fire blight) is suspected, since 14 February 2026" in words_of(page)

    host.post(leaf(ground), data={**fresh(page), f"look.{apple}": "symptom"})

    assert "Stop this tree" not in host.get(leaf(ground)).text


def test_a_fruit_round_takes_its_own_words_and_the_day_of_the_pencilled_sheet(as_, site, database, writer):
    ground, (apple, _, loose) = site
    guest = make_party(writer, "Old Mr Pettifer", PartyKind.GUEST)
    address = f"/sites/{ground.site_id}/round/fruit"
    host = as_(Role.HOST)
    told = {
        f"look.{apple}": "wrong", f"note.{apple}": "red, and a month too early", f"look.{loose}": "true", "seen_on": "2026-01-09",
        "on_behalf_of": str(guest.id),
    }  # fmt: skip

    saved = host.post(address, data={**fresh(host.get(address)), **told})

    assert saved.status_code == 303
    (made,) = looks_at(database, apple)
    assert (made.kind, made.result, made.note, str(made.seen_on)) == (
        "fruit",
        "wrong",
        "red, and a month too early",
        "2026-01-09",
    )
    assert made.for_party_id == guest.id != made.by_party_id
    page = host.get(address)
    assert f"/stops/new?tree={apple}&amp;reason=name" in page.text


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ({}, "Tap what you saw of at least one tree."),
        ({"look.{apple}": "true"}, "A look in leaf cannot say “true”."),
        ({"look.{apple}": "healthy", "seen_on": "2026-03-01"}, "1 March 2026 has not come yet."),
        ({"look.{apple}": "healthy", "look.{stranger}": "healthy"}, "One of these trees does not stand on this site any more."),
        ({"look.gate": "healthy"}, "Choose one from the list."),
    ],
    ids=["nothing tapped", "a word of fruit", "a day to come", "a tree that is not there", "no tree at all"],
)  # fmt: skip
def test_what_cannot_be_written_comes_back_with_every_tap_kept(as_, site, database, told, says):
    ground, (apple, *_) = site
    host = as_(Role.HOST)
    typed = {name.format(apple=apple, stranger=uuid4()): value for name, value in told.items()}
    page = host.get(leaf(ground))

    answer = host.post(leaf(ground), data={**fresh(page), **typed})

    assert answer.status_code in (409, 422)
    assert says in re.sub(r"<[^>]+>", "", answer.text)
    assert "Nothing was written." in answer.text
    assert looks_at(database, apple) == []
    kept = typed.get(f"look.{apple}") == "healthy"
    assert (re.search(rf'name="look\.{apple}" value="healthy" checked', answer.text) is not None) is kept


def test_a_look_page_takes_a_picture_and_takes_the_look_back(as_, site, database, writer, steward):
    _, (apple, *_) = site
    host = as_(Role.HOST)
    page = host.get(f"/trees/{apple}/look")
    host.post(f"/trees/{apple}/look", data={**fresh(page), "kind": "leaf", "result": "symptom"})
    (made,) = looks_at(database, apple)
    sent = io.BytesIO()
    Image.new("RGB", (9, 9), "brown").save(sent, "PNG")
    page = host.get(f"/looks/{made.id}")

    kept = host.post(
        f"/looks/{made.id}/picture", data=fresh(page), files={"picture": ("leaf.png", sent.getvalue(), "image/png")}
    )  # fmt: skip
    no_picture = host.post(
        f"/looks/{made.id}/picture", data=fresh(page), files={"picture": ("leaf.png", b"", "image/png")}
    )  # fmt: skip
    page = host.get(f"/looks/{made.id}")
    shown = re.search(r'<img src="(/api/pictures/[0-9a-f]{64})"', page.text)
    assert kept.status_code == 303
    assert no_picture.status_code == 422
    assert shown is not None and host.get(shown[1]).headers["content-type"] == "image/jpeg"

    back = host.post(f"/looks/{made.id}/taken-back", data=fresh(page))

    assert back.headers["location"] == f"/trees/{apple}"
    assert read_tree(database, apple).last_leaf_check is None
    assert "(taken back)" in host.get(f"/trees/{apple}").text
    assert "Take this look back" not in host.get(f"/looks/{made.id}").text


def test_only_who_wrote_it_is_offered_to_take_a_look_back(as_, site, writer, steward):
    _, (apple, *_) = site
    made = look(writer, steward, apple)

    assert "Take this look back" not in as_(Role.HOST).get(f"/looks/{made.id}").text
    assert "Take this look back" in as_(Role.HEALTH_STEWARD).get(f"/looks/{made.id}").text


# -- the site ----------------------------------------------------------------------------------------------------------


def test_a_site_says_who_opens_the_gate_to_who_works_there_alone(as_, site):
    ground, _ = site
    steward = as_(Role.STEWARD)
    page = steward.get(f"/sites/{ground.site_id}/edit")
    told = {
        **fresh(page), "name": "Long Meadow", "region": "the lower valley", "area_id": str(ground.area_id),
        "gate": "Mrs Odell, the blue door", "directions": "", "note": "",
    }  # fmt: skip

    saved = steward.post(f"/sites/{ground.site_id}/edit", data=told)

    assert saved.headers["location"] == f"/sites/{ground.site_id}"
    assert "Mrs Odell, the blue door" in as_(Role.HOST).get(f"/sites/{ground.site_id}").text
    assert "Mrs Odell" not in as_(Role.MEMBER).get(f"/sites/{ground.site_id}").text
    stale = steward.post(f"/sites/{ground.site_id}/edit", data=told | {"form_key": str(uuid4())})
    assert stale.status_code == 412


@pytest.mark.parametrize(
    ("told", "sentence"),
    [
        ({}, "never seen in leaf"),
        ({"seen_on": "2025-02-13"}, "not seen in leaf since"),
        ({"seen_on": "2025-02-14"}, ""),
        ({"seen_on": "2025-12-01", "result": "not_seen"}, "never seen in leaf"),
    ],
    ids=["never", "over a year", "to the day a year", "could not be seen"],
)
def test_a_tree_that_was_not_seen_says_so_where_it_is_cut(as_, site, writer, steward, told, sentence):
    _, (apple, *_) = site
    if told:
        look(writer, steward, apple, **told)
    pages = [as_(Role.COLLECTOR).get(path).text for path in (f"/cut/{apple}", f"/trees/{apple}")]
    listed = as_(Role.COLLECTOR).get("/cut?q=1").text
    told_of = [sentence in page if sentence else "seen in leaf" not in page for page in [*pages, listed]]

    assert told_of == [True, True, True]


@pytest.mark.databases("sqlite")
def test_a_round_is_walked_on_a_phone_without_a_script(app, chromium, site, writer):
    ground, (apple, *_) = site
    signed_in = make_session(writer, make_asker(writer, Role.HOST))
    with live(app) as address:
        context = chromium.new_context(
            viewport={"width": 390, "height": 844}, is_mobile=True, has_touch=True, java_script_enabled=False
        )
        context.add_cookies([{"name": SESSION_COOKIE, "value": signed_in.token, "url": address}])
        page = context.new_page()
        page.goto(address + leaf(ground))
        agent = page.locator(f'[name="agent.{apple}"]')
        assert not agent.is_visible()
        for value in ("healthy", "symptom", "not_seen"):
            tap = page.locator(f'.chip:has([name="look.{apple}"][value={value}])')
            box = tap.bounding_box()
            assert box is not None and min(box["width"], box["height"]) >= 48
        page.locator(f'.chip:has([name="look.{apple}"][value=symptom])').tap()
        agent.fill("fire blight")
        page.get_by_role("button", name="Save what I tapped").tap()
        expect(page.get_by_text("1 look is in the record: 1 with a symptom.")).to_be_visible()
        expect(page.get_by_role("link", name="Stop this tree")).to_be_visible()
        context.close()


@pytest.mark.databases("sqlite")
def test_a_round_has_no_fault_that_axe_knows(app, phone, site, writer):
    ground, _ = site
    signed_in = make_session(writer, make_asker(writer, Role.HOST))
    with live(app) as address:
        phone.context.add_cookies([{"name": SESSION_COOKIE, "value": signed_in.token, "url": address}])
        for path in (leaf(ground), f"/sites/{ground.site_id}"):
            phone.goto(address + path)
            check_page(phone)
