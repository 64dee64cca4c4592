"""Everything written about wood, trees and stores may be written for somebody else, and says so."""

from __future__ import annotations

import re
from datetime import date
from uuid import UUID

import pytest

from service.members import actions
from service.members.rules import PartyKind, Role
from service.members.schemas import PartyCreate
from service.pages.acting import COOKIE
from service.pages.render import STATIC
from tests.builders.members import OFFICE, make_asker, make_party
from tests.builders.trees import make_orchard, make_tree
from tests.pages.desk import fresh

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
    "lists/one.html": "how a list is read and answered writes nothing; taking it asks for whom",
    "store/reading_file.html": "a file that is thrown away was never in the record; all else asks for whom",
    "stopping/stop.html": "the health steward decides and tells in their own name",
    "labels/labels.html": "a printed sheet belongs to nobody",
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

    assert f'<option value="{last.id}">Guest 209 (guest)</option>' in page  # to write for
    assert '<option value="Guest 209 (guest)">' in page  # to look after the tree


@pytest.mark.parametrize(
    ("typed", "told_on"), [("amylo", "amylo"), ("twigs die & drip", "twigs%20die%20%26%20drip")]
)
def test_a_part_of_a_name_is_no_finding(as_, orchard, typed, told_on):
    tree, _ = orchard
    host = as_(Role.HOST)
    told = {**fresh(host.get(f"/trees/{tree}/look")), "kind": "leaf", "result": "symptom", "agent": typed}

    answer = host.post(f"/trees/{tree}/look", data=told)

    assert answer.headers["location"].endswith(f"&agent={told_on}")
