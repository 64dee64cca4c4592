"""Without reception a printed tag before the camera is read on the phone, and answered out of what was taken along."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from service.tags import actions as tags
from service.tags import queries
from service.tags.rules.sheets import SHEETS
from service.tags.schemas import LabelSheetCreate
from tests.builders.provenance import Yard
from tests.conftest import TODAY
from tests.infra import chromium as chromium_programs
from tests.infra.browser_checks import PHONE
from tests.infra.camera import film_of, labels_of, shown_by
from tests.pages.out import blanks, online, open_out, sign_in, take_along

pytestmark = pytest.mark.databases("sqlite")


def test_a_printed_tag_answers_without_reception(
    chromium: Browser, live_server: str, yard: Yard, tmp_path: Path
) -> None:
    blanks(yard, 1)
    (bundle,) = yard.cut(12)
    body = LabelSheetCreate(codes=[bundle.code], sheet="a4-3x7")
    batch = yard.writer.write_now(tags.print_labels, yard.cast.host, body)
    with yard.database.reading() as session:
        labels = labels_of(queries.draw_sheet(session, batch.id), SHEETS["a4-3x7"], 1)
    film = shown_by(film_of(labels, tmp_path / "film.y4m"))
    browser = chromium.browser_type.launch(
        executable_path=chromium_programs.find(), args=[*chromium_programs.ARGS, *film]
    )
    context = browser.new_context(**PHONE)
    context.clock.set_system_time(TODAY)
    sign_in(context, yard, "collector", live_server)
    page = open_out(context.new_page(), live_server)
    take_along(page)
    online(page, reception=False)
    page.reload()

    page.locator("#says").get_by_role("button", name="Open the camera").click()

    expect(page.locator("#answer")).to_contain_text("12 sticks are on hand", timeout=15_000)
    expect(page.locator("#answer")).to_contain_text("As of less than an hour ago, from this phone")
    browser.close()
