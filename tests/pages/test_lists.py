"""A club's own table of trees, moved in on its page: sent, read another way, answered, taken. The club is invented."""

from __future__ import annotations

import html
import io
import re
import time
from uuid import uuid4

import openpyxl
import pytest

from service.members.rules import Role
from service.members.signin import SESSION_COOKIE
from tests.bad_input.desk import PAGE, typed_in, words_of
from tests.builders.members import make_asker, make_party, make_session
from tests.builders.trees import make_orchard
from tests.infra.browser_checks import check_page
from tests.infra.web import live
from tests.pages.desk import fresh, opened, read, send, told_next

TABLE = (
    "Cultivar,Species,Orchard,Owner,Planted,Notes\n"
    "Gala,Apple,Long Meadow,Tilde Ashgrove,1998,=1+1\n"
    "Galla,Apple,Long Meadow,Tilde Ashgrove,2001,by the gate\n"
    "Gala,Apple,Long Meadow,Tilde Ashgrove,the year of the flood,\n"
)


@pytest.fixture
def steward(writer):
    return make_asker(writer, Role.STEWARD)


@pytest.fixture
def orchard(writer, steward):
    return make_orchard(writer, steward)


def sent(browser, text: str = TABLE):
    page = read(browser, "/lists")
    return browser.post(
        "/lists",
        data={**fresh(page), "sort": "trees"},
        files={"file": ("trees.csv", text.encode(), "text/csv")},
        headers=PAGE,
    )


def opened_form(browser, path: str) -> dict[str, str]:
    """The fields of the form that says how a list is read."""
    page = read(browser, path).text
    form = page.partition(f'action="{path}/form"')[2].partition("</form>")[0]
    return {
        **{name: values[0] for name, values in typed_in(form).items() if values},
        **fresh(read(browser, path)),
    }


def test_a_list_is_looked_at_answered_and_taken_whole(as_, orchard):
    steward = as_(Role.STEWARD)

    answer = sent(steward)
    path = answer.headers["location"]
    first = read(steward, path)
    questions = [html.unescape(key) for key in re.findall(r'name="(answer\.[^"]+)"', first.text)]
    galla = next(key for key in questions if "galla" in key.casefold())
    answered = send(
        steward,
        f"{path}/answers",
        {**opened(steward, path), **dict.fromkeys(questions, "new"), galla: "as_told"},
    )
    assert answered.status_code == 303, words_of(answered)
    assert "none of these: keep the name as it is written" in words_of(first)
    refused = send(steward, f"{path}/take", opened(steward, path))
    taken = send(steward, f"{path}/take", opened(steward, path, leave_refused="true"))

    assert "Line 4" in words_of(first) and "=1+1" in words_of(first)
    assert refused.status_code in (409, 422), words_of(refused)
    assert "2 trees are in the record." in told_next(steward, taken)
    listed = words_of(read(steward, "/trees"))
    assert "Galla (as told)" in listed and "‘Gala’" in listed
    assert "1 row stayed out" in words_of(read(steward, path))


def test_a_list_is_taken_back_with_a_reason_or_it_is_told_what_keeps_it(as_, orchard):
    steward = as_(Role.STEWARD)
    path = sent(steward, "\n".join(TABLE.splitlines()[:2])).headers["location"]
    assert send(steward, f"{path}/take", opened(steward, path)).status_code == 303
    form = opened(steward, path)

    without = send(steward, f"{path}/take-back", {**form, "reason": ""})
    tree = steward.get("/api/trees").json()["items"][0]
    change = {"note": "by the gate"}
    version = {"If-Match": steward.get(f"/api/trees/{tree['id']}").headers["etag"]}
    changed = steward.patch(f"/api/trees/{tree['id']}", json=change, headers=version)
    assert changed.status_code == 200, changed.text
    kept = send(steward, f"{path}/take-back", {**opened(steward, path), "reason": "the wrong file"})

    assert (without.status_code, kept.status_code) == (422, 409)
    assert f"Line 2, tree {tree['number']}: it was changed since." in words_of(kept)
    assert "the wrong file" in kept.text  # what was typed stays in the form


def test_a_list_on_which_nothing_rests_goes_again(as_, orchard):
    steward = as_(Role.STEWARD)
    path = sent(steward, "\n".join(TABLE.splitlines()[:2])).headers["location"]
    assert send(steward, f"{path}/take", opened(steward, path)).status_code == 303

    done = send(steward, f"{path}/take-back", {**opened(steward, path), "reason": "the wrong file"})

    assert "What it brought is gone".casefold() in told_next(steward, done).casefold()
    assert "This list was taken back" in words_of(read(steward, path))
    assert steward.get("/api/trees").json()["items"] == []


def test_another_column_and_throwing_away(as_, orchard):
    steward = as_(Role.STEWARD)
    path = sent(steward).headers["location"]
    form = opened(steward, path)

    changed = send(steward, f"{path}/form", {**form, "column.variety": "Notes"})
    again = read(steward, path)
    dropped = send(steward, f"{path}/drop", opened(steward, path))

    assert changed.status_code == 303, words_of(changed)
    assert "<option selected>Notes</option>" in again.text
    assert "thrown away" in told_next(steward, dropped)
    assert "in the record" in words_of(read(steward, "/trees")) and "by the gate" not in words_of(
        read(steward, "/trees")
    )


def test_another_sheet_is_read_by_its_own_headings_and_what_a_program_told_stays(as_, orchard):
    book, made = openpyxl.Workbook(), io.BytesIO()
    book.active.append(["Year", "Weather"])
    book.active.append(["2025", "wet"])
    trees = book.create_sheet("Trees")
    for row in (
        ["Cultivar", "Species", "Orchard", "Owner"],
        ["Gala", "Apple", "Long Meadow", "Tilde Ashgrove"],
    ):
        trees.append(row)
    book.save(made)
    steward = as_(Role.STEWARD)
    page = read(steward, "/lists")
    path = steward.post(
        "/lists",
        data={**fresh(page), "sort": "trees"},
        files={"file": ("club.xlsx", made.getvalue(), "x")},
        headers=PAGE,
    ).headers["location"]
    told = steward.put(f"/api{path}/form", json={"header_row": 1, "orders": {"Planted": "dmy"}})

    changed = send(steward, f"{path}/form", {**opened_form(steward, path), "sheet": "Trees"})

    assert (told.status_code, changed.status_code) == (200, 303), told.text + words_of(changed)
    listed = steward.get(f"/api{path}").json()
    assert (listed["sheet"], listed["counts"]["rows"], listed["form"]["orders"]) == (
        "Trees",
        1,
        {"Planted": "dmy"},
    )
    assert {one["name"]: one["heading"] for one in listed["columns"] if one["heading"]}[
        "variety"
    ] == "Cultivar"


def test_without_a_file_or_with_one_that_is_no_table_nothing_is_kept(as_, orchard):
    steward = as_(Role.STEWARD)

    empty = steward.post("/lists", data={**fresh(read(steward, "/lists")), "sort": "trees"}, headers=PAGE)
    broken = steward.post(
        "/lists",
        data={**fresh(read(steward, "/lists")), "sort": "trees"},
        files={"file": ("trees.xlsx", b"PK\x03\x04 no book", "x")},
        headers=PAGE,
    )

    assert (empty.status_code, broken.status_code) == (422, 422), words_of(broken)
    assert "Choose the file" in words_of(empty)
    assert "Sent before" not in words_of(read(steward, "/lists"))


def waited_for(browser, path: str, words: str):
    """What a page shows in the end that comes again by itself; it never waits for long."""
    for _ in range(200):
        page = read(browser, path)
        if words in words_of(page):
            return page
        assert page.headers.get("refresh") == f"2; url={path}", words_of(page)
        time.sleep(0.05)
    raise AssertionError(words_of(page))


LONG = "Cultivar,Species,Orchard,Owner\n" + "Gala,Apple,Long Meadow,Tilde Ashgrove\n" * 2500


def test_a_long_list_is_read_and_taken_aside_while_its_page_says_how_far_that_is(as_, orchard):
    steward = as_(Role.STEWARD)
    path = sent(steward, LONG).headers["location"]

    first = read(steward, path)
    page = waited_for(steward, path, "2,500 of 2,500 rows can be taken")
    pressed = send(steward, f"{path}/take", fresh(page))
    taken = waited_for(steward, path, "2,500 trees came in with this list")

    assert first.headers["refresh"] == f"2; url={path}" and "of 2,500 rows are read" in words_of(first)
    assert "Nothing of it is in the record" in words_of(first)
    assert (pressed.status_code, pressed.headers["location"]) == (303, path)
    assert "refresh" not in taken.headers
    assert steward.get("/api/trees", params={"limit": 1}).json()["count"] == 2500


def test_a_long_list_is_read_anew_once_the_record_was_put_right(as_, orchard, writer):
    steward = as_(Role.STEWARD)
    head = "Cultivar,Kind,Sticks,Cut on,Area,Store\n"
    rows = "Gala,Apple,6,2026-01-17,North Vale,\n" * 2500 + "Gala,Apple,6,2026-01-17,North Vale,Stone shed\n"
    answer = steward.post(
        "/lists", data={**fresh(read(steward, "/lists")), "sort": "wood"},
        files={"file": ("wood.csv", (head + rows).encode(), "text/csv")}, headers=PAGE,
    )  # fmt: skip
    path = answer.headers["location"]
    told = words_of(waited_for(steward, path, "2,500 of 2,501 rows can be taken"))
    assert "record has no store called “Stone shed”" in told and "read the list anew" in told
    host = make_party(writer, "Bo Fenwick")
    store = {"name": "Stone shed", "host_id": str(host.id), "kind": "cellar", "places": ["Floor"]}
    saved = steward.post("/api/stores", json=store, headers={"Idempotency-Key": str(uuid4())})
    assert saved.status_code == 201, saved.text

    before = words_of(read(steward, path))
    page = read(steward, path).text
    link = re.search(r'<a href="([^"]+)">Read it anew</a>', page)
    assert link is not None
    anew = read(steward, link[1])

    assert "2,500 of 2,501 rows" in before
    assert (anew.status_code, anew.headers["location"]) == (303, path)
    waited_for(steward, path, "2,501 of 2,501 rows can be taken")


def test_whom_a_long_list_is_taken_for_is_offered_again(as_, orchard, writer):
    bo, steward = make_party(writer, "Bo Fenwick"), as_(Role.STEWARD)
    path = sent(steward, LONG).headers["location"]
    page = waited_for(steward, path, "2,500 of 2,500 rows can be taken")

    send(steward, f"{path}/take", {**fresh(page), "on_behalf_of": str(bo.id)})

    assert steward.cookies["writing_for"].endswith(str(bo.id))
    waited_for(steward, path, "2,500 trees came in with this list")


def test_a_long_list_that_cannot_be_taken_says_why_and_waits_as_before(as_, orchard):
    steward = as_(Role.STEWARD)
    path = sent(steward, LONG + "Gala,Apple,,Bo Fenwick\n").headers["location"]
    page = waited_for(steward, path, "2,500 of 2,501 rows can be taken")

    send(steward, f"{path}/take", fresh(page))
    told = waited_for(steward, path, "Some rows of the list cannot be used")

    assert "1 row cannot be used" in words_of(told)
    assert steward.get(f"/api{path}").json()["state"] == "waiting"
    assert steward.get("/api/trees").json()["items"] == []


def test_why_a_long_list_could_not_be_taken_is_told_to_whoever_pressed_until_it_is_tried_again(as_, orchard):
    mine, other = as_(Role.STEWARD), as_(Role.STEWARD)
    path = sent(mine, LONG + "Gala,Apple,,Bo Fenwick\n").headers["location"]
    page = waited_for(mine, path, "2,500 of 2,501 rows can be taken")
    why = "Some rows of the list cannot be used"

    send(mine, f"{path}/take", fresh(page))
    theirs = waited_for(other, path, "2,500 of 2,501 rows can be taken")
    told = [waited_for(mine, path, "2,500 of 2,501 rows can be taken") for _ in range(2)]
    taken = send(mine, f"{path}/take", {**fresh(told[0]), "leave_refused": "true"})

    assert why not in words_of(theirs)
    assert all(why in words_of(page) for page in told)
    assert taken.status_code == 303
    assert "1 row stayed out" in words_of(waited_for(mine, path, "2,500 trees came in with this list"))


@pytest.mark.databases("sqlite")
def test_the_pages_of_lists_have_no_fault_that_axe_knows(app, phone, orchard, writer, steward, as_):
    browser = as_(Role.STEWARD)
    path = sent(browser).headers["location"]
    taken, back = (
        sent(browser, f"Cultivar,Species,Orchard\nGala,Apple,Long Meadow{' ' * blanks}\n").headers["location"]
        for blanks in range(2)
    )
    for each in (taken, back):
        assert send(browser, f"{each}/take", opened(browser, each)).status_code == 303
    send(browser, f"{back}/take-back", {**opened(browser, back), "reason": "the wrong file"})
    signed_in = make_session(writer, steward)
    with live(app) as address:
        phone.context.add_cookies([{"name": SESSION_COOKIE, "value": signed_in.token, "url": address}])
        for each in (
            "/lists",
            "/lists?sort=wood",
            path,
            taken,
            back,
            sent(browser, LONG).headers["location"],
        ):
            phone.goto(address + each)
            check_page(phone)
