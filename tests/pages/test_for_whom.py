"""Everything written about wood, trees and stores may be written for somebody else, and says so."""

from __future__ import annotations

import re
from datetime import date
from uuid import UUID, uuid4

import pytest

from service.members import actions
from service.members.rules import PartyKind, Role
from service.members.schemas import PartyCreate
from service.members.signin import SESSION_COOKIE
from service.pages.acting import COOKIE
from service.pages.render import STATIC
from tests.bad_input.desk import PAGE, typed_in, words_of
from tests.builders.members import OFFICE, make_asker, make_party, make_session, make_token
from tests.builders.trees import make_orchard, make_tree
from tests.infra.browser_checks import check_page
from tests.infra.web import live
from tests.pages.desk import fresh, read, send, told_next

TEMPLATES = STATIC.parent / "templates"
FORM = re.compile(r"<form\b[^>]*>.*?</form>", re.DOTALL)

# Forms that write, but never for somebody else, each with the reason why.
ALONE = {
    "account/sign_in.html": "who signs in is oneself",
    "account/own.html": "one's own sign-ins and tokens",
    "account/contact.html": "one's own name and contact",
    "account/password.html": "one's own password",
    "account/token.html": "one's own token",
    "account/join.html": "whoever was invited comes in",
    "account/invite.html": "whoever invites answers for it",
    "account/invitations.html": "whoever takes an invitation back answers for it",
    "account/roles.html": "whoever gives rights answers for it",
    "account/forget.html": "whoever erases somebody answers for it",
    "account/person_new.html": "the party is named in the form itself",
    "account/person_edit.html": "the party is the one that is changed",
    "account/club.html": "the club's own settings",
    "account/area.html": "the authority's areas are nobody's",
    "account/permit.html": "whoever read the authority's answer answers for it",
    "store/count.html": "the count was begun for somebody; a scan belongs to it",
    "scanning/scan.html": "looks a code up, writes nothing",
    "lists/one.html": "how a list is read and answered writes nothing; taking it asks for whom",
    "sites/air_file.html": "a file that is thrown away was never in the record; all else asks for whom",
    "store/reading_file.html": "a file that is thrown away was never in the record; all else asks for whom",
    "stopping/stop.html": "the health steward decides and tells in their own name",
    "labels/labels.html": "a printed sheet belongs to nobody",
    "labels/blank.html": "a blank tag belongs to nobody",
    "labels/sheets.html": "a sheet of labels belongs to nobody",
    "labels/address.html": "the club's own address",
    "exchange_day/which_bundle.html": "looks a code up, writes nothing",
    "grafting_day/bench.html": "looks a code up, writes nothing",
}


def forms_that_write() -> list[tuple[str, str]]:
    found = []
    for path in sorted(TEMPLATES.rglob("*.html")):
        name = str(path.relative_to(TEMPLATES))
        found += [
            (name, form) for form in FORM.findall(path.read_text(encoding="utf-8")) if "kit.hidden(" in form
        ]
    return found


def test_every_form_that_writes_asks_for_whom_or_has_a_reason_not_to():
    silent = {name for name, form in forms_that_write() if "kit.for_whom(" not in form}

    assert silent == set(ALONE)


def test_every_form_that_posts_carries_its_key():
    bare = [
        path.name
        for path in TEMPLATES.rglob("*.html")
        for form in re.findall(r"<form\b[^>]*method=\"post\"[^>]*>.*?</form>", path.read_text(), re.DOTALL)
        if "kit.hidden(" not in form
        and path.name != "problem.html"  # sends again what was typed, key and all
    ]

    assert bare == []


@pytest.fixture
def orchard(writer):
    collector = make_asker(writer, Role.COLLECTOR)
    ground = make_orchard(writer, collector)
    pettifer = make_party(writer, "Old Mr Pettifer", PartyKind.GUEST)
    return make_tree(writer, collector, ground).id, pettifer.id


def test_a_look_for_a_guest_names_both_and_the_guest_is_offered_again(as_, orchard):
    tree, pettifer = orchard
    host = as_(Role.HOST, name="Bram Oosterlaan")
    page = host.get(f"/trees/{tree}/look")
    assert "me, Bram Oosterlaan" in page.text
    told = {**fresh(page), "kind": "leaf", "result": "healthy", "on_behalf_of": str(pettifer)}

    saved = host.post(f"/trees/{tree}/look", data=told)

    assert saved.status_code == 303
    record = host.get(f"/trees/{tree}").text
    assert re.search(r"by <bdi>Bram Oosterlaan</bdi> for <bdi>Old Mr Pettifer</bdi>", record)
    assert chosen(host.get("/store/box")) == pettifer


def test_choosing_oneself_again_ends_it(as_, orchard):
    tree, pettifer = orchard
    host = as_(Role.HOST)
    for whom in (str(pettifer), ""):
        page = host.get(f"/trees/{tree}/look")
        host.post(
            f"/trees/{tree}/look",
            data={**fresh(page), "kind": "leaf", "result": "healthy", "on_behalf_of": whom},
        )

    assert chosen(host.get("/store/box")) is None
    assert COOKIE not in host.cookies


def test_whom_somebody_wrote_for_is_not_offered_to_the_next_at_the_same_browser(as_, orchard):
    _, pettifer = orchard
    host, other = as_(Role.HOST), as_(Role.STEWARD)
    other.cookies.set(COOKIE, f"{UUID(int=7).hex}.{pettifer}")

    assert chosen(other.get("/store/box")) is None
    assert chosen(host.get("/store/box")) is None


def test_whoever_was_forgotten_since_is_offered_no_more(as_, orchard, writer):
    tree, pettifer = orchard
    host = as_(Role.HOST)
    told = {"kind": "leaf", "result": "healthy", "on_behalf_of": str(pettifer)}
    host.post(f"/trees/{tree}/look", data={**fresh(host.get(f"/trees/{tree}/look")), **told})
    assert chosen(host.get("/store/box")) == pettifer

    writer.write_now(actions.erase_party, make_asker(writer, Role.ADMINISTRATOR), pettifer, date(2030, 2, 14))

    page = host.get("/store/box")
    assert chosen(page) is None
    assert str(pettifer) not in page.text


def test_whoever_was_forgotten_since_stands_in_no_field_either_where_names_are_typed(as_, many, writer):
    tree, pettifer, *_ = many
    host = as_(Role.HOST)
    look_for(host, tree, "Old Mr Pettifer")
    assert "Written for somebody else" in host.get("/store/box").text

    writer.write_now(actions.erase_party, make_asker(writer, Role.ADMINISTRATOR), pettifer, date(2030, 2, 14))

    page = host.get("/store/box").text
    assert not any(typed_in(page)["on_behalf_of"])
    assert str(pettifer) not in page
    assert "Written for somebody else" not in page


def test_who_may_not_act_for_others_is_not_asked(as_):
    member = as_(Role.MEMBER)

    assert "on_behalf_of" not in member.get("/bench").text


def chosen(page) -> UUID | None:
    part = re.search(r'<select[^>]*name="on_behalf_of".*?</select>', page.text, re.DOTALL)
    assert part is not None
    found = re.search(r'<option value="([^"]+)" selected', part[0])
    return UUID(found[1]) if found else None


def test_everybody_is_offered_however_many_the_club_knows(writer, as_, orchard):
    guests = [PartyCreate(name=f"Guest {number:03}", kind=PartyKind.GUEST) for number in range(210)]
    writer.write_now(actions.add_parties, OFFICE, guests[:200])
    last = writer.write_now(actions.add_parties, OFFICE, guests[200:])[-1]

    page = as_(Role.STEWARD).get("/trees/new").text

    assert last.name == "Guest 209"
    assert page.count('<option value="Guest 209 (guest)">') == 2  # to write for, to look after the tree


@pytest.fixture
def many(writer, orchard):
    """More people than anybody looks through: among them namesakes, and names that begin alike."""
    names = [
        *(f"Guest {number:02}" for number in range(12)),
        "Bo Fenwick",
        "Bo Fenwick",
        "Wren Ashgrove",
        "Wrenna Marlow",
    ]
    people = [PartyCreate(name=name, kind=PartyKind.MEMBER) for name in names]
    return [*orchard, *writer.write_now(actions.add_parties, OFFICE, people)]


def look_for(host, tree, whom: str):
    told = {
        **fresh(read(host, f"/trees/{tree}/look")),
        "kind": "leaf",
        "result": "healthy",
        "on_behalf_of": whom,
    }
    return send(host, f"/trees/{tree}/look", told)


@pytest.mark.parametrize("typed", ["Old Mr Pettifer (guest)", "old mr  PETTIFER", "Óld Mr Pettifer"])
def test_among_many_a_name_is_typed_and_stands_in_the_field_again(as_, many, typed):
    tree, pettifer, *_ = many
    host = as_(Role.HOST, name="Bram Oosterlaan")

    saved = look_for(host, tree, typed)

    assert "Written for Old Mr Pettifer." in told_next(host, saved)
    assert "for <bdi>Old Mr Pettifer</bdi>" in host.get(f"/trees/{tree}").text
    again = typed_in(host.get("/store/box").text)
    assert again["on_behalf_of"] == ["Old Mr Pettifer (guest)"]
    assert 'name="on_behalf_of" list="for-list"' in host.get("/store/box").text
    assert host.cookies[COOKIE].endswith(str(pettifer))


@pytest.mark.parametrize(
    ("typed", "told"),
    [("Nobody Known", "Nobody goes by “Nobody Known”."), ("ettifer", "Nobody goes by “ettifer”."),
     ("Bo Fenwick", "“Bo Fenwick” can be several: Bo Fenwick (member) · 1 of 2, Bo Fenwick (member) · 2 of 2."),
     ("wren", "“wren” is nobody’s whole name. Was this meant: Wren Ashgrove, Wrenna Marlow?"),
     ("Pettif", "“Pettif” is nobody’s whole name. Was this meant: Old Mr Pettifer (guest)?"),
     ("P", "“P” is nobody’s whole name. Was this meant: Old Mr Pettifer (guest)?"),
     ("of 2", "Nobody goes by “of 2”.")],
)  # fmt: skip
def test_a_name_that_nobody_or_several_go_by_writes_nothing_and_is_put_right_where_it_is_told(
    as_, many, typed, told
):
    tree, *_ = many
    host = as_(Role.HOST, name="Bram Oosterlaan")

    refused = look_for(host, tree, typed)

    assert refused.status_code == 422
    assert told in words_of(refused) and "Nothing was written." in words_of(refused)
    assert "Bram Oosterlaan</bdi>" not in host.get(f"/trees/{tree}").text.partition("<main")[2]
    form = {
        name: values[0] for name, values in typed_in(refused.text.partition("<main")[2]).items() if values
    }
    assert (form["kind"], form["result"], form["on_behalf_of"]) == ("leaf", "healthy", typed)
    mended = send(
        host,
        f"/trees/{tree}/look",
        {**form, **fresh(refused), "on_behalf_of": "Bo Fenwick (member) · 2 of 2"},
    )
    assert "Written for Bo Fenwick." in told_next(host, mended)


def test_a_file_that_was_chosen_cannot_be_kept_so_its_form_is_gone_back_to(as_, many):
    steward = as_(Role.STEWARD)
    told = {**fresh(read(steward, "/lists")), "sort": "trees", "on_behalf_of": "Nobody Known"}

    refused = steward.post(
        "/lists", data=told, files={"file": ("a.csv", b"Variety\nGala\n", "x")}, headers=PAGE
    )

    assert refused.status_code == 422
    assert "Nobody goes by “Nobody Known”" in words_of(refused) and "Go back one page" in words_of(refused)
    assert "Send it again" not in words_of(refused)


def test_one_s_own_name_is_oneself(as_, many):
    tree, *_ = many
    host = as_(Role.HOST, name="Bram Oosterlaan")

    assert "Written for" not in told_next(host, look_for(host, tree, "Bram Oosterlaan"))
    assert COOKIE not in host.cookies


def test_a_program_s_form_is_its_own_whatever_the_field_says_and_is_told_so(browser, orchard, writer):
    """A token says for whom it asks by a header alone."""
    tree, pettifer = orchard
    program = browser()
    program.headers["Authorization"] = f"Bearer {make_token(writer, make_asker(writer, Role.HOST)).token}"
    told = {"form_key": str(uuid4()), "kind": "leaf", "result": "healthy", "on_behalf_of": str(pettifer)}

    saved = program.post(f"/trees/{tree}/look", data=told)

    assert saved.status_code == 303, saved.text
    assert "Written%20for" not in saved.headers.get("set-cookie", "")
    assert "for <bdi>Old Mr Pettifer</bdi>" not in program.get(f"/trees/{tree}").text


def test_who_may_not_act_for_others_learns_nobody_s_name_so(as_, many):
    tree, *_ = many
    member = as_(Role.MEMBER)
    key = fresh(read(member, "/bench"))

    answers = [
        send(
            member, f"/trees/{tree}/look", {**key, "kind": "leaf", "result": "healthy", "on_behalf_of": typed}
        )
        for typed in ("Bo Fenwick", "Nobody Known")
    ]

    assert [answer.status_code for answer in answers] == [403, 403]
    assert words_of(answers[0]) == words_of(answers[1])


@pytest.mark.databases("sqlite")
def test_for_whom_is_typed_on_a_phone_without_a_fault_that_axe_knows(app, phone, many, writer):
    tree, *_ = many
    signed_in = make_session(writer, make_asker(writer, Role.HOST))
    with live(app) as address:
        phone.context.add_cookies([{"name": SESSION_COOKIE, "value": signed_in.token, "url": address}])
        phone.goto(f"{address}/trees/{tree}/look")
        phone.click("main .for-whom summary")
        phone.fill("main [name=on_behalf_of]", "Nobody Known")
        phone.check("main [name=kind][value=leaf]", force=True)
        phone.check("main [name=result][value=healthy]", force=True)
        check_page(phone)
        phone.click("main form button.main")
        assert "Nobody goes by" in phone.inner_text("main")
        check_page(phone)
        phone.fill("main [name=on_behalf_of]", "Wren Ashgrove")
        phone.click("main form button")
        phone.wait_for_url(f"{address}/trees/{tree}")

        assert "Written for Wren Ashgrove." in phone.inner_text("main")


@pytest.mark.parametrize(
    ("typed", "told_on"), [("amylo", "amylo"), ("twigs die & drip", "twigs%20die%20%26%20drip")]
)
def test_a_part_of_a_name_is_no_finding(as_, orchard, typed, told_on):
    tree, _ = orchard
    host = as_(Role.HOST)
    told = {**fresh(host.get(f"/trees/{tree}/look")), "kind": "leaf", "result": "symptom", "agent": typed}

    answer = host.post(f"/trees/{tree}/look", data=told)

    assert answer.headers["location"].endswith(f"&agent={told_on}")
