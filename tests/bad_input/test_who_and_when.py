"""A role that may not, a revoked token, an ended session, and an edit on something that changed meanwhile."""

from __future__ import annotations

import re
from datetime import timedelta
from uuid import uuid4

import pytest

from service.lib.errors import NotAllowed, NotSignedIn, NoVersion, Stale
from service.members.rules import Role, SignInEnded, TokenNotGood
from service.members.signin import SESSION_COOKIE
from tests.bad_input.desk import PAGE, Club, Json, check_page, check_problem, typed_in
from tests.builders.members import make_asker, make_session, make_token
from tests.infra.web import Client

# A sample; the whole matrix of routes and roles stands with the routes.
DEEDS: dict[str, tuple[str, Json]] = {
    "member": ("/discards", {"bundle_id": "{id}", "sticks": 1, "reason": "dry"}),
    "host": ("/trees", [{"site_id": "{id}", "may_cut": "yes"}]),
    "collector": ("/area-permits", []),
    "steward": ("/recalls", {"stop_id": "{id}"}),
}


@pytest.mark.parametrize("who", DEEDS)
def test_a_role_that_may_not_hears_whom_to_ask(club: Club, who: str) -> None:
    path, body = DEEDS[who]

    with club.nothing_written():
        answer = club.post(path, body, who)

    told = check_problem(answer, 403, NotAllowed)
    assert told["detail"].startswith("Your role does not let you ")
    assert "steward" in told["todo"]


def test_a_member_who_sends_a_volunteers_form_is_told_on_a_page(club: Club) -> None:
    bundle = club.bundle(3)

    with club.nothing_written():
        page = club.submit(f"/bundles/{bundle['id']}/discard", {"sticks": "1", "reason": "dry"}, "member")

    check_page(page, 403, "Your role does not allow this", "Nothing was written.", "Ask a steward")


def test_a_stranger_changes_nothing(club: Club) -> None:
    body = {"bundle_id": club.bundle(3)["id"], "sticks": 1, "reason": "dry"}

    with club.nothing_written():
        answer = club.post("/discards", body, "stranger")

    check_problem(answer, 401, NotSignedIn)


def test_a_revoked_token_does_nothing_more(club: Club) -> None:
    asker = make_asker(club.writer, Role.STEWARD)
    made, browser = make_token(club.writer, asker), Client(club.app, club.portal)
    browser.headers["Authorization"] = f"Bearer {made.token}"
    body = {"bundle_id": club.bundle(3)["id"], "sticks": 1, "reason": "dry"}
    assert browser.post("/api/discards", json=body).status_code == 201
    own = Client(club.app, club.portal, cookie=(SESSION_COOKIE, make_session(club.writer, asker).token))
    assert own.delete(f"/api/tokens/{made.id}").is_success

    with club.nothing_written():
        answer = browser.post("/api/discards", json=body)

    told = check_problem(answer, 401, TokenNotGood)
    assert (told["detail"], told["todo"]) == (
        "This token was revoked.",
        "Make a new token on your account page.",
    )


def signed_in(club: Club) -> tuple[Client, str]:
    """A browser of a steward of its own, and a way to end its session from elsewhere."""
    asker = make_asker(club.writer, Role.STEWARD, area_id=club.orchard.area_id)
    told, other = make_session(club.writer, asker), make_session(club.writer, asker)
    browser = Client(club.app, club.portal, cookie=(SESSION_COOKIE, told.token), csrf_token=told.csrf_token)
    elsewhere = Client(club.app, club.portal, cookie=(SESSION_COOKIE, other.token))
    ids = {one["id"]: one["is_this"] for one in elsewhere.get("/api/sessions").json()}
    (ended,) = (session_id for session_id, own in ids.items() if not own)
    assert elsewhere.delete(f"/api/sessions/{ended}").is_success
    again = make_session(club.writer, asker)
    return browser, again.token


def test_a_session_that_was_ended_does_nothing_more(club: Club) -> None:
    browser, _ = signed_in(club)
    body = {"bundle_id": club.bundle(3)["id"], "sticks": 1, "reason": "dry"}

    with club.nothing_written():
        answer = browser.post("/api/discards", json=body)

    check_problem(answer, 401, SignInEnded)


def test_a_form_whose_session_ended_keeps_what_was_typed_and_is_sent_again_after_signing_in(
    club: Club,
) -> None:
    browser, again = signed_in(club)
    bundle, note = club.bundle(9), "“the last” <two>"
    form = {
        "form_key": str(uuid4()),
        "sticks": "2",
        "form": "flag",
        "party_id": str(club.cast.guest_id),
        "reason": note,
    }
    address = f"/hand-over/{bundle['id']}"

    with club.nothing_written():
        lost = browser.submit(address, form, headers=PAGE)
    check_page(
        lost,
        401,
        "Your sign-in has ended",
        "Nothing was written.",
        "kept on this page",
        "Send it again",
        keeps=form,
    )
    browser.cookies.set(SESSION_COOKIE, again)
    with club.nothing_written():
        fresh = browser.post(address, data=carried(lost.text), headers=PAGE)
    check_page(
        fresh, 403, "does not belong to your sign-in", "Nothing was written.", "kept on this page", keeps=form
    )
    done = browser.post(address, data=carried(fresh.text), headers=PAGE)

    assert done.status_code == 303, done.text
    assert club.get(f"/bundles/{bundle['id']}")["on_hand"] == 7


def carried(page: str) -> dict[str, str]:
    """What the page's own form would send."""
    (form,) = re.findall(r'<form method="post" action="/hand-over.*?</form>', page, re.DOTALL)
    return {name: values[0] for name, values in typed_in(form).items() if name}


def test_another_websites_form_is_not_kept_to_be_sent_again(club: Club) -> None:
    browser, _ = signed_in(club)
    headers = PAGE | {"Origin": "https://elsewhere.example"}

    page = browser.post("/hand-over", data={"code": "7K3P9M2A"}, headers=headers)

    check_page(page, 401, "Your sign-in has ended")
    assert "Send it again" not in page.text


def test_a_password_is_never_shown_again(club: Club) -> None:
    browser, _ = signed_in(club)

    page = browser.submit(
        "/account/password", {"old_password": "rowan ladder", "password": "frost twine"}, headers=PAGE
    )

    assert page.status_code == 401
    assert "rowan" not in page.text
    assert "twine" not in page.text


def test_a_session_older_than_thirty_days_is_told_so(fresh_club: Club) -> None:
    asker = make_asker(fresh_club.writer, Role.STEWARD)
    told = make_session(fresh_club.writer, asker)
    browser = Client(fresh_club.app, fresh_club.portal, cookie=(SESSION_COOKIE, told.token))
    fresh_club.clock.move(timedelta(days=31))

    check_problem(browser.get("/api/bundles"), 401, SignInEnded, changing=False)


# -- edits -----------------------------------------------------------------------------------------------------------


def editable(club: Club) -> dict[str, tuple[str, Json, str]]:
    bundle, name = club.bundle(3), uuid4().hex[:6]
    store = club.made("/stores", {"name": f"Store {name}", "host_id": str(club.cast.host.party_id)})
    box = club.made("/boxes", {"name": f"Box {name}"})
    graft = club.graft(bundle, plants=1)
    (party,) = club.made("/parties", [{"kind": "guest", "name": "Ida Rask"}])
    note = {"note": "changed"}
    return {
        "bundle": (f"/bundles/{bundle['id']}", note, "steward"),
        "collection": (f"/collections/{bundle['collection_id']}", note, "steward"),
        "tree": (f"/trees/{club.plant()}", note, "steward"),
        "site": (f"/sites/{club.orchard.site_id}", note, "steward"),
        "store": (f"/stores/{store['id']}", note, "host"),
        "box": (f"/boxes/{box['id']}", note, "host"),
        "graft": (f"/grafts/{graft['id']}", note, "steward"),
        "plant": (f"/plants/{graft['plants'][0]['id']}", note, "steward"),
        "party": (f"/parties/{party['id']}", note, "steward"),
        "area": (f"/areas/{club.orchard.other_area_id}", note, "steward"),
        "cultivar": (f"/cultivars/{club.orchard.victoria_id}", {"provisional": True}, "steward"),
        "club": ("/club", {"name": "Hollin Vale Fruit Club"}, "administrator"),
    }


EDITS = (
    "bundle",
    "collection",
    "tree",
    "site",
    "store",
    "box",
    "graft",
    "plant",
    "party",
    "area",
    "cultivar",
    "club",
)


@pytest.mark.parametrize("thing", EDITS)
def test_an_edit_says_what_it_read_and_a_stale_one_changes_nothing(club: Club, thing: str) -> None:
    path, body, who = editable(club)[thing]
    browser = club.browser(who)
    read = browser.get(f"/api{path}").headers["ETag"]
    done = browser.patch(f"/api{path}", json=body, headers={"If-Match": read})
    assert done.status_code == 200, done.text

    with club.nothing_written():
        unread = browser.patch(f"/api{path}", json=body)
        stale = browser.patch(f"/api{path}", json=body, headers={"If-Match": read})

    whatever = browser.patch(f"/api{path}", json=body, headers={"If-Match": "*"})
    then = browser.get(f"/api{path}")

    assert "If-Match" in check_problem(unread, 428, NoVersion)["todo"]
    # RFC 9110, 13.1.1: * is true of whatever stands, and a change is a new version all the same.
    assert whatever.status_code == 200, whatever.text
    assert whatever.headers["ETag"].strip('"') == then.headers["ETag"].strip('"').partition("-")[0]
    assert then.headers["ETag"] not in (read, done.headers["ETag"])
    told = check_problem(stale, 412, Stale)
    assert told["facts"]["have"] == told["facts"]["read"] + 1


def test_a_stale_form_says_so_and_keeps_what_was_typed(club: Club) -> None:
    (bundle,) = club.cut(3)
    address = f"/collections/{bundle['collection_id']}"
    form = {"note": "by the brook", "owner_agreed": "at the gate"}
    version = typed_in(club.page(address).text)["version"][0]
    assert club.submit(address, {**form, "version": version}).status_code == 303

    with club.nothing_written():
        page = club.submit(address, {"note": "by the wall", "version": version})
        lost = club.submit(address, {"note": "by the wall", "version": "²"})

    check_page(
        page, 412, "It changed since you read it", "Nothing was written.", keeps={"note": "by the wall"}
    )
    check_page(lost, 422, "This form is damaged", "Nothing was written.", keeps={"note": "by the wall"})


def test_a_stale_form_of_a_person_says_so_and_keeps_what_was_typed(club: Club) -> None:
    (party,) = club.made("/parties", [{"kind": "guest", "name": "Ida Rask"}])
    address = f"/people/{party['id']}/edit"
    form = {"kind": "guest", "name": "Ida Rask", "note": "likes pears", "version": str(party["version"])}
    assert club.submit(address, form).status_code == 303

    with club.nothing_written():
        page = club.submit(address, {**form, "note": "likes plums"})

    check_page(
        page, 412, "It changed since you read it", "Nothing was written.", keeps={"note": "likes plums"}
    )
