"""A form with a file that is refused: browsers leave the file's field empty, so the page says that it is to be chosen again."""

from __future__ import annotations

import pytest

from service.members.rules import Role
from service.members.signin import SESSION_COOKIE
from tests.bad_input.desk import PAGE, words_of
from tests.builders.members import make_asker, make_session
from tests.builders.storage import make_ground, make_store
from tests.builders.trees import make_orchard
from tests.infra.browser_checks import check_page as check_in_browser
from tests.infra.web import live
from tests.pages import test_loggers
from tests.pages.desk import fresh, opened, read, send

AGAIN = "again: this page cannot keep it."


@pytest.fixture
def steward(as_):
    return as_(Role.STEWARD, Role.HOST)


@pytest.fixture
def site(writer):
    return f"/sites/{make_orchard(writer, make_asker(writer, Role.STEWARD)).site_id}"


def refused(steward, page: str, path: str, file: tuple[str, str, bytes] | None, **told: str):
    field, name, raw = file or ("", "", b"")
    form = {**fresh(read(steward, page)), **told}
    answer = steward.post(
        path, data=form, files={field: (name, raw, "text/csv")} if file else {}, headers=PAGE
    )
    assert 400 <= answer.status_code < 500, answer.status_code
    return answer


CSV = ("file", "station.csv", b"Date,Tmin,Tmax\n2026-01-05,-4,1.5\n")


def test_a_file_of_air_is_asked_for_again_where_the_rest_was_wrong(steward, site) -> None:
    page = refused(steward, f"{site}/air", f"{site}/air/files", CSV, measured_file="")

    assert f"Choose the file {AGAIN}" in words_of(page)
    assert 'aria-describedby="file-again file-hint"' in page.text


def test_a_file_that_cannot_be_read_is_asked_for_again(steward, site) -> None:
    page = refused(
        steward,
        f"{site}/air",
        f"{site}/air/files",
        ("file", "bad.csv", b"\x00\x01\x02"),
        measured_file="the mill",
    )

    assert f"Choose the file {AGAIN}" in words_of(page)
    assert 'value="the mill"' in page.text


def test_nothing_is_asked_for_again_that_never_came(steward, site) -> None:
    without = refused(steward, f"{site}/air", f"{site}/air/files", None, measured_file="the mill")
    week = send(steward, f"{site}/air", opened(steward, f"{site}/air", unit="C", measured="the mill"))

    assert "Choose the file" in words_of(without) and AGAIN not in words_of(without)
    assert week.status_code == 422 and AGAIN not in words_of(week)
    assert AGAIN not in words_of(read(steward, f"{site}/air"))


def test_a_list_is_asked_for_again_where_nobody_said_what_its_rows_tell(steward) -> None:
    page = refused(steward, "/lists", "/lists", CSV, sort="")

    assert f"Choose the file {AGAIN}" in words_of(page)


def test_the_file_of_a_logger_is_asked_for_again(steward, writer) -> None:
    logger = test_loggers.add_logger(steward, make_store(writer, make_ground(writer)))
    steward.patch(f"/api{logger}", json={"retired": True}, headers={"If-Match": "*"})

    page = refused(steward, logger, f"{logger}/files", CSV)

    assert f"Choose the file {AGAIN}" in words_of(page)


@pytest.mark.databases("sqlite")
def test_the_page_that_asks_for_it_again_has_no_fault_that_axe_knows(app, writer, phone, site) -> None:
    signed_in = make_session(writer, make_asker(writer, Role.STEWARD))
    with live(app) as address:
        phone.context.add_cookies([{"name": SESSION_COOKIE, "value": signed_in.token, "url": address}])
        phone.goto(f"{address}{site}/air")
        phone.set_input_files("[name=file]", {"name": CSV[1], "mimeType": "text/csv", "buffer": CSV[2]})
        phone.fill("[name=measured_file]", "ab")
        phone.locator("form:has([name=file]) button[type=submit]").click()
        phone.wait_for_selector("#file-again")
        check_in_browser(phone)
