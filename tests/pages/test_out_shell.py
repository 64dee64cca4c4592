"""Without reception: what phones keep of the page, how a new version comes, and how it looks."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, Page, expect

from service.lib.codes import make_code
from service.lib.errors import ANY_VERSION
from service.members import actions as members
from service.members.schemas import ClubUpdate
from tests.builders.provenance import Yard
from tests.conftest import TODAY
from tests.infra import chromium as chromium_programs
from tests.infra.browser_checks import PHONE, check_page
from tests.pages.out import (
    cut,
    look,
    online,
    open_form,
    open_out,
    say,
    sign_in,
    take_along,
    waits,
)

pytestmark = pytest.mark.databases("sqlite")


def test_the_page_and_its_worker_are_the_same_for_everybody(client, cast) -> None:
    stranger, steward = client("stranger"), client("steward")
    steward.cookies.set("told", "12%20sticks%20saved")

    for path in ("/out", "/sw.js"):
        seen = [who.get(path) for who in (stranger, steward)]
        assert [answer.headers["cache-control"] for answer in seen] == ["no-cache", "no-cache"]
        assert seen[0].content == seen[1].content and b"sticks saved" not in seen[0].content


def test_the_worker_keeps_whatever_the_page_asks_for(client, cast) -> None:
    page, worker = (client("stranger").get(path).text for path in ("/out", "/sw.js"))
    asked = set(re.findall(r'(?:src|href|data-worker)="(/static/[^"]+)"', page))

    assert len(asked) > 12
    assert [address for address in sorted(asked) if f'"{address}"' not in worker] == []
    assert all(client("stranger").get(path).status_code == 200 for path in asked)


HELD = """async () => {
    const found = [];
    for (const name of await caches.keys()) {
        const asked = await (await caches.open(name)).keys();
        found.push(...asked.map((one) => new URL(one.url).pathname));
    }
    return found;
}"""
SHELLS = "() => caches.keys()"
UPDATE = "() => navigator.serviceWorker.getRegistration().then((kept) => kept.update()).then(() => true)"


# -- the worker -------------------------------------------------------------------------------------------------------


def test_nothing_of_a_signed_in_page_is_kept(out: Page, yard: Yard, live_server: str) -> None:
    take_along(out)
    for path in ("/", "/cut", "/trees", f"/T/{yard.cut(3)[0].code}"):
        out.goto(f"{live_server}{path}")
    held = out.evaluate(HELD)
    kept_page = out.evaluate("async () => (await caches.match('/out')).text()")

    assert [path for path in held if not path.startswith("/static/")] == ["/out"]
    assert "Gala" not in kept_page and "collector" not in kept_page.lower()
    online(out, reception=False)
    out.goto(f"{live_server}/trees")
    expect(out.locator("#told")).to_contain_text("the page you asked for needs reception")


def test_a_new_version_waits_until_the_next_start(out: Page, yard: Yard, live_server: str) -> None:
    take_along(out)
    open_form(out, "look")
    out.locator("form[data-deed=look] [name=note]").fill("half a sentence")
    (before,) = out.evaluate(SHELLS)
    yard.writer.write_now(members.change_club, yard.cast.administrator, ClubUpdate(short_name="ALDER CROSS"), ANY_VERSION)  # fmt: skip
    out.evaluate(UPDATE)

    expect(out.locator("#told")).to_contain_text("A new version of this page is ready")
    expect(out.locator("form[data-deed=look] [name=note]")).to_have_value("half a sentence")
    assert before in out.evaluate(SHELLS), "the old shell serves until the next start"
    out.reload()
    assert "ALDER CROSS" not in out.inner_text("header")
    started = out.context.new_page()
    out.close()
    started.wait_for_timeout(300)
    started.goto(f"{live_server}/out")

    expect(started.locator("header")).to_contain_text("ALDER CROSS")
    expect(started.locator("[data-age]")).to_contain_text("as of less than an hour ago")
    assert len(started.evaluate(SHELLS)) == 1


def test_an_address_without_https_keeps_no_page_and_says_so(
    chromium: Browser, live_server: str, yard: Yard
) -> None:
    name = live_server.replace("127.0.0.1", "club.example")
    browser = chromium.browser_type.launch(
        executable_path=chromium_programs.find(),
        args=[*chromium_programs.ARGS, "--host-resolver-rules=MAP club.example 127.0.0.1"],
    )
    context = browser.new_context(**PHONE)
    context.clock.set_system_time(TODAY)
    sign_in(context, yard, "collector", name)
    page = context.new_page()
    page.goto(f"{name}/out")
    assert not page.evaluate(
        "() => Boolean(self.crypto.randomUUID || navigator.locks || navigator.serviceWorker)"
    )

    take_along(page)
    cut(page, 4)

    expect(page.locator("#sent li")).to_have_count(1)
    expect(page.locator("#told")).to_contain_text("cannot be opened without reception here")
    browser.close()


def test_a_worker_that_is_refused_is_told(phone: Page, live_server: str) -> None:
    # As Chromium refuses it where a certificate was clicked through.
    phone.add_init_script(
        "navigator.serviceWorker.register = () => Promise.reject(new DOMException('', 'SecurityError'))"
    )
    phone.goto(f"{live_server}/out")

    expect(phone.locator("#told")).to_contain_text("whose certificate they trust")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("wide", [False, True], ids=["phone", "desk"])
def test_the_page_has_no_known_fault(
    chromium: Browser, live_server: str, yard: Yard, scheme: str, wide: bool
) -> None:
    seen = {"viewport": {"width": 1280, "height": 900}} if wide else PHONE
    context = chromium.new_context(**seen, color_scheme=scheme)
    context.clock.set_system_time(TODAY)
    sign_in(context, yard, "collector", live_server)
    (bundle,) = yard.cut(8)
    page = open_out(context.new_page(), live_server)
    check_page(page)
    take_along(page)
    cut(page, 6, code=make_code())
    expect(page.locator("#waiting li.refused")).to_have_count(1)
    online(page, reception=False)
    look(page, bundle.code)
    waits(page, 2)
    yard.stop()
    say(page, bundle.code)
    for deed in ("cut", "tie", "look"):
        open_form(page, deed)
        check_page(page)
    context.close()
