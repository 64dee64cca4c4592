"""Pages about people: coming in, one's own account, everybody else, the club and its areas."""

from __future__ import annotations

import html
import io
import re
from collections.abc import Callable
from datetime import timedelta
from uuid import uuid4

import pytest
import zxingcpp
from PIL import Image

from service.lib.paging import Paging
from service.members import actions, queries
from service.members.rules import May, Role
from service.members.signin import SESSION_COOKIE
from tests.builders.members import (
    PASSWORD,
    make_area,
    make_asker,
    make_invitation,
    make_party,
    make_permit,
    make_session,
    make_token,
)
from tests.infra.browser_checks import check_page
from tests.infra.web import ORIGIN, Client

NEW_PASSWORD = "a scarf, a saw, a stool"


@pytest.fixture
def browser(app, portal) -> Callable[..., Client]:
    """Somebody's browser: `browser(asker)` signed in, `browser()` a stranger's."""
    opened = []

    def of(signed_in=None):
        cookie = (SESSION_COOKIE, signed_in.token) if signed_in else None
        csrf = signed_in.csrf_token if signed_in else ""
        opened.append(Client(app, portal, cookie=cookie, csrf_token=csrf))
        opened[-1].headers["Accept"] = "text/html"
        return opened[-1]

    yield of
    for one in opened:
        one.close()


@pytest.fixture
def as_(writer, browser):
    """A browser of somebody with these roles: `as_(Role.STEWARD)`."""
    return lambda *roles, **told: browser(make_session(writer, make_asker(writer, *roles, **told)))


def fresh(page):
    """The hidden fields of the first form that asks for something."""
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', page.text)
    return {name: html.unescape(value) for name, value in found}


# -- coming in -----------------------------------------------------------------------------------------------------


def test_nobody_can_sign_in_before_the_first_link_is_used(browser):
    stranger = browser()

    answer = stranger.get("/sign-in", follow_redirects=True)

    assert answer.url.path == "/start"
    assert "Nobody can sign in yet" in answer.text


def test_the_first_link_leads_to_naming_the_club(writer, browser):
    made = writer.write_now(actions.make_first_invitation, None)
    stranger = browser()
    page = stranger.get(made.path)
    typed = {"name": "Jonas Vey", "sign_in_name": "jonas", "password": NEW_PASSWORD}

    answer = stranger.post(made.path, data={**fresh(page), **typed}, follow_redirects=True)

    assert "You will be the first administrator" in page.text
    assert answer.url.path == "/club"
    assert "Name your club" in answer.text
    named = stranger.post(
        "/club",
        data={
            **fresh(answer),
            "name": "Harrow Fen Grafters",
            "short_name": "HARROW FEN",
            "zone": "Europe/Dublin",
            "recall_look_back_winters": "3",
        },
        follow_redirects=True,
    )
    assert named.status_code == 200
    assert "HARROW FEN" in named.text
    assert browser().get("/start", follow_redirects=False).headers["location"] == "/sign-in"


def test_signing_in_goes_on_to_where_one_wanted_to_be(writer, browser):
    make_asker(writer, Role.MEMBER, name="Rafe")
    stranger = browser()
    page = stranger.get("/sign-in", params={"then": "/account"})

    answer = stranger.post("/sign-in", data={**fresh(page), "name": "rafe", "password": PASSWORD})

    assert answer.status_code == 303
    assert answer.headers["location"] == "/account"
    assert stranger.get("/account").status_code == 200


@pytest.mark.parametrize(
    "then",
    [
        "https://elsewhere.test",
        "//elsewhere.test",
        "/\\elsewhere.test",
        "javascript:alert(1)",
        "/sign-in",
        "",
    ],
)
def test_signing_in_never_leads_to_another_website(writer, browser, then):
    make_asker(writer, Role.MEMBER, name="Rafe")

    answer = browser().post("/sign-in", data={"name": "rafe", "password": PASSWORD, "then": then})

    assert answer.headers["location"] == "/"


def test_a_wrong_password_keeps_the_name_and_not_the_password(writer, browser):
    make_asker(writer, Role.MEMBER, name="Rafe")

    answer = browser().post("/sign-in", data={"name": "rafe", "password": "wrong and secret"})

    assert answer.status_code == 401
    assert "The name or the password is not right" in answer.text
    assert 'value="rafe"' in answer.text
    assert "wrong and secret" not in answer.text


def test_an_empty_form_says_what_is_needed(browser):
    answer = browser().post("/sign-in", data={"name": ""})

    assert answer.status_code == 422
    assert answer.text.count("is needed") >= 2


def test_another_website_cannot_sign_anybody_in(writer, browser):
    make_asker(writer, Role.MEMBER, name="Rafe")

    answer = browser().post(
        "/sign-in", data={"name": "rafe", "password": PASSWORD}, headers={"Origin": "https://elsewhere.test"}
    )

    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers


@pytest.mark.parametrize(
    "kind, body",
    [
        (
            "multipart/form-data; boundary=x",
            b'--x\r\nContent-Disposition: form-data; name="name"\r\n\r\n\xff\xfe\r\n--x--\r\n',
        ),
        ("application/x-www-form-urlencoded", b"name=\xff\xfe&password=x"),
        ("application/x-www-form-urlencoded", b"name=J%FCrgen&password=x"),
    ],
)
def test_a_form_that_is_not_utf8_is_refused(browser, kind, body):
    answer = browser().post("/sign-in", content=body, headers={"Content-Type": kind})

    assert answer.status_code == 400
    assert "The form is not UTF-8 text." in answer.text


def test_signing_out_shows_the_door(as_):
    member = as_(Role.MEMBER)

    answer = member.submit("/sign-out", follow_redirects=True)

    assert "You are signed out" in answer.text
    assert member.get("/account").status_code == 401


def test_a_stranger_is_shown_the_way_in(browser):
    answer = browser().get("/account")

    assert answer.status_code == 401
    assert "/sign-in?then=/account" in answer.text


# -- invitations ---------------------------------------------------------------------------------------------------


def test_an_invitation_is_a_letter_whose_symbol_leads_in(as_, browser, phone):
    steward = as_(Role.STEWARD)
    page = steward.get("/people/invite")

    letter = steward.post(
        "/people/invite", data={**fresh(page), "roles": ["member", "host"], "valid_days": "14"}
    )

    assert letter.status_code == 200
    address = re.search(r'id="invitation">([^<]+)<', letter.text)[1]
    assert address.startswith(f"{ORIGIN}/J/")
    symbol = re.search(r"<svg[^>]*aria-label=\"The invitation.*?</svg>", letter.text, re.DOTALL)[0]
    phone.set_content(f"<body style='background:#fff'>{symbol}</body>")
    picture = Image.open(io.BytesIO(phone.locator("svg").screenshot()))
    read = [found.text for found in zxingcpp.read_barcodes(picture)]
    assert [text.lower() for text in read] == [address.lower()]
    path = "/J/" + read[0].split("/J/")[1]
    assert browser().get(path).status_code == 200
    assert address not in steward.get("/people/invitations").text


def test_accepting_signs_in_and_shows_the_account(writer, browser):
    made = make_invitation(writer, make_asker(writer, Role.STEWARD), roles=[Role.MEMBER, Role.COLLECTOR])
    stranger = browser()
    typed = {
        "name": 'Ann "Nan" <b>O\'Hara</b> 🌱', "sign_in_name": "nan", "password": NEW_PASSWORD,
        "contact": "nan@ohara.example", "keep_contact_for_recall": "true",
    }  # fmt: skip

    answer = stranger.post(made.path, data={**fresh(stranger.get(made.path)), **typed}, follow_redirects=True)

    assert answer.url.path == "/account"
    assert "Ann &#34;Nan&#34; &lt;b&gt;O&#39;Hara&lt;/b&gt; 🌱" in answer.text
    assert "<b>O" not in answer.text
    assert "nan@ohara.example" in answer.text


@pytest.mark.parametrize(
    "wrong, words",
    [
        ({"password": "short"}, "too easy to guess"),
        ({"sign_in_name": "EDDA"}, "signs in with this name"),
        ({"name": ""}, "name"),
    ],
)
def test_a_refused_acceptance_keeps_what_was_typed(writer, browser, wrong, words):
    made = make_invitation(writer, make_asker(writer, Role.STEWARD, name="Edda"))
    typed = {"name": "Rafe", "sign_in_name": "rafe", "password": NEW_PASSWORD, "contact": "0191 555", **wrong}

    answer = browser().post(made.path, data=typed)

    assert answer.status_code in {409, 422}
    assert words in answer.text
    assert 'value="0191 555"' in answer.text
    assert NEW_PASSWORD not in answer.text


def test_a_used_link_and_a_guessed_link_say_what_to_do(writer, browser):
    made = make_invitation(writer, make_asker(writer, Role.STEWARD))
    browser().post(made.path, data={"name": "Rafe", "sign_in_name": "rafe", "password": NEW_PASSWORD})

    used, guessed = browser().get(made.path), browser().get("/J/GUESSED")

    assert used.status_code == 409
    assert "works once only" in used.text
    assert guessed.status_code == 404
    assert "ask for a new one" in guessed.text


def test_a_lost_password_is_set_anew_by_a_link(writer, browser, as_):
    asker = make_asker(writer, Role.MEMBER, name="Ivo Tarn")
    steward = as_(Role.STEWARD)
    page = steward.get("/people/invite", params={"party": str(asker.party_id)})
    letter = steward.post("/people/invite", data={**fresh(page), "valid_days": "3"})
    path = "/J/" + re.search(r"/J/(\w+)<", letter.text)[1]
    stranger = browser()

    join = stranger.get(path)
    answer = stranger.post(path, data={**fresh(join), "password": NEW_PASSWORD}, follow_redirects=True)

    assert "A new password for Ivo Tarn" in page.text
    assert "Choose a new password, Ivo Tarn" in join.text
    assert 'name="sign_in_name"' not in join.text
    assert answer.url.path == "/account"
    assert "Ivo Tarn" in answer.text


def test_an_invitation_is_taken_back_from_the_list(writer, as_, browser):
    steward = as_(Role.STEWARD)
    made = make_invitation(writer, make_asker(writer, Role.STEWARD), note="for the saw course")
    listed = steward.get("/people/invitations")

    answer = steward.submit(f"/people/invitations/{made.id}/revoke", follow_redirects=True)

    assert "for the saw course" in listed.text
    assert "is taken back" in answer.text
    assert browser().get(made.path).status_code == 409


# -- one's own account ---------------------------------------------------------------------------------------------


def test_ones_contact_is_changed_and_a_stale_form_is_refused(as_):
    member = as_(Role.MEMBER)
    page = member.get("/account/contact")
    typed = {**fresh(page), "name": "Łucja Wróbel", "contact": "lucja@wrobel.example"}

    saved = member.post("/account/contact", data=typed, follow_redirects=True)
    stale = member.post("/account/contact", data={**typed, "form_key": str(uuid4()), "name": "Late"})

    assert "lucja@wrobel.example" in saved.text
    assert stale.status_code == 412
    assert "It changed since you read it" in stale.text


def test_a_form_sent_twice_is_done_once(as_):
    steward = as_(Role.STEWARD)
    typed = {**fresh(steward.get("/people/new")), "kind": "guest", "name": "Pia Holm"}

    first, again = (steward.post("/people/new", data=typed) for _ in range(2))

    assert first.headers["location"] == again.headers["location"]
    assert "1 fits “pia”" in steward.get("/people", params={"q": "pia"}).text


def test_a_form_without_its_token_changes_nothing(as_):
    member = as_(Role.MEMBER)

    answer = member.post("/account/contact", data={"name": "Stolen", "version": "1"})

    assert answer.status_code == 403
    assert "does not belong to your sign-in" in answer.text
    assert "Stolen" not in member.get("/account").text


def test_the_password_is_changed_and_other_browsers_are_out(writer, browser):
    asker = make_asker(writer, Role.MEMBER)
    here, elsewhere = (browser(make_session(writer, asker)) for _ in range(2))
    typed = {**fresh(here.get("/account/password")), "old_password": PASSWORD, "password": NEW_PASSWORD}

    wrong = here.post("/account/password", data={**typed, "old_password": "not it at all"})
    answer = here.post("/account/password", data=typed, follow_redirects=True)

    assert wrong.status_code == 422
    assert NEW_PASSWORD not in wrong.text
    assert "Your new password counts" in answer.text
    assert elsewhere.get("/account").status_code == 401


def test_browsers_are_listed_and_signed_out_one_by_one(writer, browser):
    asker = make_asker(writer, Role.MEMBER)
    here = browser(make_session(writer, asker, "Firefox on a desk"))
    lost = make_session(writer, asker, "a phone left on a tram")
    listed = here.get("/account")

    answer = here.submit(f"/account/sessions/{lost.id}/end", follow_redirects=True)

    assert "a phone left on a tram" in listed.text
    assert "a phone left on a tram" not in answer.text
    assert browser(lost).get("/account").status_code == 401


def test_everywhere_means_here_too(as_):
    member = as_(Role.MEMBER)

    member.submit("/account/sign-out-everywhere")

    assert member.get("/account").status_code == 401


def test_a_token_is_shown_once_and_revoked(as_, app, portal):
    host = as_(Role.HOST)
    page = host.get("/account/tokens/new")
    typed = {**fresh(page), "name": "scales in the cellar", "scopes": ["read", "store"], "days": "30"}

    made = host.post("/account/tokens/new", data=typed)
    again = host.post("/account/tokens/new", data=typed)

    assert "people" not in re.findall(r'name="scopes" value="([^"]+)"', page.text)
    token = re.search(r'id="token"[^>]*value="([^"]+)"', made.text)[1]
    assert again.status_code == 409
    account = host.get("/account").text
    assert "scales in the cellar" in account
    assert "17 Mar 2026" in account
    assert token not in account
    script = Client(app, portal)
    script.headers["Authorization"] = f"Bearer {token}"
    assert script.get("/api/session").json()["may"] == ["read", "store"]
    revoke = re.search(r"/account/tokens/[^/]+/revoke", account)[0]
    host.submit(revoke)
    assert script.get("/api/session").status_code == 401
    script.close()


def test_a_token_opens_no_page_of_the_account(writer, app, portal):
    script = Client(app, portal)
    script.headers["Authorization"] = (
        f"Bearer {make_token(writer, make_asker(writer, Role.HOST), May.READ).token}"
    )

    assert script.get("/account").status_code == 403
    script.close()


# -- people --------------------------------------------------------------------------------------------------------


def test_people_are_found_without_accents(writer, as_):
    make_party(writer, "Łucja Wróbel")
    make_party(writer, "Tea Rosén")
    steward = as_(Role.STEWARD)

    page = steward.get("/people", params={"q": "lucja wrobel"})

    assert "1 fits “lucja wrobel”" in page.text
    assert "Łucja Wróbel" in page.text
    assert "Tea Rosén" not in page.text


def test_a_host_adds_guests_and_sees_no_list(as_):
    host = as_(Role.HOST)
    page = host.get("/people/new")

    answer = host.post(
        "/people/new", data={**fresh(page), "kind": "guest", "name": "Pia Holm"}, follow_redirects=True
    )
    refused = host.post(
        "/people/new", data={**fresh(page), "form_key": str(uuid4()), "kind": "club", "name": "Hollow Lane"}
    )

    assert re.findall(r'name="kind" value="([^"]+)"', page.text) == ["guest"]
    assert "Pia Holm is in the record." in answer.text
    assert refused.status_code == 403
    assert host.get("/people").status_code == 403


def test_a_person_without_an_area_is_marked(writer, as_):
    party = make_party(writer, "Pia Holm", contact="pia@holm.example")
    steward = as_(Role.STEWARD)
    area = make_area(writer, "North Vale")
    before = steward.get(f"/people/{party.id}")
    typed = fresh(steward.get(f"/people/{party.id}/edit"))
    typed |= {"kind": "member", "name": "Pia Holm", "contact": "pia@holm.example", "area_id": str(area.id)}

    after = steward.post(f"/people/{party.id}/edit", data=typed, follow_redirects=True)

    assert "No wood can be handed to them" in before.text
    assert "No wood can be handed to them" not in after.text
    assert "North Vale" in after.text


def test_roles_are_ticked_by_an_administrator(writer, as_, browser):
    asker = make_asker(writer, Role.MEMBER)
    administrator, member = as_(Role.ADMINISTRATOR), browser(make_session(writer, asker))
    path = f"/people/{asker.party_id}/roles"
    page = administrator.get(path)

    administrator.post(path, data={**fresh(page), "roles": ["member", "host"]})

    assert re.findall(r'value="(\w+)" checked', page.text) == ["member"]
    assert "Member, host" in member.get("/account").text
    assert as_(Role.STEWARD).get(path).status_code == 403


def test_the_last_administrator_hears_why_not(as_, writer):
    administrator = as_(Role.ADMINISTRATOR)
    me = administrator.get("/api/session").json()["party_id"]
    path = f"/people/{me}/roles"

    answer = administrator.post(path, data={**fresh(administrator.get(path)), "roles": ["member"]})

    assert answer.status_code == 409
    assert "The club needs an administrator" in answer.text


def test_a_forgotten_person_has_a_page_without_a_name(writer, as_):
    party = make_party(writer, "Zebulon Quartermain", contact="zq@example")
    writer.write_now(actions.erase_party, make_asker(writer, Role.ADMINISTRATOR), party.id, None)

    page = as_(Role.STEWARD).get(f"/people/{party.id}")

    assert "This person was forgotten" in page.text
    assert "uartermain" not in page.text


# -- areas ---------------------------------------------------------------------------------------------------------


def test_areas_and_answers_are_recorded(database, writer, as_, clock):
    health_steward = as_(Role.HEALTH_STEWARD)
    for name in ("North Vale", "South Vale"):
        typed = {**fresh(health_steward.get("/areas/new")), "name": name, "checked_on": "2026-02-01"}
        health_steward.post("/areas/new", data=typed)
    page = health_steward.get("/areas/answers/new")
    north, south = re.findall(r'<option value="([0-9a-f-]{36})"', page.text)[:2]
    typed = {
        "from_area_id": north,
        "to_area_id": south,
        "allows": "false",
        "reference": "PH 26/9",
        "answered_on": "2026-02-10",
    }

    answer = health_steward.post("/areas/answers/new", data={**fresh(page), **typed}, follow_redirects=True)

    assert "2 plant-health areas are in the record" in answer.text
    assert "not allowed" in answer.text
    with database.reading() as session:
        area = queries.list_areas(session, Paging()).items[0]
    edit = health_steward.get(f"/areas/{area.id}/edit")
    changed = health_steward.post(
        f"/areas/{area.id}/edit",
        data={**fresh(edit), "name": "North Vale", "authority": "Vale PH"},
        follow_redirects=True,
    )
    assert "Vale PH" in changed.text


def test_an_answer_about_one_area_is_refused_in_words(writer, as_):
    area = make_area(writer, "North Vale")
    health_steward = as_(Role.HEALTH_STEWARD)
    typed = {
        **fresh(health_steward.get("/areas/answers/new")), "from_area_id": str(area.id), "to_area_id": str(area.id),
        "allows": "true", "reference": "x", "answered_on": "2026-02-10",
    }  # fmt: skip

    answer = health_steward.post("/areas/answers/new", data=typed)

    assert answer.status_code == 422
    assert "two different areas" in answer.text


# -- who may see what ----------------------------------------------------------------------------------------------

PEOPLE = {"steward", "administrator"}
VOLUNTEERS = {"collector", "host", "steward", "health_steward", "administrator"}
TREES = {"collector", "steward", "health_steward", "administrator"}
HEALTH = {"health_steward", "administrator"}
MEMBERS = {"member", *VOLUNTEERS}
SIGNED_IN = {"guest", *MEMBERS}
EVERYBODY = {"stranger", *SIGNED_IN}

PAGES = [
    ("/sign-in", EVERYBODY),
    ("/start", EVERYBODY),
    ("/account", SIGNED_IN),
    ("/account/contact", SIGNED_IN),
    ("/account/password", SIGNED_IN),
    ("/account/tokens/new", SIGNED_IN),
    ("/people", PEOPLE),
    ("/people/new", VOLUNTEERS),
    ("/people/invite", PEOPLE),
    ("/people/invitations", PEOPLE),
    ("/people/{party}", PEOPLE),
    ("/people/{party}/edit", PEOPLE),
    ("/people/{party}/roles", {"administrator"}),
    ("/club", {"administrator"}),
    ("/areas", MEMBERS),
    ("/areas/new", TREES),
    ("/areas/{area}/edit", TREES),
    ("/areas/answers/new", HEALTH),
]


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("path, let_in", PAGES)
def test_each_page_is_seen_by_who_may(writer, as_, browser, statements, path, let_in):
    make_asker(writer, Role.ADMINISTRATOR)
    party, area = make_party(writer, "Somebody else"), make_area(writer)
    make_permit(writer, make_asker(writer, Role.MEMBER), area.id, make_area(writer, "South Vale").id)
    address = path.format(party=party.id, area=area.id)
    for who in sorted(EVERYBODY):
        roles = () if who == "guest" else (Role.MEMBER, Role(who)) if who != "stranger" else None
        one = browser() if roles is None else as_(*set(roles))

        with statements.at_most(6):
            answer = one.get(address)

        if who in let_in:
            assert answer.status_code in {200, 303}, (who, answer.status_code)
        else:
            assert answer.status_code == (401 if who == "stranger" else 403), (who, answer.status_code)


def test_an_old_sign_in_says_so(writer, clock, browser):
    member = browser(make_session(writer, make_asker(writer, Role.MEMBER)))
    clock.move(timedelta(days=31))

    answer = member.get("/sign-in")

    assert "Your sign-in has ended" in answer.text


# -- on a phone ----------------------------------------------------------------------------------------------------


@pytest.mark.databases("sqlite")
def test_every_page_fits_a_phone_and_has_no_known_fault(writer, live_server, phone):
    administrator = make_asker(writer, Role.MEMBER, Role.ADMINISTRATOR, name="Jonas Vey")
    party = make_party(writer, "Łucja Wróbel " + "von und zu " * 8, contact="lucja@wrobel.example")
    area, other = make_area(writer, "North Vale"), make_area(writer, "South Vale")
    make_permit(writer, administrator, area.id, other.id)
    make_token(writer, administrator, name="scales in the cellar")
    invitation = make_invitation(writer, administrator, note="for the saw course")
    signed_in = make_session(writer, administrator)
    for path in ("/sign-in", invitation.path):
        phone.goto(live_server + path)
        check_page(phone)
    phone.context.add_cookies([{"name": SESSION_COOKIE, "value": signed_in.token, "url": live_server}])
    paths = [
        path.format(party=party.id, area=area.id) for path, _ in PAGES if path not in {"/sign-in", "/start"}
    ]

    for path in paths:
        phone.goto(live_server + path)
        check_page(phone)

    phone.goto(f"{live_server}/people/invite")
    phone.get_by_role("button", name="Make the invitation").click()
    assert "it is not shown again" in phone.locator("h1").inner_text()
    check_page(phone)
