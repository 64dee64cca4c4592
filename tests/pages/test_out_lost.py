"""An afternoon's entries over a bad line: half of the requests are cut, before or after the service stored them.

180 entries, two tabs and a restart give 180 rows. Two things guard that: the key of each entry, and the id of each cut. Where
the service heeds neither, the same line makes duplicates.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page

from service.lib import write
from tests.builders.provenance import Yard
from tests.conftest import TODAY
from tests.pages.bad_line import BadLine
from tests.pages.out import cuts, entries, kept_phone, open_out, sign_in, take_along

pytestmark = pytest.mark.databases("sqlite")
ENTRIES = 180

# The forms themselves are tried one by one elsewhere; this writes down what they would, at the speed of a machine.
MANY = """async (many) => {
    const [who, pack] = [await Out.kept.fact("who"), await Out.pack.load()];
    for (let place = 0; place < many; place += 1) {
        const fields = { tree_id: pack.body.trees[0].id, sticks: String(1 + place % 9), note: `number ${place}` };
        const ids = { cut: Out.newId(), bundle: Out.newId() };
        const told = { kind: "cut", key: Out.newId(), ids, fields, who, at: Date.now(), pack, entries: [] };
        await Out.kept.save(Out.entryOf(told), false);
    }
}"""
GO = "() => { Out.sending.send(); }"
LEFT = "() => Out.kept.all('entries').then((all) => all.length)"


def begin(context: BrowserContext, yard: Yard, address: str) -> Page:
    context.clock.set_system_time(TODAY)
    sign_in(context, yard, "collector", address)
    return open_out(context.pages[0], address)


def until_sent(page: Page, most: int = 0) -> None:
    for _ in range(400):
        page.evaluate(GO)
        if page.evaluate(LEFT) <= most:
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"{len(entries(page))} entries are left")


def test_180_entries_over_a_bad_line_give_180_rows(
    chromium: Browser, live_server: str, yard: Yard, tmp_path: Path
) -> None:
    with BadLine(live_server, seed=7) as line:
        with kept_phone(chromium, tmp_path / "phone") as context:
            page = begin(context, yard, line.address)
            take_along(page)
            context.set_offline(True)
            page.evaluate(MANY, ENTRIES)
            second = context.new_page()
            second.goto(f"{line.address}/out")
            assert (cuts(yard), page.evaluate(LEFT)) == (0, ENTRIES)
            context.set_offline(False)
            second.evaluate(GO)
            until_sent(page, most=ENTRIES // 2)
        with kept_phone(chromium, tmp_path / "phone") as context:
            until_sent(begin(context, yard, line.address))

        assert cuts(yard) == ENTRIES
        assert line.before > 40 and line.after > 40
        assert line.posts >= ENTRIES + line.before + line.after


def test_without_key_and_id_the_same_line_makes_duplicates(
    chromium: Browser, live_server: str, yard: Yard, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(write, "_claim_key", lambda *_: (False, None))
    monkeypatch.setattr(write, "_keep_answer", lambda *_: None)
    some = 40
    with (
        BadLine(live_server, seed=7) as line,
        kept_phone(chromium, tmp_path / "phone") as context,
    ):
        page = begin(context, yard, line.address)
        take_along(page)
        page.route("**/api/labelled-cuts", lambda route: route.continue_(post_data=without_ids(route)))
        context.set_offline(True)
        page.evaluate(MANY, some)
        context.set_offline(False)
        until_sent(page)

    assert cuts(yard) > some + 4


def without_ids(route: Any) -> list[dict[str, Any]]:
    (body,) = route.request.post_data_json
    return [
        {
            "cut": {name: value for name, value in body["cut"].items() if name != "id"},
            "bundles": [{"sticks": body["cut"]["sticks"]}],
        }
    ]
