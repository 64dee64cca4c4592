"""Sheets and rolls: a picture of each, the club's own measured and retired, and a page looked at before it is printed."""

from __future__ import annotations

import io
import os
import re
from uuid import UUID

import pypdfium2
import pytest
import zxingcpp
from PIL import Image

from service.lib.codes import group_code
from service.members.signin import SESSION_COOKIE
from service.tags import actions, queries
from service.tags.rules.sheets import SHEETS
from service.tags.schemas import LabelSheetCreate
from tests.bad_input.desk import words_of
from tests.infra.browser_checks import check_page
from tests.pages.desk import opened, read, send, told_next
from tests.pages.test_scanning import yard

__all__ = ["yard"]
ROLL = {
    "title": "Green packet", "page_w_mm": "62", "page_h_mm": "29,5", "columns": "1", "rows": "1", "label_w_mm": "62",
    "label_h_mm": "29,5",
}  # fmt: skip


@pytest.fixture
def host(browser, cast):
    one = browser()
    one.cookies.set(SESSION_COOKIE, cast.token("host"))
    return one


def test_a_roll_is_measured_printed_on_retired_and_drawn_again_the_same(yard, host, database, writer, cast):
    (bundle,) = yard.cut(5)
    made = told_next(host, send(host, "/labels/sheets", opened(host, "/labels/sheets", **ROLL)))
    (own,) = re.findall(r'value="(own-[0-9a-f]{12})"', read(host, "/labels").text)
    body = LabelSheetCreate(codes=[bundle.code], sheet=own, nudge_x_mm=0.5)
    batch = writer.write_now(actions.print_labels, cast.host, body)
    with database.reading() as session:
        first = queries.draw_sheet(session, batch.id)
        offered = queries.list_sheet_sizes(session)
    retired = told_next(host, send(host, f"/labels/sheets/{own}/retired", opened(host, "/labels/sheets")))
    with database.reading() as session:
        again = queries.draw_sheet(session, batch.id)
    page = pypdfium2.PdfDocument(first)[0]

    assert "Green packet can be printed on." in made and "Green packet is offered no more." in retired
    assert (offered[0].name, offered[0].last_nudge_x_mm) == (own, 0.5)
    assert own not in read(host, "/labels").text and first == again
    assert page.get_width() * 25.4 / 72 == pytest.approx(62, abs=0.01)
    assert page.get_height() * 25.4 / 72 == pytest.approx(29.5, abs=0.01)
    (found,) = zxingcpp.read_barcodes(
        page.render(scale=203 / 72).to_pil(), formats=zxingcpp.BarcodeFormat.QRCode
    )
    assert found.text.endswith(bundle.code)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"columns": "2"}, "the labels end at 124.0 × 29.5 mm, the page at 62.0 × 29.5 mm"),
        ({"label_w_mm": "40"}, "no room for the code and its words"),
        ({"tail_mm": "30"}, "no room for the code and its words"),
        ({"gap_x_mm": "-3"}, "0 or more"),
        ({"page_w_mm": "wide"}, "A number"),
        ({"title": ""}, "This is needed"),
    ],
    ids=["too many", "too small", "too long a tail", "overlapping", "no number", "no name"],
)
def test_a_geometry_that_cannot_be_is_refused_with_what_was_typed(host, change, words):
    answer = send(host, "/labels/sheets", opened(host, "/labels/sheets", **{**ROLL, **change}))

    assert answer.status_code == 422 and words in words_of(answer)
    assert 'value="29,5"' in answer.text


def test_what_comes_with_the_service_is_not_retired(host):
    answer = send(host, "/labels/sheets/a4-3x7/retired", opened(host, "/labels/sheets"))

    assert answer.status_code == 422 and "comes with the service" in words_of(answer)


def test_every_sheet_stands_there_as_a_picture_with_words(host):
    page = read(host, "/labels/sheets").text

    for sheet in SHEETS.values():
        assert f'aria-label="{sheet.title}: how its {sheet.labels} ' in page
    assert page.count('class="label"') == sum(sheet.labels for sheet in SHEETS.values())


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_sheet_is_looked_at_before_it_is_printed(yard, live_server, phone, cast, writer, scheme):
    bundles = yard.cut(4, 5, 6)
    body = LabelSheetCreate(codes=[one.code for one in bundles], sheet="a4-3x7")
    batch: UUID = writer.write_now(actions.print_labels, cast.host, body).id
    phone.context.add_cookies([{"name": SESSION_COOKIE, "value": cast.token("host"), "url": live_server}])
    phone.emulate_media(color_scheme=scheme)
    for path in (f"/labels/{batch}", "/labels/sheets", "/labels"):
        assert phone.goto(f"{live_server}{path}").status == 200
        check_page(phone)
        if folder := os.environ.get("SCION_TEST_SHOTS"):
            phone.screenshot(
                path=f"{folder}/sheets{path.count('/')}{path[-6:].replace('/', '')}-{scheme}.png",
                full_page=True,
            )

    phone.goto(f"{live_server}/labels/{batch}/preview.svg")
    phone.set_viewport_size({"width": 1000, "height": 1400})
    seen = Image.open(io.BytesIO(phone.screenshot()))

    assert {
        found.text[-8:] for found in zxingcpp.read_barcodes(seen, formats=zxingcpp.BarcodeFormat.QRCode)
    } == {one.code for one in bundles}
    assert group_code(bundles[0].code)[:4] in phone.evaluate("() => document.documentElement.textContent")
