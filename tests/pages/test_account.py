"""Pages about people: coming in, one's own account, everybody else, the club and its areas."""

from __future__ import annotations

import io
import re
from datetime import timedelta
from uuid import uuid4

import pytest
import zxingcpp
from PIL import Image

from service.members import actions
from service.members.rules import May, Role
from service.pages.account.words import say_rights
from tests.builders.members import (
    PASSWORD,
    make_asker,
    make_invitation,
    make_session,
    make_token,
)
from tests.infra.web import ORIGIN, Client
from tests.pages.desk import NEW_PASSWORD, fresh

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


def test_an_address_that_leads_nowhere_knows_nobody_whose_sign_in_has_ended(writer, browser, clock):
    asker = make_asker(writer, Role.MEMBER, name="Rafe Lowen")
    here, left, old = (make_session(writer, asker) for _ in range(3))
    writer.write_now(actions.end_sign_in, asker, left.id)

    pages = [browser(one).get("/nowhere-at-all") for one in (here, left)]
    clock.move(timedelta(days=31))
    pages.append(browser(old).get("/nowhere-at-all"))

    assert [page.status_code for page in pages] == [404] * 3
    assert ["Rafe Lowen" in page.text for page in pages] == [True, False, False]


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
    read = [found.text for found in zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode)]
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
    assert "17 March 2026" in account
    assert token not in account
    script = Client(app, portal)
    script.headers["Authorization"] = f"Bearer {token}"
    assert script.get("/api/session").json()["may"] == ["read", "store"]
    revoke = re.search(r"/account/tokens/[^/]+/revoke", account)[0]
    host.submit(revoke)
    assert script.get("/api/session").status_code == 401
    script.close()


@pytest.mark.parametrize("right", May)
def test_every_right_has_words_on_pages(right):
    assert say_rights([right])


def test_a_token_for_a_logger_alone_is_offered_and_told(as_, app, portal):
    host = as_(Role.HOST)
    page = host.get("/account/tokens/new")
    typed = {**fresh(page), "name": "logger", "scopes": ["readings"], "days": "30", "bound": "any"}

    made = host.post("/account/tokens/new", data=typed)

    assert "readings" in re.findall(r'name="scopes" value="([^"]+)"', page.text)
    assert "may send readings of loggers and thermometers" in host.get("/account").text
    script = Client(app, portal)
    token = re.search(r'id="token"[^>]*value="([^"]+)"', made.text)[1]
    script.headers["Authorization"] = f"Bearer {token}"
    assert script.get("/api/session").json()["may"] == ["readings"]
    assert script.get("/api/loggers").status_code == 403
    script.close()


def test_a_token_opens_no_page_of_the_account(writer, app, portal):
    script = Client(app, portal)
    script.headers["Authorization"] = (
        f"Bearer {make_token(writer, make_asker(writer, Role.HOST), May.READ).token}"
    )

    assert script.get("/account").status_code == 403
    script.close()
